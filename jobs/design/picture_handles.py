"""What can be taken hold of on the picture: ends of runs, a whole piece, and what its loose parts offer.

Each handle is a slider for pointer and keys alike, and names the form field that says the same in words, so
nothing can be done by dragging alone (WCAG 2.5.7).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from xml.sax.saxutils import quoteattr

import numpy as np

from jobs.design.document import Piece
from jobs.design.handle import Handle, handle_along
from jobs.design.picture_plane import ACCENT, on_path, project
from jobs.design.places import s_of
from jobs.design.working import Worked
from studio.measure import Units, write_length

BELOW_CM = 40  # the handle of a whole piece, under its dimension line
WAY_STEPS = 192  # points of a path that the page projects the pointer on


def handles(worked: Worked, units: Units) -> Iterator[Handle]:
    """Every handle of a design seen from the front."""
    for index, piece in enumerate(worked.design.pieces):
        yield from _ends(index, piece, worked, units)
        for part, setting in worked.composition.parts_on(index):
            yield from part.handles(setting, worked, units)
        yield _whole(index, piece, units)


def _ends(index: int, piece: Piece, worked: Worked, units: Units) -> Iterator[Handle]:
    for run, stretch in enumerate(worked.composition.stretches[index]):
        for end, s in (("start", stretch.start_s_m), ("end", stretch.end_s_m)):
            path = f"$.pieces[{index}].runs[{run}].{end}"
            label = f"{piece.name}, run {run + 1}, {'from' if end == 'start' else 'to'}"
            yield handle_along(index, piece, s, units, kind="end", path=path, label=label, run=run)
        which = 0
        for feature in piece.runs[run].features:
            for place in feature.at:
                path = f"$.pieces[{index}].runs[{run}].features"
                label = f"{piece.name}, run {run + 1}, {feature.recipe} {which + 1}"
                s = s_of(piece.support, place)
                yield handle_along(
                    index, piece, s, units, kind="place", path=path, label=label, run=run, which=which
                )  # fmt: skip
                which += 1


def _whole(index: int, piece: Piece, units: Units) -> Handle:
    side = "" if not piece.at_m else " left" if piece.at_m < 0 else " right"
    said = (
        f"{write_length(abs(piece.at_m), units)}{side} of the middle" if side else "in the middle"
    )
    return Handle(
        kind="piece", piece=index, path=f"$.pieces[{index}].at_m", label=f"{piece.name}, where it stands",
        x_cm=100 * piece.at_m, y_cm=BELOW_CM, now=piece.at_m, least=-20, most=20, said=said,
    )  # fmt: skip


def draw_handles(worked: Worked, names: Mapping[str, str], units: Units) -> str:
    """The handles whose fields are on the page, and the paths they run on. `names` gives a field by its path."""
    parts = [_way(index, piece) for index, piece in enumerate(worked.design.pieces)]
    parts += [_drawn(h, names[h.path], names) for h in handles(worked, units) if h.path in names]
    return f'<g class="handles">{"".join(parts)}</g>'


def _way(index: int, piece: Piece) -> str:
    s = np.linspace(0, piece.support.length_m, WAY_STEPS + 1)
    flat = project(on_path(piece, piece.support.points(s)), "front")
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y, _ in flat)
    closed = ' data-closed="1"' if piece.support.closed else ""
    return (
        f'<polyline class="way" data-piece="{index}" data-length="{piece.support.length_m:.4f}" '
        f'data-at="{piece.at_m:.4f}"{closed} points="{points}" fill="none" stroke="none"/>'
    )


def _drawn(handle: Handle, field: str, names: Mapping[str, str]) -> str:
    shape = (
        '<circle r="14" fill="#fff" fill-opacity="0"/>'  # a target for thumbs
        + f'<circle r="5.5" fill="#fffaf2" stroke="{ACCENT}" stroke-width="2.2"/>'
    )
    if handle.kind == "piece":
        shape += (
            f'<path d="M-12 0h24M-12 0l4-3.5v7zM12 0l-4-3.5v7z" fill="{ACCENT}" stroke="{ACCENT}"/>'
        )
    centre = ""
    if handle.kind == "edge":
        centre = f" data-centre={quoteattr(names.get(handle.centre, ''))}"
    return (
        f'<g class="handle" id="h-{field}-{handle.index}" tabindex="0" role="slider" data-kind="{handle.kind}" '
        f'data-field={quoteattr(field)}{centre} data-piece="{handle.piece}" data-run="{handle.run}" '
        f'data-index="{handle.index}" aria-label={quoteattr(handle.label)} aria-valuenow="{handle.now:.3f}" '
        f'aria-valuemin="{handle.least:.3f}" aria-valuemax="{handle.most:.3f}" '
        f"aria-valuetext={quoteattr(handle.said)} "
        f'transform="translate({handle.x_cm:.1f} {handle.y_cm:.1f})">{shape}</g>'
    )

"""What can be taken hold of on the picture: ends of runs, features, a skirt's edges, a whole piece.

Each handle is a slider for pointer and keys alike, and names the form field that says the same in words, so
nothing can be done by dragging alone (WCAG 2.5.7).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal
from xml.sax.saxutils import quoteattr

import numpy as np

from jobs.design.document import Piece
from jobs.design.picture_room import ACCENT, on_path, project
from jobs.design.places import s_of
from jobs.design.working import Worked
from studio.measure import Units, write_length

BELOW_CM = 40  # the handle of a whole piece, under its dimension line
WAY_STEPS = 192  # points of a path that the page projects the pointer on

type Kind = Literal["end", "feature", "place", "edge", "piece"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Handle:
    kind: Kind
    piece: int
    path: str  # of the field in the document
    label: str
    x_cm: float
    y_cm: float
    now: float  # metres along the path, or across the floor
    least: float
    most: float
    said: str  # the same for those who listen
    run: int = -1
    index: int = 0  # which of several places in one field


def handles(worked: Worked, units: Units) -> Iterator[Handle]:
    """Every handle of a design seen from the front."""
    for index, piece in enumerate(worked.design.pieces):
        yield from _ends(index, piece, worked, units)
        yield from _features(index, piece, worked, units)
        yield from _edges(index, piece, units)
        yield _whole(index, piece, units)


def _along(
    index: int, piece: Piece, s_m: float, units: Units, kind: Kind, path: str, label: str,
    run: int = -1, which: int = 0,
) -> Handle:  # fmt: skip
    length = piece.support.length_m
    s_m = min(s_m % (length + 1e-9), length) if piece.support.closed else min(s_m, length)
    ((x, y, _),) = project(on_path(piece, piece.support.points(np.array([s_m]))), "front").tolist()
    return Handle(
        kind=kind, piece=index, path=path, label=label, x_cm=x, y_cm=y, now=s_m, least=0.0, most=length,
        said=f"{write_length(s_m, units)} along, {write_length(-y / 100, units)} up", run=run, index=which,
    )  # fmt: skip


def _ends(index: int, piece: Piece, worked: Worked, units: Units) -> Iterator[Handle]:
    for run, stretch in enumerate(worked.composition.stretches[index]):
        for end, s in (("start", stretch.start_s_m), ("end", stretch.end_s_m)):
            path = f"$.pieces[{index}].runs[{run}].{end}"
            label = f"{piece.name}, run {run + 1}, {'from' if end == 'start' else 'to'}"
            yield _along(index, piece, s, units, "end", path, label, run)
        which = 0
        for feature in piece.runs[run].features:
            for place in feature.at:
                path = f"$.pieces[{index}].runs[{run}].features"
                label = f"{piece.name}, run {run + 1}, {feature.recipe} {which + 1}"
                yield _along(
                    index,
                    piece,
                    s_of(piece.support, place),
                    units,
                    "place",
                    path,
                    label,
                    run,
                    which,
                )
                which += 1


def _features(index: int, piece: Piece, worked: Worked, units: Units) -> Iterator[Handle]:
    loose = [c for c in worked.composition.clusters if c.piece == index and c.part == "feature"]
    for which, cluster in enumerate(loose):
        label = f"{piece.name}, loose feature {which + 1}"
        path = f"$.pieces[{index}].features.at"
        yield _along(index, piece, cluster.s_m, units, "feature", path, label, which=which)


def _edges(index: int, piece: Piece, units: Units) -> Iterator[Handle]:
    if skirt := piece.skirt:
        for side, sign in (("left", -1), ("right", 1)):
            x = skirt.centre_m + sign * skirt.width_m / 2
            yield Handle(
                kind="edge", piece=index, path=f"$.pieces[{index}].skirt.width_m",
                label=f"{piece.name}, skirt’s {side} edge", x_cm=100 * (x + piece.at_m), y_cm=-4,
                now=x, least=-20, most=20, said=f"skirt {write_length(skirt.width_m, units)} wide",
                index=0 if sign < 0 else 1,
            )  # fmt: skip


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
        centre = (
            f" data-centre={quoteattr(names.get(f'$.pieces[{handle.piece}].skirt.centre_m', ''))}"
        )
    return (
        f'<g class="handle" id="h-{field}-{handle.index}" tabindex="0" role="slider" data-kind="{handle.kind}" '
        f'data-field={quoteattr(field)}{centre} data-piece="{handle.piece}" data-run="{handle.run}" '
        f'data-index="{handle.index}" aria-label={quoteattr(handle.label)} aria-valuenow="{handle.now:.3f}" '
        f'aria-valuemin="{handle.least:.3f}" aria-valuemax="{handle.most:.3f}" '
        f"aria-valuetext={quoteattr(handle.said)} "
        f'transform="translate({handle.x_cm:.1f} {handle.y_cm:.1f})">{shape}</g>'
    )

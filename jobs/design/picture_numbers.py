"""The numbered picture of the build sheet: numbers outside the piece, a leader line from each to its cluster.

ISO 6433: item references stand outside the outlines, in rows and columns, and are joined to their items by leader
lines; ISO 128-2: a leader line that ends within an outline ends in a dot. (Both from memory.)
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from jobs.design.picture import draw_gradients, draw_pieces
from jobs.design.picture_plane import INK, project
from jobs.design.picture_room import Frame, extent
from jobs.design.working import Worked

type Array = NDArray[np.float64]

LETTER_MM = 3.7  # about 10.5 pt
ROW_MM, COLUMN_MM = 4.9, 8.0  # from number to number, down a side and across
OUT_MM = 7.0  # from the piece to the numbers
EDGE_MM = 14.0  # room for the numbers on each side
NEARER = 0.3  # of its radius: a large ball stands before a small one (as the picture is drawn)
LARGEST = 5.0  # mm on paper for a centimetre of the room: half size


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """Where the picture may go on the paper, mm."""

    wide_mm: float
    high_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Leader:
    """A number, where it stands, and the place on its cluster, in centimetres of the picture."""

    number: int
    at: tuple[float, float]
    to: tuple[float, float]
    anchor: str  # of the number: "end" on the left, "start" on the right, "middle" above and below


def scale_in(worked: Worked, area: Area, only: int | None = None) -> float:
    """Millimetres on paper for a centimetre of the room, as large as an area allows with the numbers round it."""
    left, right, top, bottom = _box(worked, only)
    across = (area.wide_mm - 2 * EDGE_MM) / max(right - left, 1)
    down = (area.high_mm - 2 * EDGE_MM) / max(bottom - top, 1)
    return min(across, down, LARGEST)


def _box(worked: Worked, only: int | None) -> tuple[float, float, float, float]:
    left, right, top, bottom = extent(worked, "front", only)
    return left, right, top, max(bottom, 0.0)


def draw_numbered(worked: Worked, area: Area, *, prefix: str, only: int | None = None) -> str:
    """The design, or one piece of it, as one self-contained <svg> that is as wide as its area."""
    scale = scale_in(worked, area, only)
    left, right, top, bottom = _box(worked, only)
    middle, wide, edge = (left + right) / 2, area.wide_mm / scale, EDGE_MM / scale
    frame = Frame(
        left=middle - wide / 2, top=top - edge, wide=wide, high=bottom - top + 2 * edge,
        content=(left, right, top, bottom), view="front",
    )  # fmt: skip
    leaders = lead(worked, scale, only)
    named = ", ".join(p.name for i, p in enumerate(worked.design.pieces) if only in (None, i))
    said = f"{named}: clusters 1 to {len(worked.composition.clusters)} with their numbers"
    if only is not None:
        said = f"{named}: its clusters with their numbers"
    return "".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{frame.left:.1f} {frame.top:.1f} {frame.wide:.1f} '
            f'{frame.high:.1f}" role="img" font-family="Barlow Condensed, sans-serif" '
            f'font-size="{LETTER_MM / scale:.2f}">',
            f"<title>{escape(said)}</title><defs>{''.join(draw_gradients(worked, prefix))}</defs>",
            f'<path d="M{left:.1f} 0H{right:.1f}" stroke="{INK}" stroke-width="{0.4 / scale:.2f}"/>',
            *draw_pieces(worked, frame, prefix, only=only),
            *_drawn(leaders, scale),
            "</svg>",
        ]
    )


def lead(worked: Worked, scale: float, only: int | None = None) -> tuple[Leader, ...]:
    """Numbers on the places round the piece, so that all leader lines together are as short as can be.

    No two of them cross then: of two that cross, swapping the numbers would be shorter (triangle inequality).
    Where there are more clusters than places, every second, third … is numbered.
    """
    numbers = [n for n, c in enumerate(worked.composition.clusters, 1) if only in (None, c.piece)]
    places, anchors = _places(_box(worked, only), scale)
    numbers = numbers[:: every(len(numbers), len(places))]
    if not numbers:
        return ()
    to = _fronts(worked)[np.array(numbers) - 1]
    away = np.linalg.norm(to[:, None, :] - places[None, :, :], axis=2)
    mine, theirs = linear_sum_assignment(away)
    return tuple(
        Leader(
            number=numbers[i], at=(float(places[j, 0]), float(places[j, 1])),
            to=(float(to[i, 0]), float(to[i, 1])), anchor=anchors[j],
        )
        for i, j in zip(mine.tolist(), theirs.tolist(), strict=True)
    )  # fmt: skip


def every(count: int, places: int) -> int:
    """One number for so many clusters."""
    return max(1, ceil(count / max(places, 1)))


def _places(box: tuple[float, float, float, float], scale: float) -> tuple[Array, list[str]]:
    """Down both sides, then above and below."""
    left, right, top, bottom = box
    out = OUT_MM / scale
    down = _spread(top, bottom, ROW_MM / scale)
    across = _spread(left, right, COLUMN_MM / scale)
    sides = [
        (np.full(len(down), left - out), down, "end"), (np.full(len(down), right + out), down, "start"),
        (across, np.full(len(across), top - out), "middle"), (across, np.full(len(across), bottom + out), "middle"),
    ]  # fmt: skip
    places = np.concatenate([np.column_stack([x, y]) for x, y, _ in sides])
    return places, [anchor for x, _, anchor in sides for _ in x]


def _spread(low: float, high: float, gap: float) -> Array:
    count = max(1, int((high - low) / gap) + 1)
    return np.asarray((low + high) / 2 + (np.arange(count) - (count - 1) / 2) * gap)


def _fronts(worked: Worked) -> Array:
    """Of each cluster the middle of a ball on the sheet: of the nearest to the eye that no other cluster covers."""
    rest = worked.settled
    flat = project(rest.centres_m, "front")
    near = flat[:, 2] + NEARER * rest.radii_m
    seen = ~_covered(flat[:, :2], near, worked)
    order = np.lexsort((near, seen, rest.cluster))
    last = np.append(np.flatnonzero(np.diff(rest.cluster[order])), len(order) - 1)
    return np.asarray(flat[order[last], :2])


def _covered(at: Array, near: Array, worked: Worked) -> NDArray[np.bool_]:
    """Balls whose middle lies behind a ball of another cluster."""
    reach, cluster = 100 * worked.settled.radii_m, worked.settled.cluster
    rows = []
    for i in range(len(at)):
        before = (near > near[i]) & (cluster != cluster[i])
        off = at[before] - at[i]
        rows.append(bool((np.hypot(off[:, 0], off[:, 1]) < reach[before]).any()))
    return np.array(rows, dtype=np.bool_)


def _drawn(leaders: tuple[Leader, ...], scale: float) -> Iterator[str]:
    """White under the lines and dots keeps them readable on any colour."""
    thin, light, dot = 0.25 / scale, 1.0 / scale, 0.75 / scale
    for width, ink, more in ((light, "#fff", 0.45 / scale), (thin, INK, 0.0)):
        d = "".join(
            f"M{one.at[0]:.1f} {one.at[1]:.1f}L{one.to[0]:.1f} {one.to[1]:.1f}" for one in leaders
        )
        opacity = ' stroke-opacity=".75"' if ink == "#fff" else ""
        yield f'<path class="leader" d="{d}" fill="none" stroke="{ink}" stroke-width="{width:.2f}"{opacity}/>'
        yield f'<g fill="{ink}">'
        yield from (
            f'<circle cx="{one.to[0]:.1f}" cy="{one.to[1]:.1f}" r="{dot + more:.2f}"/>'
            for one in leaders
        )
        yield "</g>"
    yield f'<g font-weight="600" fill="{INK}">'
    for leader in leaders:
        yield _number(leader, scale)
    yield "</g>"


def _number(leader: Leader, scale: float) -> str:
    x, y = leader.at
    gap, letter = 0.9 / scale, LETTER_MM / scale
    x += {"end": -gap, "start": gap}.get(leader.anchor, 0.0)
    if leader.anchor == "middle":
        y += -gap if leader.to[1] > y else letter * 0.72 + gap
    else:
        y += letter * 0.35
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{leader.anchor}">{leader.number}</text>'

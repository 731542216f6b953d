"""Greenery and ribbon on the picture."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from jobs.design.document import Piece
from jobs.design.picture_room import FAINT, View, on_path, project
from jobs.design.soft import Ribbon
from jobs.design.working import Worked

type Array = NDArray[np.float64]

# From the stem over one side to the tip and back over the other, in centimetres: control, control, end of two cubic
# Béziers, each from where it begins.
LEAF = np.array([(2, -3), (6, -4), (10, 0), (-4, 3), (-8, 3), (-10, 0)], dtype=np.float64)
GREENS = ("#6f8a5c", "#5b7a52", "#86a06c", "#4f6b4a")
LEAF_GAP_M = 0.055
PLAIN_RIBBON = "#d9cbb0"  # where the palette has no colour of that name


@dataclass(frozen=True, slots=True)
class Thing:
    """Something drawn at a depth: greater is nearer to the viewer."""

    piece: int
    depth_m: float
    svg: str


def draw_leaves(worked: Worked, view: View) -> Iterator[Thing]:
    """Leaves in pairs along every strand; a wrapped strand passes behind and before the tube."""
    for number, strands in enumerate(worked.composition.strands):
        piece = worked.design.pieces[strands.piece]
        rng = np.random.default_rng([worked.design.seed, 7, number])
        count = max(2, int(strands.stretch.length_m / LEAF_GAP_M))
        for hand in range(strands.side_by_side):
            s = strands.stretch.start_s_m + np.linspace(0, strands.stretch.length_m, count)
            along = s % (piece.support.length_m + 1e-9)
            ways = piece.support.directions(along)
            turn = (s - s[0]) / (strands.pitch_m or 1e9) * 2 * np.pi * (-1) ** hand + np.pi * hand
            out = piece.support.tube_m / 2 + 0.03
            at = on_path(piece, piece.support.points(along))
            at[:, 1] += out * np.sin(turn) + 0.001 * np.arange(count) % 0.01
            at[:, 2] = np.maximum(at[:, 2] + out * 0.6 * np.cos(turn), 0.03)
            heading = (
                np.degrees(np.arctan2(-ways[:, 1], ways[:, 0]))
                if view != "plan"
                else np.zeros(count)
            )
            lean = heading + np.where(np.arange(count) % 2, 1, -1) * rng.uniform(25, 75, count)
            yield from _leaves(strands.piece, project(at, view), lean, rng)
    yield from _stems(worked, view)


def _stems(worked: Worked, view: View) -> Iterator[Thing]:
    """Three leaves for every stem, before the runs."""
    greened = [i for i, piece in enumerate(worked.design.pieces) if piece.stems]
    for index, (_, count) in zip(greened, worked.composition.stems, strict=True):
        piece = worked.design.pieces[index]
        rng = np.random.default_rng([worked.design.seed, 11, index])
        runs = [
            (c.x_m, 0.0, c.z_m)
            for c in worked.composition.clusters
            if c.piece == index and c.part == "run"
        ]
        at = (
            np.array(runs)
            if runs
            else on_path(piece, piece.support.points(np.linspace(0, piece.support.length_m, 40)))
        )
        at = np.repeat(at[np.linspace(0, len(at) - 1, count).astype(int)], 3, axis=0)
        at[:, 1] += 0.35
        yield from _leaves(index, project(at, view), rng.uniform(0, 360, len(at)), rng, long=1.6)


def _leaves(
    piece: int, flat: Array, lean: Array, rng: np.random.Generator, long: float = 1.0
) -> Iterator[Thing]:
    count = len(flat)
    sizes = long * rng.uniform(0.9, 1.5, count)
    across = flat[:, 0] + rng.normal(0, 1, count)
    fills = rng.integers(len(GREENS), size=count)
    turn = np.radians(lean)
    along = sizes[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    off = np.stack([-along[:, 1], along[:, 0]], axis=1)
    # Turned and sized here: a path by itself is drawn faster on paper than a symbol with a transform.
    curves = LEAF[None, :, :1] * along[:, None] + LEAF[None, :, 1:] * off[:, None]
    rows = zip(
        across.tolist(), flat[:, 1].tolist(), flat[:, 2].tolist(), curves.reshape(count, 12).tolist(),
        fills.tolist(), strict=True,
    )  # fmt: skip
    for x, y, depth, curve, fill in rows:
        d = f"M{x:.1f} {y:.1f}c{' '.join(f'{part:.1f}' for part in curve)}z"
        yield Thing(piece, depth, f'<path fill="{GREENS[fill]}" stroke-width=".3" d="{d}"/>')


def draw_ribbons(worked: Worked, view: View) -> Iterator[Thing]:
    """Ribbon hangs in the plane of the support: it is drawn from the front only."""
    if view != "front":
        return
    hexes = {colour.name: colour.hex for colour in worked.design.palette}
    ways = {"tail": _tails, "wrap": _wrap, "bow": _bows, "floater": _strings}
    for ribbon in worked.composition.ribbons:
        ink = hexes.get(ribbon.colour, PLAIN_RIBBON)
        yield from ways[ribbon.use](worked, ribbon, ink)
    yield from _sticks(worked)


def _line(ribbon: Ribbon, ink: str, d: str, depth_m: float, least: float = 0.8) -> Thing:
    width = max(ribbon.width_mm / 10, least)
    return Thing(
        ribbon.piece,
        depth_m,
        f'<path fill="none" stroke="{ink}" stroke-opacity="1" stroke-width="{width:.1f}" d="{d}"/>',
    )


def _low_end(worked: Worked, index: int) -> tuple[float, float]:
    """Where ribbon hangs from: the first run's start on a ring, its middle elsewhere; (x, z) in the room."""
    piece = worked.design.pieces[index]
    stretches = worked.composition.stretches[index]
    s = stretches[0].start_s_m if stretches else piece.support.length_m / 2
    if stretches and not piece.support.closed:
        s = (stretches[0].start_s_m + stretches[0].end_s_m) / 2
    ((x, z),) = piece.support.points(np.array([s % (piece.support.length_m + 1e-9)]))
    return float(x) + piece.at_m, float(z)


def _tails(worked: Worked, ribbon: Ribbon, ink: str) -> Iterator[Thing]:
    """Hanging ribbon; never through the floor."""
    x, z = _low_end(worked, ribbon.piece)
    for i in range(ribbon.count):
        at = 100 * x + (i - (ribbon.count - 1) / 2) * 5
        low = max(0.01, z - ribbon.cut_mm / 1000 * (1 - 0.04 * (i % 3)))
        half, top, end = (z - low) * 50, -100 * z, -100 * low
        sway = 4 * (-1) ** i
        d = (
            f"M{at:.1f} {top:.1f}q{sway} {half / 2:.1f} 0 {half:.1f}"
            f"q{-sway} {half / 2:.1f} 0 {end - top - half:.1f}"
        )
        yield _line(ribbon, ink, d, 0.5 + i / 1000)


def _wrap(worked: Worked, ribbon: Ribbon, ink: str) -> Iterator[Thing]:
    """A slanted stroke over the tube at every turn."""
    if ribbon.stretch is None or not ribbon.pitch_m:
        return
    piece = worked.design.pieces[ribbon.piece]
    turns = max(1, round(ribbon.stretch.length_m / ribbon.pitch_m))
    s = ribbon.stretch.start_s_m + (np.arange(turns) + 0.5) / turns * ribbon.stretch.length_m
    s %= piece.support.length_m + 1e-9
    half = 50 * max(piece.support.tube_m, 0.016)
    slant = 25 * ribbon.pitch_m
    for (x, z), (ux, uz) in zip(piece.support.points(s), piece.support.directions(s), strict=True):
        x_cm, y_cm = 100 * (x + piece.at_m), -100 * z
        dx, dy = slant * ux - half * uz, -slant * uz - half * ux
        yield _line(
            ribbon, ink, f"M{x_cm - dx:.1f} {y_cm - dy:.1f}l{2 * dx:.1f} {2 * dy:.1f}", 0.02
        )


def _bows(worked: Worked, ribbon: Ribbon, ink: str) -> Iterator[Thing]:
    """Bows spread over the piece's path, loops in pairs and two ends."""
    piece = worked.design.pieces[ribbon.piece]
    bows = piece.bows
    if bows is None:
        return
    at = (np.arange(bows.count) + 0.5) / bows.count * piece.support.length_m
    out, end = 100 * bows.loop_m, 100 * bows.end_m
    for x, z in piece.support.points(at):
        x_cm, y_cm = 100 * (x + piece.at_m), -100 * z
        for loop in range(bows.loops):
            a = np.pi * (loop + 0.5) / bows.loops + (np.pi if loop % 2 else 0)
            ux, uy = out * np.cos(a), -out * abs(np.sin(a)) * 0.6
            d = (
                f"M{x_cm:.1f} {y_cm:.1f}q{ux - uy / 3:.1f} {uy + ux / 3:.1f} {ux:.1f} {uy:.1f}"
                f"q{-ux * 0.7 - uy / 4:.1f} {-uy * 0.7 + ux / 4:.1f} {-ux:.1f} {-uy:.1f}"
            )
            yield _line(ribbon, ink, d, 0.55)
        for side in (-1, 1):
            d = f"M{x_cm:.1f} {y_cm:.1f}q{side * 3} {end / 2:.1f} {side * end * 0.3:.1f} {end:.1f}"
            yield _line(ribbon, ink, d, 0.54)


def _floating(worked: Worked, index: int) -> Iterator[tuple[float, float]]:
    """Neck of each floater of a piece: (x, z)."""
    rest = worked.settled
    for i, cluster in enumerate(worked.composition.clusters):
        if cluster.piece == index and cluster.part == "floater":
            ball = int(np.searchsorted(rest.cluster, i))
            x, _, z = rest.centres_m[ball]
            yield float(x), float(z - rest.radii_m[ball])


def _strings(worked: Worked, ribbon: Ribbon, ink: str) -> Iterator[Thing]:
    """From each floater's neck to its weight on the floor; floaters of one weight share it."""
    piece: Piece = worked.design.pieces[ribbon.piece]
    each = piece.floaters.per_weight if piece.floaters else 1
    necks = list(_floating(worked, ribbon.piece))
    for first in range(0, len(necks), each):
        group = necks[first : first + each]
        foot = 100 * sum(x for x, _ in group) / len(group)
        for x, z in group:
            d = f"M{100 * x:.1f} {-100 * z:.1f}Q{foot:.1f} {-50 * z:.1f} {foot:.1f} -4"
            yield _line(ribbon, ink, d, -0.2, least=0.5)
        weight = f'<path d="M{foot - 4:.1f} 0l2-5h4l2 5z" fill="{FAINT}"/>'
        yield Thing(ribbon.piece, -0.19, weight)


def _sticks(worked: Worked) -> Iterator[Thing]:
    for index, piece in enumerate(worked.design.pieces):
        if piece.floaters and piece.floaters.on == "stick":
            for x, z in _floating(worked, index):
                d = f"M{100 * x:.1f} {-100 * z:.1f}V0"
                yield Thing(
                    index,
                    -0.2,
                    f'<path stroke="{FAINT}" stroke-opacity="1" stroke-width=".6" d="{d}"/>',
                )

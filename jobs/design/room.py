"""Does it fit the room, can it be carried in, what must somebody decide: findings in numbers."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil, floor, sqrt

import numpy as np
from numpy.typing import NDArray

from jobs.design.composition import Cluster, Composition
from jobs.design.document import Design, Piece, Room
from jobs.design.kit import highest_m
from jobs.design.parts import LoosePart
from jobs.design.practice import Practice
from jobs.design.settle import Settled
from jobs.design.supports.base import FramePart
from jobs.design.takeoff import Finding
from studio.measure import INCH_M, Units, write_length

CLEAR_M = 0.02  # what a mend keeps between the highest balloon and the ceiling
# Public guidance for other inflated structures: the end of Beaufort 5, 29–38 km/h or 19–24 mph (WMO, from memory).
TAKE_DOWN_WIND: dict[Units, str] = {"metric": "38 km/h", "imperial": "24 mph"}


def check_room(
    design: Design, composition: Composition, settled: Settled, *, units: Units, practice: Practice
) -> Iterator[Finding]:
    """Everything that the room asks of the design."""
    yield from _ceiling(design, composition, settled, units)
    yield from _doorway(design, composition, units)
    yield from _outdoors(design, units)
    yield from _ladder(design, composition, settled, units, practice)
    yield from _unknown(design.room)


def _ceiling(
    design: Design, composition: Composition, settled: Settled, units: Units
) -> Iterator[Finding]:
    ceiling = design.room.ceiling_m
    if ceiling is None or design.room.outdoors:
        return
    for index, piece in enumerate(design.pieces):
        if piece.support.top_m > ceiling + 1e-6:
            yield _frame_too_high(index, piece, ceiling, units)
        yield from _balls_too_high(index, design, composition, settled, units)
        for part, extent in composition.extents_on(index):
            if extent.top_m > ceiling + 1e-6:
                yield _part_too_high(index, piece, part, extent.top_m - ceiling, units)


def _part_too_high(
    index: int, piece: Piece, part: LoosePart, over_m: float, units: Units
) -> Finding:
    return Finding(
        code="ceiling-part",
        weight="stop",
        piece=index,
        sentence=f"{piece.name}: {part.words} {_up(over_m, units)} higher than the ceiling.",
        mend=f"{_up(over_m + CLEAR_M, units)} lower it clears.",
    )


def _frame_too_high(index: int, piece: Piece, ceiling: float, units: Units) -> Finding:
    over = piece.support.top_m - ceiling
    return Finding(
        code="ceiling-frame",
        weight="stop",
        piece=index,
        sentence=f"{piece.name}: the {piece.support.label} itself is {_up(over, units)} higher "
        f"than the ceiling of {write_length(ceiling, units)}.",
        mend=f"A {piece.support.label} that ends at or below {_down(ceiling - CLEAR_M, units)} clears it.",
    )


def _balls_too_high(
    index: int, design: Design, composition: Composition, settled: Settled, units: Units
) -> Iterator[Finding]:
    piece, ceiling = design.pieces[index], design.room.ceiling_m or 0.0
    tops = settled.free_z_m + settled.radii_m if len(settled.radii_m) else np.zeros(0)
    mine = np.array([c.piece == index for c in composition.clusters], dtype=bool)[settled.cluster]
    high = mine & (tops > ceiling + 1e-6)
    if not high.any():
        return
    touching = [composition.clusters[i] for i in np.unique(settled.cluster[high])]
    length = sum(c.pitch_m for c in touching if c.part == "run")
    over = _up(float(tops[high].max()) - ceiling, units)
    where = (
        f" over the top {write_length(length, units)} of the {piece.support.label}"
        if length
        else ""
    )
    yield Finding(
        code="ceiling",
        weight="stop",
        piece=index,
        sentence=f"{piece.name}: balloons are {over} too high{where}; "
        f"the ceiling is at {write_length(ceiling, units)}.",
        mend=" ".join(_mends(index, design, composition, settled, high, units)),
    )


def _mends(
    index: int,
    design: Design,
    composition: Composition,
    settled: Settled,
    high: NDArray[np.bool_],
    units: Units,
) -> Iterator[str]:
    """What would bring each of the parts that are too high under the ceiling."""
    piece, ceiling = design.pieces[index], design.room.ceiling_m or 0.0
    touching = [composition.clusters[i] for i in np.unique(settled.cluster[high])]
    if on_tube := [c for c in touching if c.maker.on_tube]:
        reach = reach_m(index, composition, settled)
        yield _lower(piece, ceiling - reach - CLEAR_M, on_tube, units)
    tops = settled.free_z_m + settled.radii_m
    for words in dict.fromkeys(c.maker.lowering for c in touching if c.maker.lowering):
        theirs = np.array([c.maker.lowering == words for c in composition.clusters], dtype=bool)
        mine = high & theirs[settled.cluster]
        yield words.format(_up(float(tops[mine].max()) - ceiling + CLEAR_M, units))


def reach_m(index: int, composition: Composition, settled: Settled) -> float:
    """How far the balls on a piece's tube stand beyond its centre line upward, metres; it has some."""
    on_tube = np.array(
        [c.piece == index and c.maker.on_tube for c in composition.clusters], dtype=bool
    )
    foot_z = np.array([c.z_m for c in composition.clusters])
    mine = on_tube[settled.cluster]
    beyond = settled.free_z_m + settled.radii_m - foot_z[settled.cluster]
    return float(beyond[mine].max())


def _lower(piece: Piece, height: float, touching: list[Cluster], units: Units) -> str:
    """Where runs would have to end so that every balloon stays below the ceiling."""
    if height <= 0:
        return "Smaller balloons or a smaller frame are needed under this ceiling."
    text = _down(height, units)
    if piece.support.level:
        return f"A {piece.support.label} at or below {text} clears it."
    sides = sorted({"left" if c.x_m < piece.at_m else "right" for c in touching})
    ends = " and ".join(f"the {side} side" for side in sides)
    return f"Ending {ends} below {text} clears it."


def _up(length_m: float, units: Units) -> str:
    """Written in the studio's units, rounded up: too high is never nothing, and what is written suffices."""
    step = INCH_M / 2 if units == "imperial" else 0.01
    return write_length(ceil(length_m / step - 1e-9) * step, units)


def _down(length_m: float, units: Units) -> str:
    """Written in the studio's units, rounded down so that what is written still clears."""
    step = INCH_M / 2 if units == "imperial" else 0.01
    return write_length(floor(length_m / step + 1e-9) * step, units)


def passes(part: FramePart, door_width_m: float, door_height_m: float) -> bool:
    """Whether a flat part, carried endwise, passes a doorway.

    Its cross-section is a rectangle p × q. It fits into a × b (a ≥ b) when p ≤ a and q ≤ b, or slanted when
    b ≥ (2pqa + (p² − q²)√(p² + q² − a²))/(p² + q²). (W. B. Carver, Amer. Math. Monthly 1957; from memory.)
    """
    p, q = max(part.width_m, part.thickness_m), min(part.width_m, part.thickness_m)
    a, b = max(door_width_m, door_height_m), min(door_width_m, door_height_m)
    if p <= a:
        return q <= b
    return b >= (2 * p * q * a + (p**2 - q**2) * sqrt(p**2 + q**2 - a**2)) / (p**2 + q**2)


def _doorway(design: Design, composition: Composition, units: Units) -> Iterator[Finding]:
    width, height = design.room.door_width_m, design.room.door_height_m
    if width is None or height is None:
        return
    for index, piece in enumerate(design.pieces):
        frame = piece.support.frame_parts()
        for part in (*frame, *composition.rigid_parts_on(index)):
            if passes(part, width, height):
                continue
            yield Finding(
                code="doorway",
                weight="stop",
                piece=index,
                sentence=f"{piece.name}: the {part.name}, {write_length(part.width_m, units)} at its "
                f"narrowest, does not pass the door of {write_length(width, units)} by "
                f"{write_length(height, units)}.",
                mend=_more_parts(piece, width, height)
                if part in frame
                else "In smaller parts it may pass.",
            )


def _more_parts(piece: Piece, width: float, height: float) -> str:
    for count in range(piece.support.part_count + 1, 41):
        trial = piece.support.but(part_count=count)
        if all(passes(part, width, height) for part in trial.frame_parts()):
            return f"In {count} parts it passes."
    return "A smaller frame is needed."


def _outdoors(design: Design, units: Units) -> Iterator[Finding]:
    if not design.room.outdoors:
        return
    yield Finding(
        code="wind",
        weight="care",
        piece=None,
        sentence="Outdoors: have a competent person confirm ballast and wind limits for this place.",
        mend=f"Whatever was agreed, take it down at once when wind reaches {TAKE_DOWN_WIND[units]} (Beaufort 5).",
    )


def _ladder(
    design: Design, composition: Composition, settled: Settled, units: Units, practice: Practice
) -> Iterator[Finding]:
    highest = highest_m(design, composition, settled)
    if highest > practice.pole_reach_m:
        yield Finding(
            code="ladder",
            weight="note",
            piece=None,
            sentence=f"Work reaches {write_length(highest, units)}: a step ladder and a second person "
            "to hold it.",
        )


def _unknown(room: Room) -> Iterator[Finding]:
    if room.ceiling_m is None and not room.outdoors:
        yield Finding(
            code="no-ceiling",
            weight="note",
            piece=None,
            sentence="The ceiling has not been measured, so nothing is checked against it.",
            mend="Enter its height in the brief.",
        )
    if room.door_width_m is None or room.door_height_m is None:
        yield Finding(
            code="no-doorway",
            weight="note",
            piece=None,
            sentence="The doorway has not been measured, so the frame is not checked against it.",
            mend="Enter its width and height in the brief.",
        )

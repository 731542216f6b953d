"""The build sheet beside its clusters: what is done about frame, greenery and ribbon, piece by piece."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from jobs.design.compose import Composition
from jobs.design.document import Design, Piece
from jobs.design.kit import frame_of
from jobs.design.practice import Practice
from jobs.design.soft import Ribbon, Strands
from jobs.design.stretch import Stretch
from studio.measure import Units, write_cut, write_length

# Common practice, no source.
LEAVES = (
    "Leaves all one way; hide the ends between balloons. Tie round the main stem only, never round leaves: "
    "at both ends and in the middle of each strand."
)
STEMS = "Tuck them in last, between the balloons, leaves all one way."


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """Something to do that is no cluster."""

    what: str
    where: str = ""
    how: str = ""


def frame_work(design: Design, index: int, practice: Practice, units: Units) -> tuple[Work, ...]:
    """What stands or hangs before the first balloon: parts, joints, hooks, ballast."""
    return tuple(_frame(design, design.pieces[index], practice, units))


def _frame(design: Design, piece: Piece, practice: Practice, units: Units) -> Iterator[Work]:
    support = piece.support
    for item in frame_of(piece):
        long = f", {write_length(item.length_m, units)} long" if item.length_m else ""
        yield Work(what=f"{item.count} × {item.name}{long}")
    if joints := len(support.joints_s_m):
        tape = write_length(practice.joint_tape_m, units)
        yield Work(what=f"{joints} × joint", how=f"Tape each with {tape} of low-profile tape.")
    if support.hung:
        tall = ", ".join(dict.fromkeys(write_length(z, units) for z in _hooks_z(piece)))
        long = write_length(support.length_m + 2 * practice.knot_m, units)
        yield Work(
            what=f"{len(support.hooks_s_m)} × hook", where=f"{tall} up",
            how=f"Where the venue allows it, in what bears it. String {long} of line, knots included.",
        )  # fmt: skip
    if design.room.outdoors and not support.hung:
        kg = f"{practice.ballast_kg:g} kg"
        yield Work(
            what=f"{practice.feet_ballast} × ballast weight, {kg}", where="on the feet",
            how="Before the first balloon. A competent person confirms it for this place.",
        )  # fmt: skip


def _hooks_z(piece: Piece) -> list[float]:
    at = piece.support.points(np.array(piece.support.hooks_s_m, dtype=np.float64))
    return [float(z) for _, z in at.tolist()]


def soft_work(
    design: Design, composition: Composition, index: int, units: Units
) -> tuple[Work, ...]:
    """Greenery, stems and ribbon of a piece."""
    return tuple(_soft(design, composition, index, units))


def _soft(design: Design, composition: Composition, index: int, units: Units) -> Iterator[Work]:
    piece = design.pieces[index]
    mine = [s for s in composition.strands if s.piece == index]
    for strands, greenery in zip(mine, piece.greenery, strict=True):
        yield _greenery(strands, greenery.overlap_m, greenery.tuck_m, units)
    stemmed = [i for i, p in enumerate(design.pieces) if p.stems]
    for i, (plant, count) in zip(stemmed, composition.stems, strict=True):
        if i == index:
            yield Work(what=f"{count} × stem of {plant}", where="along the runs", how=STEMS)
    ribbons = [r for r in composition.ribbons if r.piece == index]
    # Cuts of one wrap follow one another: as many whole rolls as it takes, and the rest.
    for _, cuts in groupby(ribbons, key=lambda r: (r.use, r.stretch, r.width_mm, r.colour)):
        yield _ribbon(piece, list(cuts), units)


def _greenery(strands: Strands, overlap_m: float, tuck_m: float, units: Units) -> Work:
    def long(length_m: float) -> str:
        return write_length(length_m, units)

    turns = f"one turn every {long(strands.pitch_m)}" if strands.pitch_m else "laid straight"
    end = (
        f", meeting with {long(overlap_m)} of overlap" if strands.lengths > 1 and overlap_m else ""
    )
    tuck = f" Tuck {long(tuck_m)} in at each end." if tuck_m else ""
    return Work(
        what=f"{strands.strands} × strand of {strands.plant}, {long(strands.strand_m)}",
        where=_from_to(strands.stretch, units),
        how=f"{strands.side_by_side} side by side, {strands.lengths} end to end{end}; {turns}.{tuck} "
        f"{strands.fasteners} cable ties. {LEAVES}",
    )  # fmt: skip


def _ribbon(piece: Piece, cuts: list[Ribbon], units: Units) -> Work:
    first = cuts[0]
    many = ", ".join(f"{r.count} × {write_cut(r.cut_mm, units)}" for r in cuts)
    what = f"ribbon {first.width_mm} mm, {first.colour}: cut {many}"
    if first.use == "wrap" and first.stretch:
        turns = write_length(first.pitch_m or 0, units)
        return Work(
            what=what, where=_from_to(first.stretch, units),
            how=f"Wind it round the bare tube, one turn every {turns}, a knot at each end.",
        )  # fmt: skip
    if first.use == "bow" and piece.bows:
        bows = piece.bows
        loop, end = write_length(bows.loop_m, units), write_length(bows.end_m, units)
        how = f"Bows of {bows.loops} loops, {loop} each, with two ends of {end}; tied in the workshop."
        return Work(what=what, how=how)
    if first.use == "floater" and piece.floaters:
        up = write_length(piece.floaters.height_m, units)
        return Work(what=what, how=f"A knot at the neck, {up} of ribbon, a knot at the weight.")
    return Work(what=what, how="Hang as tails, ends cut aslant.")


def _from_to(stretch: Stretch, units: Units) -> str:
    start, end = (write_length(s, units) for s in (stretch.start_s_m, stretch.end_s_m))
    return f"{start} to {end} along"

"""The build sheet beside its clusters: what is done about the frame and the loose parts, piece by piece."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from jobs.design.composition import Composition
from jobs.design.document import Design, Piece
from jobs.design.kit import frame_of
from jobs.design.practice import Practice
from jobs.design.takeoff import Work
from studio.measure import Units, write_length


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


def part_work(composition: Composition, index: int, units: Units) -> dict[str, tuple[Work, ...]]:
    """What a piece's loose parts ask besides their clusters, under their headings."""
    found: dict[str, tuple[Work, ...]] = {}
    for part, setting in composition.parts_on(index):
        if lines := tuple(part.build_lines(setting, units)):
            found[part.sheet_heading] = (*found.get(part.sheet_heading, ()), *lines)
    return found

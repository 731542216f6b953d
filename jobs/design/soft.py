"""What is soft and cut to length: greenery and ribbon."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor, pi, sqrt
from typing import Literal

from jobs.design.document import Bows, Greenery, Piece
from jobs.design.places import stretch_of
from jobs.design.practice import Practice
from jobs.design.stretch import Stretch


@dataclass(frozen=True, slots=True, kw_only=True)
class Strands:
    """Greenery as it is cut and fastened."""

    piece: int
    plant: str
    stretch: Stretch
    needed_m: float  # length of one wrapped strand over the stretch, tucked ends included
    lengths: int  # strand lengths end to end
    side_by_side: int
    strand_m: float
    pitch_m: float | None
    fasteners: int

    @property
    def strands(self) -> int:
        return self.lengths * self.side_by_side


@dataclass(frozen=True, slots=True, kw_only=True)
class Ribbon:
    """Equal cuts of one ribbon."""

    piece: int
    use: Literal["tail", "wrap", "bow", "floater"]
    width_mm: int
    colour: str
    cut_mm: int
    count: int
    stretch: Stretch | None = None  # of a wrap
    pitch_m: float | None = None


def helix(across_m: float, pitch_m: float | None) -> float:
    """Length of a helix for each metre of its axis, √(1 + (πD/p)²); 1 for what is laid straight.

    >>> round(helix(0.2, 0.4) * 2, 10)
    3.7241917782
    """
    return sqrt(1 + (pi * across_m / pitch_m) ** 2) if pitch_m else 1.0


def measure_greenery(index: int, piece: Piece, greenery: Greenery, practice: Practice) -> Strands:
    """Strand lengths for a stretch.

    A wrapped strand runs as a helix round the tube with the stem, strands side by side in turn to the left
    and to the right. Lengths that meet overlap; both outer ends are tucked in. Fasteners hold both ends of
    each length and no gap is wider than asked; strands side by side share them.
    """
    stretch = stretch_of(piece.support, greenery.start, greenery.end)
    pitch = greenery.wrap_pitch_m
    across_m = piece.support.tube_m + practice.stem_m
    needed_m = stretch.length_m * helix(across_m, pitch) + 2 * greenery.tuck_m
    gain_m = greenery.strand_m - greenery.overlap_m
    lengths = max(1, ceil((needed_m - greenery.overlap_m) / gain_m - 1e-9))
    on_one_m = min(greenery.strand_m, needed_m)
    return Strands(
        piece=index,
        plant=greenery.plant,
        stretch=stretch,
        needed_m=needed_m,
        lengths=lengths,
        side_by_side=greenery.side_by_side,
        strand_m=greenery.strand_m,
        pitch_m=pitch,
        fasteners=lengths * (ceil(on_one_m / greenery.fastener_gap_m - 1e-9) + 1),
    )


def measure_ribbons(index: int, piece: Piece, practice: Practice) -> Iterator[Ribbon]:
    """Every cut of ribbon on a piece, in whole millimetres."""
    if tails := piece.tails:
        yield Ribbon(
            piece=index, use="tail", width_mm=tails.width_mm, colour=tails.colour,
            cut_mm=_mm(tails.length_m), count=tails.count,
        )  # fmt: skip
    for wrap in piece.wraps:
        stretch = stretch_of(piece.support, wrap.start, wrap.end)
        wound_m = stretch.length_m * helix(piece.support.tube_m, wrap.pitch_m) + 2 * practice.knot_m
        for cut, count in in_rolls(_mm(wound_m), practice):
            yield Ribbon(
                piece=index, use="wrap", width_mm=wrap.width_mm, colour=wrap.colour, cut_mm=cut,
                count=count, stretch=stretch, pitch_m=wrap.pitch_m,
            )  # fmt: skip
    if bows := piece.bows:
        yield Ribbon(
            piece=index, use="bow", width_mm=bows.width_mm, colour=bows.colour,
            cut_mm=_mm(bow_m(bows, practice)), count=bows.count,
        )  # fmt: skip
    floaters = piece.floaters
    if floaters and floaters.on == "helium":
        yield Ribbon(
            piece=index, use="floater", width_mm=floaters.width_mm, colour=floaters.colour,
            cut_mm=_mm(floaters.height_m + 2 * practice.knot_m), count=floaters.count,
        )  # fmt: skip


def bow_m(bows: Bows, practice: Practice) -> float:
    """Ribbon in one bow: out and back for every loop, two ends, a knot."""
    return bows.loops * 2 * bows.loop_m + 2 * bows.end_m + practice.knot_m


def in_rolls(length_mm: int, practice: Practice) -> Iterator[tuple[int, int]]:
    """A length longer than a roll is made of whole rolls and a rest: (cut, how many)."""
    roll = floor(practice.roll_m * 1000)
    whole, rest = divmod(length_mm, roll)
    if whole:
        yield roll, whole
    if rest:
        yield rest, 1


def _mm(length_m: float) -> int:
    """Whole millimetres, up: a float sum would make an inexact count."""
    return ceil(length_m * 1000 - 1e-6)

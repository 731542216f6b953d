"""Strands of greenery round a stretch of the support."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from math import ceil
from typing import TYPE_CHECKING, Annotated, ClassVar

import numpy as np
from pydantic import Field

from jobs.design.faults import Fault, fault
from jobs.design.parts.base import (
    Box,
    LoosePart,
    Operation,
    Ranks,
    Saving,
    Setting,
    Times,
    WorkStage,
    left_out,
)
from jobs.design.picture_plane import Thing, View, on_path, project
from jobs.design.picture_soft import draw_leaves
from jobs.design.places import stretch_of
from jobs.design.soft import helix
from jobs.design.stretch import Stretch
from jobs.design.supports.base import Height, Size
from jobs.design.takeoff import Work
from jobs.design.values import FOLDED, Name, Pitch, Place
from pricing.core.need import Need
from pricing.core.supply_keys import SupplyKey
from studio.measure import Units, write_length

if TYPE_CHECKING:
    from jobs.design.composition import Composition
    from jobs.design.working import Worked

LEAF_GAP_M = 0.055
# Common practice, no source.
LEAVES = (
    "Leaves all one way; hide the ends between balloons. Tie round the main stem only, never round leaves: "
    "at both ends and in the middle of each strand."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Strands:
    """Greenery as it is cut and fastened."""

    stretch: Stretch
    needed_m: float  # length of one wrapped strand over the stretch, tucked ends included
    lengths: int  # strand lengths end to end
    side_by_side: int
    fasteners: int

    @property
    def strands(self) -> int:
        return self.lengths * self.side_by_side


class Greenery(LoosePart):
    """Strands wrapped round a stretch of the support, side by side, lengths meeting with an overlap."""

    key: ClassVar[str] = "greenery"
    words: ClassVar[str] = "greenery"
    row_words: ClassVar[str] = "a stretch of greenery"
    most: ClassVar[int] = 10
    ranks: ClassVar[Ranks] = Ranks(screen=6, work=5, words=6)
    always_written: ClassVar[bool] = True
    sheet_heading: ClassVar[str] = "Greenery and ribbon"
    boxes: ClassVar[dict[str, Box]] = {"greenery": "soft"}
    operations: ClassVar[tuple[Operation, ...]] = (
        Operation(name="wrap a metre of greenery", minutes=2.0, stage=WorkStage.GREENING),
        Operation(name="set a fastener", minutes=0.4, stage=WorkStage.FASTENING),
    )

    start: Place = Field(title="From", examples=[{"share": 0}])
    end: Place = Field(title="To", examples=[{"share": 1}])
    plant: Name = Field(default="mixed leaf", title="Plant")
    strand_m: Size = Field(default=2.0, title="Strand length")  # of one as bought
    # Wrapped in turn to the left and to the right.
    side_by_side: Annotated[int, Field(ge=1, le=12)] = Field(default=2, title="Side by side")
    wrap_pitch_m: Pitch | None = Field(
        default=None, title="One turn every", description="Empty: laid straight."
    )
    overlap_m: Annotated[Height, FOLDED] = Field(default=0.05, title="Overlap")
    tuck_m: Annotated[Height, FOLDED] = Field(default=0.0, title="Tucked in at each end")
    # At both ends of each length and no farther apart than this.
    fastener_gap_m: Annotated[Size, FOLDED] = Field(default=1.0, title="Fastened every")

    def faults(self, setting: Setting, path: str) -> Iterator[Fault]:
        yield from super().faults(setting, path)
        if self.overlap_m >= self.strand_m:
            yield fault(
                f"{path}.overlap_m",
                f"less than the strand of {self.strand_m:.2f} m",
                f"{self.overlap_m:.2f} m",
            )

    def measured(self, setting: Setting) -> Strands:
        """Strand lengths for its stretch.

        A wrapped strand runs as a helix round the tube with the stem, strands side by side in turn to the left
        and to the right. Lengths that meet overlap; both outer ends are tucked in. Fasteners hold both ends of
        each length and no gap is wider than asked; strands side by side share them.
        """
        support = setting.piece.support
        stretch = stretch_of(support, self.start, self.end)
        across_m = support.tube_m + setting.practice.stem_m
        needed_m = stretch.length_m * helix(across_m, self.wrap_pitch_m) + 2 * self.tuck_m
        gain_m = self.strand_m - self.overlap_m
        lengths = max(1, ceil((needed_m - self.overlap_m) / gain_m - 1e-9))
        on_one_m = min(self.strand_m, needed_m)
        return Strands(
            stretch=stretch,
            needed_m=needed_m,
            lengths=lengths,
            side_by_side=self.side_by_side,
            fasteners=lengths * (ceil(on_one_m / self.fastener_gap_m - 1e-9) + 1),
        )

    def needs(self, setting: Setting, units: Units) -> Iterator[Need]:
        strands = self.measured(setting)
        yield Need(
            key=SupplyKey("greenery", self.plant),
            label=f"greenery strand, {self.plant}, {write_length(self.strand_m, units)}",
            quantity=Decimal(strands.strands),
        )
        yield Need(
            key=SupplyKey("fastener", "cable tie"),
            label="cable tie",
            quantity=Decimal(strands.fasteners),
        )

    def work(self, setting: Setting) -> Iterator[Times]:
        strands = self.measured(setting)
        yield "wrap a metre of greenery", "site", strands.needed_m * strands.side_by_side
        yield "set a fastener", "site", strands.fasteners

    def told(self, setting: Setting, worked: Worked, units: Units) -> Iterator[str]:
        yield f"Greenery ({self.plant}) along the open part"

    def build_lines(self, setting: Setting, units: Units) -> Iterator[Work]:
        def long(length_m: float) -> str:
            return write_length(length_m, units)

        strands = self.measured(setting)
        turns = (
            f"one turn every {long(self.wrap_pitch_m)}" if self.wrap_pitch_m else "laid straight"
        )
        meets = strands.lengths > 1 and self.overlap_m
        end = f", meeting with {long(self.overlap_m)} of overlap" if meets else ""
        tuck = f" Tuck {long(self.tuck_m)} in at each end." if self.tuck_m else ""
        yield Work(
            what=f"{strands.strands} × strand of {self.plant}, {long(self.strand_m)}",
            where=strands.stretch.said(units),
            how=f"{strands.side_by_side} side by side, {strands.lengths} end to end{end}; {turns}.{tuck} "
            f"{strands.fasteners} cable ties. {LEAVES}",
        )

    def draw(self, setting: Setting, worked: Worked, view: View) -> Iterator[Thing]:
        """Leaves in pairs along every strand; a wrapped strand passes behind and before the tube."""
        piece, stretch = setting.piece, self.measured(setting).stretch
        rng = np.random.default_rng([setting.design.seed, 7, setting.number])
        count = max(2, int(stretch.length_m / LEAF_GAP_M))
        for hand in range(self.side_by_side):
            s = stretch.start_s_m + np.linspace(0, stretch.length_m, count)
            along = s % (piece.support.length_m + 1e-9)
            ways = piece.support.directions(along)
            turn = (s - s[0]) / (self.wrap_pitch_m or 1e9) * 2 * np.pi * (-1) ** hand + np.pi * hand
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
            yield from draw_leaves(setting.index, project(at, view), lean, rng)

    def thinner(self) -> Greenery:
        return self.but(side_by_side=self.side_by_side - 1) if self.side_by_side > 1 else self

    savings: ClassVar[tuple[Saving, ...]] = (
        Saving(seen=2, words="one strand of greenery fewer beside another", less=thinner),
        Saving(seen=7, words="greenery left out", less=left_out),
    )


def strands_of(composition: Composition) -> tuple[Strands, ...]:
    """Every stretch of greenery of a design, piece by piece."""
    return tuple(
        part.measured(setting) for part, setting in composition.parts if isinstance(part, Greenery)
    )

"""Document → composition: every cluster with its place, its balls and their colours.

One list feeds everything after it: the counts tally it, the picture draws it, the build follows it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from jobs.design.document import Colour, Hold

type Part = Literal["run", "skirt", "accent", "feature"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ball:
    size: str  # nominal: "11 in"
    blown_m: float  # finished diameter
    colour: Colour


@dataclass(frozen=True, slots=True, kw_only=True)
class Cluster:
    """One cluster, its centre before the balls settle, and what it is made of."""

    piece: int  # index in the document
    part: Part
    run: int  # index of the run it sits on; -1 for skirt
    recipe: str
    balls: tuple[Ball, ...]
    hold: Hold
    s_m: float  # along the support; for a skirt the nearest place
    x_m: float  # in the room, from the middle of the wall
    y_m: float  # toward the viewer from the support's plane
    z_m: float  # above the floor
    pitch_m: float  # length that it takes along the support


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A stretch of one support in path lengths; on a closed path end_s_m may exceed the length."""

    start_s_m: float
    end_s_m: float

    @property
    def length_m(self) -> float:
        return self.end_s_m - self.start_s_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Strands:
    """Greenery as it is cut and fastened."""

    piece: int
    plant: str
    stretch: Stretch
    needed_m: float  # length of one wrapped strand over the stretch
    lengths: int  # strand lengths end to end
    side_by_side: int
    strand_m: float
    fasteners: int

    @property
    def strands(self) -> int:
        return self.lengths * self.side_by_side


@dataclass(frozen=True, slots=True, kw_only=True)
class Composition:
    clusters: tuple[Cluster, ...]
    strands: tuple[Strands, ...]
    stretches: tuple[tuple[Stretch, ...], ...]  # per piece, per run

"""What a design is composed of once it is laid out: clusters with their balls, ribbon, loose parts. Values only."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from jobs.design.values import Colour, Hold, Lies

if TYPE_CHECKING:
    from jobs.design.parts import LoosePart, Setting
    from jobs.design.parts.base import Extent
    from jobs.design.parts.making import ClusterMaker
    from jobs.design.soft import Ribbon
    from jobs.design.stretch import Stretch
    from jobs.design.supports.base import FramePart


@dataclass(frozen=True, slots=True, kw_only=True)
class Ball:
    size: str  # nominal: "11 in"
    blown_m: float  # finished diameter
    colour: Colour


@dataclass(frozen=True, slots=True, kw_only=True)
class Cluster:
    """One cluster, its centre before the balls settle, and what it is made of."""

    piece: int  # index in the document
    maker: ClusterMaker = field(repr=False, compare=False)  # the run or loose part that it is of
    run: int  # index of the run it sits on; -1 for none
    recipe: str
    balls: tuple[Ball, ...]
    hold: Hold
    s_m: float  # along the support; 0 for what is not on it
    x_m: float  # in the room, from the middle of the wall
    y_m: float  # toward the viewer from the support's plane
    z_m: float  # above the floor
    pitch_m: float  # length that it takes along the support
    lies: Lies = "all round"

    @property
    def part(self) -> str:
        """What it is part of: "run", "skirt", …"""
        return self.maker.cluster_part


@dataclass(frozen=True, slots=True, kw_only=True)
class Composition:
    clusters: tuple[Cluster, ...]
    ribbons: tuple[Ribbon, ...]
    parts: tuple[tuple[LoosePart, Setting], ...]  # piece by piece, in the order of work
    stretches: tuple[tuple[Stretch, ...], ...]  # per piece, per run
    tightness: tuple[
        tuple[float, ...], ...
    ]  # likewise: real pitch over that of balls that just touch

    def parts_on(self, index: int) -> tuple[tuple[LoosePart, Setting], ...]:
        """Loose parts of one piece."""
        return tuple((part, setting) for part, setting in self.parts if setting.index == index)

    def extents_on(self, index: int) -> tuple[tuple[LoosePart, Extent], ...]:
        """What room loose parts of a piece take besides their balls."""
        found = ((part, part.extent(setting)) for part, setting in self.parts_on(index))
        return tuple((part, extent) for part, extent in found if extent)

    def rigid_parts_on(self, index: int) -> tuple[FramePart, ...]:
        """What is carried stiff of a piece's loose parts."""
        return tuple(r for part, setting in self.parts_on(index) for r in part.rigid_parts(setting))

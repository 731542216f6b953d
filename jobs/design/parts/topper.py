"""The balloon on top of a column."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from pydantic import Field

from jobs.design.faults import Fault, fault
from jobs.design.parts.base import LoosePart, Operation, Ranks, Setting, WorkStage
from jobs.design.supports.base import Size
from jobs.design.values import Nominal, Weights
from studio.measure import Units, write_diameter

if TYPE_CHECKING:
    from jobs.design.compose import Laying
    from jobs.design.composition import Cluster
    from jobs.design.document import Piece
    from jobs.design.supports import Support
    from jobs.design.working import Worked


class Topper(LoosePart):
    """One ball on top of a column."""

    key: ClassVar[str] = "topper"
    words: ClassVar[str] = "the balloon on top"
    ranks: ClassVar[Ranks] = Ranks(screen=4, work=1, words=3)
    always_written: ClassVar[bool] = True
    switch: ClassVar[tuple[str, ...]] = ("size", "blown_m")
    with_garland: ClassVar[bool] = True
    cluster_part: ClassVar[str] = "topper"
    placed_by: ClassVar[str] = "set a topper"
    operations: ClassVar[tuple[Operation, ...]] = (
        Operation(name="set a topper", minutes=2.5, stage=WorkStage.PLACING),
    )
    ties_each: ClassVar[int] = 2  # a whole one (common practice, no source)
    sway: ClassVar[float] = 0.1
    lowering: ClassVar[str] = "A smaller topper, or a column {} shorter, clears it."

    size: Nominal = Field(title="Size", examples=["24 in"])
    blown_m: Size = Field(title="Blown to", examples=[0.5])
    weights: Weights = Field(default_factory=dict, title="Own shares")

    @classmethod
    def fits(cls, support: type[Support]) -> bool:
        return support.topped

    def faults(self, setting: Setting, path: str) -> Iterator[Fault]:
        yield from super().faults(setting, path)
        if not self.fits(type(setting.piece.support)):
            label = setting.piece.support.label
            yield fault(path, "a topper on a column only", f"one on a {label}")

    def lay(self, laying: Laying) -> Iterator[Cluster]:
        support = laying.piece.support
        (mine,) = laying.coloured([[(self.size, self.blown_m)]], self.weights)
        ((x, z),) = support.points(np.array([support.length_m])).tolist()
        yield laying.loose(self, self.size, mine, x, 0.0, z + self.blown_m / 2)

    def where(self, cluster: Cluster, piece: Piece, units: Units) -> str:
        return "on top"

    def told(self, setting: Setting, worked: Worked, units: Units) -> Iterator[str]:
        yield f"One large balloon on top, {write_diameter(self.blown_m, units)} across"

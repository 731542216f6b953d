"""Loose large balloons set along the runs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, ClassVar

from pydantic import Field

from jobs.design.handle import Handle, handle_along
from jobs.design.parts.base import (
    BALLS_A_METRE,
    LoosePart,
    Operation,
    Ranks,
    Saving,
    Setting,
    WorkStage,
)
from jobs.design.supports.base import Size
from jobs.design.values import Fixed, Nominal, Place, Some, Weights
from jobs.design.wording import plural
from studio.measure import Units, write_diameter

if TYPE_CHECKING:
    from jobs.design.compose import Laying
    from jobs.design.composition import Cluster
    from jobs.design.working import Worked


class Features(LoosePart):
    """Loose large balls set along the runs; the first of them at places, where some are given."""

    key: ClassVar[str] = "features"
    words: ClassVar[str] = "large balloons set along it"
    heading: ClassVar[str] = "loose features"
    ranks: ClassVar[Ranks] = Ranks(screen=3, work=3, words=1)
    always_written: ClassVar[bool] = True
    cluster_part: ClassVar[str] = "feature"
    placed_by: ClassVar[str] = "set a feature"
    operations: ClassVar[tuple[Operation, ...]] = (
        Operation(name="set a feature", minutes=2.0, stage=WorkStage.PLACING),
    )
    on_tube: ClassVar[bool] = True

    count: Some = Field(title="How many", examples=[2])
    size: Nominal = Field(title="Size", examples=["24 in"])
    blown_m: Size = Field(title="Blown to", examples=[0.5])
    fixed: Fixed = Field(default="tie", title="Held by a")
    at: Annotated[tuple[Place, ...], Field(max_length=200)] = Field(
        default=(), title="At", description="Places, first of them first. Empty: spread evenly."
    )
    weights: Weights = Field(default_factory=dict, title="Own shares")

    def crowds(self, setting: Setting) -> Iterator[tuple[str, float, float]]:
        yield "count", self.count, max(setting.piece.support.length_m, 1.0) * BALLS_A_METRE / 8

    def lay(self, laying: Laying) -> Iterator[Cluster]:
        balls = [[(self.size, self.blown_m)]] * self.count
        yield from laying.set_along(self, self.size, balls, self.weights, self.at)

    def told(self, setting: Setting, worked: Worked, units: Units) -> Iterator[str]:
        across = write_diameter(self.blown_m, units)
        yield f"among them {self.count} large {plural(self.count, 'balloon')}, {across} across"

    def handles(self, setting: Setting, worked: Worked, units: Units) -> Iterator[Handle]:
        """Each of them; once one is taken hold of, all have places."""
        mine = [
            c for c in worked.composition.clusters if c.piece == setting.index and c.maker is self
        ]
        for which, cluster in enumerate(mine):
            yield handle_along(
                setting.index, setting.piece, cluster.s_m, units, kind="feature",
                path=f"$.pieces[{setting.index}].features.at",
                label=f"{setting.piece.name}, loose feature {which + 1}", which=which,
            )  # fmt: skip

    def fewer(self) -> Features:
        fewer = self.count - 1
        return self.but(count=fewer, at=self.at[:fewer]) if fewer else self

    savings: ClassVar[tuple[Saving, ...]] = (
        Saving(seen=4, words="fewer loose features", less=fewer),
    )

"""Minis: small clusters set along the runs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, ClassVar

from pydantic import Field

from jobs.design.parts.base import (
    BALLS_A_METRE,
    LoosePart,
    Operation,
    Ranks,
    Saving,
    Setting,
    WorkStage,
    how_many,
)
from jobs.design.supports.base import Size
from jobs.design.values import Fixed, Nominal, PerMetre, Some, Weights
from jobs.design.wording import plural

if TYPE_CHECKING:
    from jobs.design.compose import Laying
    from jobs.design.composition import Cluster
    from jobs.design.working import Worked
    from studio.measure import Units

MINI_BALLS = 8  # a mini is two quads of small balls (common practice, no source)


class Accents(LoosePart):
    """Minis set along the runs: each two quads of small balls, on half a tie or on dots of glue."""

    key: ClassVar[str] = "accents"
    words: ClassVar[str] = "small accents"
    heading: ClassVar[str] = "minis"
    ranks: ClassVar[Ranks] = Ranks(screen=2, work=4, words=2)
    always_written: ClassVar[bool] = True
    switch: ClassVar[tuple[str, ...]] = ("count", "per_m")
    cluster_part: ClassVar[str] = "accent"
    step_words: ClassVar[str] = "mini"
    placed_by: ClassVar[str] = "set an accent"
    operations: ClassVar[tuple[Operation, ...]] = (
        Operation(name="set an accent", minutes=0.75, stage=WorkStage.PLACING),
    )
    on_tube: ClassVar[bool] = True

    count: Some | None = Field(default=None, title="How many")
    per_m: PerMetre | None = Field(default=None, title="Or so many a metre", examples=[2])  # of run
    size: Nominal = Field(default="5 in", title="Size")
    blown_m: Size = Field(default=0.11, title="Blown to")
    fixed: Fixed = Field(default="tie", title="Held by a")
    weights: Weights = Field(default_factory=dict, title="Own shares")

    def crowds(self, setting: Setting) -> Iterator[tuple[str, float, float]]:
        if self.count:
            length_m = max(setting.piece.support.length_m, 1.0)
            yield "count", self.count, length_m * BALLS_A_METRE / MINI_BALLS

    def about_balls(self, setting: Setting) -> float:
        count = self.count or (self.per_m or 0) * 2 * setting.piece.support.length_m
        return MINI_BALLS * count

    def lay(self, laying: Laying) -> Iterator[Cluster]:
        count = how_many(self.count, self.per_m, laying.run_m)
        ball = (self.size, self.blown_m)
        yield from laying.set_along(self, "mini", [[ball] * MINI_BALLS] * count, self.weights)

    def told(self, setting: Setting, worked: Worked, units: Units) -> Iterator[str]:
        count = sum(
            c.piece == setting.index and c.maker is self for c in worked.composition.clusters
        )
        yield f"and {count} small accent {plural(count, 'cluster')}"

    def fewer(self) -> Accents:
        return self.but(count=self.count - 1) if self.count and self.count >= 2 else self

    savings: ClassVar[tuple[Saving, ...]] = (Saving(seen=3, words="fewer minis", less=fewer),)

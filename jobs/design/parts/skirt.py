"""Balloons spilling over the floor at the foot."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from pydantic import Field

from jobs.design.clusters import heap_balls, mean_ball_m, outer_m
from jobs.design.faults import Fault, fault
from jobs.design.handle import Handle
from jobs.design.parts.base import (
    BALLS_A_METRE,
    LoosePart,
    Operation,
    Ranks,
    Saving,
    Setting,
    WorkStage,
)
from jobs.design.parts.making import across_floor
from jobs.design.supports.base import Across, Size
from jobs.design.values import Recipe, RecipeName, Some, Weights
from studio.measure import Units, write_length

if TYPE_CHECKING:
    from jobs.design.compose import Laying
    from jobs.design.composition import Cluster
    from jobs.design.document import Piece
    from jobs.design.practice import Practice
    from jobs.design.working import Worked


class Skirt(LoosePart):
    """Clusters spilling on the floor at the foot, spread evenly over a width about a centre.

    As many as `clusters` says, or as fill a heap of that width, depth and height.
    """

    key: ClassVar[str] = "skirt"
    words: ClassVar[str] = "balloons spilling over the floor"
    ranks: ClassVar[Ranks] = Ranks(screen=1, work=2, words=4)
    always_written: ClassVar[bool] = True
    switch: ClassVar[tuple[str, ...]] = ("clusters", "depth_m", "height_m")
    cluster_part: ClassVar[str] = "skirt"
    placed_by: ClassVar[str] = "lay a skirt cluster"
    operations: ClassVar[tuple[Operation, ...]] = (
        Operation(name="lay a skirt cluster", minutes=0.75, stage=WorkStage.PLACING),
    )
    lowering: ClassVar[str] = "A heap {} lower clears it."

    clusters: Some | None = Field(
        default=None, title="Clusters on the floor",
        description="Empty: no skirt, or as many as fill the heap.",
    )  # fmt: skip
    recipe: RecipeName = Field(title="Cluster", examples=["quad"])
    centre_m: Across = Field(default=0.0, title="Centre")  # from the piece's centre line
    width_m: Size = Field(default=1.0, title="Width")
    depth_m: Size | None = Field(default=None, title="Heap’s depth", examples=[0.4])
    height_m: Size | None = Field(default=None, title="Heap’s height", examples=[0.3])
    weights: Weights = Field(default_factory=dict, title="Own shares")

    def faults(self, setting: Setting, path: str) -> Iterator[Fault]:
        yield from super().faults(setting, path)
        heap = self.depth_m is not None and self.height_m is not None
        if (self.clusters is not None) == heap:
            yield fault(
                f"{path}.clusters", "either a count or a depth and a height", "both or neither"
            )

    def crowds(self, setting: Setting) -> Iterator[tuple[str, float, float]]:
        if self.clusters:
            each = self._recipe(setting).ball_count
            yield "clusters", self.clusters, max(self.width_m, 1.0) * BALLS_A_METRE / each

    def about_balls(self, setting: Setting) -> float:
        recipe = self._recipe(setting)
        count = self.clusters or heap_clusters(self, recipe, setting.practice)
        return count * recipe.ball_count

    def _recipe(self, setting: Setting) -> Recipe:
        return next(r for r in setting.design.recipes if r.name == self.recipe)

    def lay(self, laying: Laying) -> Iterator[Cluster]:
        recipe = laying.recipes[self.recipe]
        count = self.clusters or heap_clusters(self, recipe, laying.practice)
        outer = outer_m(recipe.ball_count, max(b.blown_m for b in recipe.balls))
        x = ((np.arange(count) + 0.5) / count - 0.5) * self.width_m + self.centre_m
        row = laying.rng.permutation(np.arange(count) % 3)
        if self.depth_m is None:
            y = outer * (0.3 + 0.35 * row)
        else:
            y = np.maximum(self.depth_m * (row + 0.5) / 3, outer * 0.3)
        rise = max((self.height_m or 0.0) - outer, 0.0)
        z = outer / 2 + rise * laying.rng.uniform(0, 1, count) * (1 - row / 3)
        dealt = laying.coloured([laying.sized(recipe, 1)] * count, self.weights)
        for mine, *at in zip(dealt, x.tolist(), y.tolist(), z.tolist(), strict=True):
            yield laying.loose(self, recipe.name, mine, *at)

    def where(self, cluster: Cluster, piece: Piece, units: Units) -> str:
        return across_floor(cluster, piece, units)

    def told(self, setting: Setting, worked: Worked, units: Units) -> Iterator[str]:
        yield "Balloons spilling over the floor at its foot"

    def handles(self, setting: Setting, worked: Worked, units: Units) -> Iterator[Handle]:
        """Both edges on the floor."""
        piece, path = setting.piece, f"$.pieces[{setting.index}].{self.key}"
        for side, sign in (("left", -1), ("right", 1)):
            x = self.centre_m + sign * self.width_m / 2
            yield Handle(
                kind="edge", piece=setting.index, path=f"{path}.width_m", centre=f"{path}.centre_m",
                label=f"{piece.name}, skirt’s {side} edge", x_cm=100 * (x + piece.at_m), y_cm=-4, now=x,
                least=-20, most=20, said=f"skirt {write_length(self.width_m, units)} wide",
                index=0 if sign < 0 else 1,
            )  # fmt: skip

    def smaller(self) -> Skirt:
        return (
            self.but(clusters=self.clusters - 1) if self.clusters and self.clusters >= 3 else self
        )

    savings: ClassVar[tuple[Saving, ...]] = (Saving(seen=6, words="a smaller skirt", less=smaller),)


def heap_clusters(skirt: Skirt, recipe: Recipe, practice: Practice) -> int:
    """Clusters that fill a skirt's width, depth and height; at least one."""
    balls = heap_balls(
        width_m=skirt.width_m,
        depth_m=skirt.depth_m or 0.0,
        height_m=skirt.height_m or 0.0,
        ball_m=mean_ball_m(recipe.balls),
        packing=practice.heap_packing,
    )
    return max(1, ceil(balls / recipe.ball_count - 1e-9))

"""A line along a wall or a banister, through given points."""

from __future__ import annotations

from functools import cached_property
from itertools import pairwise
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from jobs.design.supports.base import At, Neat, Support
from jobs.design.supports.curves import Curve, polyline, smooth


class WallLine(Support):
    """A line on hooks. The path runs through the points in their order."""

    label: ClassVar[str] = "wall line"
    words: ClassVar[str] = "garland along the wall"
    hung: ClassVar[bool] = True
    hook_gap_m: ClassVar[float | None] = 0.6  # common practice, no source

    kind: Literal["wall-line"] = "wall-line"
    points_m: Annotated[tuple[At, ...], Field(min_length=2, max_length=40)] = Field(
        title="Points", description="Across from the piece’s middle / up: −1 m / 1.8 m; 1 m / 2 m."
    )
    way: Literal["straight", "smoothed"] = Field(default="smoothed", title="Between points")

    @model_validator(mode="after")
    def points_differ(self) -> Self:
        if any(abs(a[0] - b[0]) + abs(a[1] - b[1]) < 0.01 for a, b in pairwise(self.points_m)):
            raise ValueError("points at least 1 cm from one to the next")
        return self

    @classmethod
    def begin(cls, free_m: float, neat: Neat) -> Self:
        high = neat(min(2.0, free_m))
        corners = (
            (-neat(1.4), neat(0.5 * high)),
            (-neat(0.5), high),
            (neat(0.6), neat(0.8 * high)),
            (neat(1.4), high),
        )
        return cls(points_m=corners, tube_m=0.005)

    @cached_property
    def path(self) -> Curve:
        return polyline(self.points_m) if self.way == "straight" else smooth(self.points_m)

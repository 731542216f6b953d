"""A free garland on a drawn curve: cubic Béziers end to end."""

from __future__ import annotations

from functools import cached_property
from itertools import pairwise
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from jobs.design.supports.base import At, Neat, Support
from jobs.design.supports.curves import Bezier, Chain, Curve


class DrawnCurve(Support):
    """A garland on hooks along a curve as it was drawn. The path runs the way it was drawn."""

    label: ClassVar[str] = "drawn curve"
    words: ClassVar[str] = "free-flowing garland"
    hung: ClassVar[bool] = True
    hook_gap_m: ClassVar[float | None] = 0.6  # common practice, no source

    kind: Literal["drawn-curve"] = "drawn-curve"
    points_m: Annotated[tuple[At, ...], Field(min_length=4, max_length=61)] = Field(
        title="Points",
        description="Start; then for each bend two points that pull the curve and the point where it ends.",
    )

    @model_validator(mode="after")
    def bends_are_whole(self) -> Self:
        if len(self.points_m) % 3 != 1:
            raise ValueError("4, 7, 10 … points: a start and three for each bend")
        if any(abs(a[0] - b[0]) + abs(a[1] - b[1]) < 0.01 for a, b in pairwise(self.points_m[::3])):
            raise ValueError("bends that end at least 1 cm from where they begin")
        return self

    @classmethod
    def begin(cls, free_m: float, neat: Neat) -> Self:
        high = neat(min(2.0, free_m))
        mid, low = neat(0.7 * high), neat(0.25 * high)
        pulls = ((-neat(1.3), low), (-neat(1.2), high), (-neat(0.4), high), (0.0, mid))
        more = ((neat(0.4), neat(0.4 * high)), (neat(1.0), mid), (neat(1.3), high))
        return cls(points_m=(*pulls, *more), tube_m=0.005)

    @cached_property
    def path(self) -> Curve:
        p = self.points_m
        return Chain(tuple(Bezier(*p[i : i + 4]) for i in range(0, len(p) - 1, 3)))

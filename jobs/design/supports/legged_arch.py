"""A half circle on two straight legs."""

from __future__ import annotations

from functools import cached_property
from math import pi
from typing import ClassVar, Literal, Self

from pydantic import Field

from jobs.design.supports.base import Neat, Size, Support
from jobs.design.supports.curves import Arc, Chain, Curve, Line
from pricing.core.supply_keys import SupplyKey


class LeggedArch(Support):
    """A half circle of tube on legs. The path starts at the left foot."""

    label: ClassVar[str] = "arch on legs"
    words: ClassVar[str] = "arch"
    kit_key: ClassVar[SupplyKey | None] = SupplyKey("frame", "arch")

    kind: Literal["legged-arch"] = "legged-arch"
    span_m: Size = Field(title="Span", description="Leg to leg.")
    leg_m: Size = Field(title="Legs", description="Floor to where the half circle begins.")

    @classmethod
    def begin(cls, free_m: float, neat: Neat) -> Self:
        span = neat(min(2.0, free_m))
        return cls(span_m=span, leg_m=neat(max(min(1.2, free_m - span / 2), 0.2)), part_count=4)

    @property
    def sizes_m(self) -> tuple[float, ...]:
        return (self.span_m, self.top_m)

    @cached_property
    def path(self) -> Curve:
        half, leg = self.span_m / 2, self.leg_m
        return Chain(
            (
                Line((-half, 0.0), (-half, leg)),
                Arc((0.0, leg), half, pi, -pi),
                Line((half, leg), (half, 0.0)),
            )
        )

"""A circular arch standing on the floor: less or more than half a circle."""

from __future__ import annotations

from functools import cached_property
from typing import ClassVar, Literal, Self

from pydantic import Field

from jobs.design.supports.base import Neat, Size, Support
from jobs.design.supports.curves import Curve, arc_over
from pricing.core.supply_keys import SupplyKey


class CircleArch(Support):
    """Part of a circle of tube. The path starts at the left foot."""

    label: ClassVar[str] = "circular arch"
    words: ClassVar[str] = "arch"
    kit_key: ClassVar[SupplyKey | None] = SupplyKey("frame", "arch")

    kind: Literal["circle-arch"] = "circle-arch"
    span_m: Size = Field(title="Span", description="Foot to foot.")
    rise_m: Size = Field(
        title="Rise", description="Floor to the top; above half the span it bulges past its feet."
    )

    @classmethod
    def begin(cls, free_m: float, neat: Neat) -> Self:
        return cls(span_m=neat(2.0), rise_m=neat(min(2.0, free_m)), part_count=5)

    @property
    def sizes_m(self) -> tuple[float, ...]:
        return (self.span_m, self.top_m)

    @cached_property
    def path(self) -> Curve:
        return arc_over(self.span_m, self.rise_m)

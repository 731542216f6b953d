"""A half-ellipse arch standing on the floor."""

from __future__ import annotations

from functools import cached_property
from typing import ClassVar, Literal, Self

from pydantic import Field

from jobs.design.supports.base import Neat, Size, Support
from jobs.design.supports.curves import Curve, HalfEllipse
from pricing.core.supply_keys import SupplyKey


class EllipseArch(Support):
    """Half an ellipse of tube. The path starts at the left foot."""

    label: ClassVar[str] = "half-ellipse arch"
    words: ClassVar[str] = "arch"
    kit_key: ClassVar[SupplyKey | None] = SupplyKey("frame", "arch")

    kind: Literal["ellipse-arch"] = "ellipse-arch"
    span_m: Size = Field(title="Span", description="Foot to foot.")
    rise_m: Size = Field(title="Rise", description="Floor to the top of the curve.")

    @classmethod
    def begin(cls, free_m: float, neat: Neat) -> Self:
        return cls(span_m=neat(2.6), rise_m=neat(min(2.2, free_m)), part_count=5)

    @property
    def sizes_m(self) -> tuple[float, ...]:
        return (self.span_m, self.top_m)

    @cached_property
    def path(self) -> Curve:
        return HalfEllipse(self.span_m / 2, self.rise_m)

"""A column: layers of balloons round a pole on a base plate, with or without a topper."""

from __future__ import annotations

from functools import cached_property
from math import pi
from typing import ClassVar, Literal, Self

from pydantic import Field

from jobs.design.supports.base import STEEL_KG_M3, FramePart, Neat, Size, Support
from jobs.design.supports.curves import Curve, Line
from pricing.core.supply_keys import SupplyKey

PLATE_M = 0.006  # thickness of a base plate (common practice, no source)


class Column(Support):
    """A pole. The path starts on the floor and goes up; heights on the left and on the right are one."""

    label: ClassVar[str] = "column"
    words: ClassVar[str] = "column"
    kit_key: ClassVar[SupplyKey | None] = SupplyKey("frame", "column")
    topped: ClassVar[bool] = True

    kind: Literal["column"] = "column"
    height_m: Size = Field(title="Height", description="Of the pole; a topper stands on it.")
    base_m: Size = Field(default=0.35, title="Base plate", description="Across.")

    @classmethod
    def begin(cls, free_m: float, neat: Neat) -> Self:
        return cls(height_m=neat(min(1.6, free_m)), base_m=neat(0.36), part_count=2)

    @cached_property
    def path(self) -> Curve:
        return Line((0.0, 0.0), (0.0, self.height_m))

    @property
    def plate_kg(self) -> float:
        """A round steel plate."""
        return pi * (self.base_m / 2) ** 2 * PLATE_M * STEEL_KG_M3

    @property
    def mass_kg(self) -> float:
        """As weighed, or pole and plate of steel."""
        return self.weight_kg or super().mass_kg + self.plate_kg

    def frame_parts(self) -> tuple[FramePart, ...]:
        pole = super().frame_parts()[0]
        return (
            FramePart(
                name="pole section" if self.part_count > 1 else "pole",
                length_m=pole.length_m, width_m=pole.width_m, thickness_m=self.tube_m,
                count=self.part_count,
                mass_kg=max(self.mass_kg - self.plate_kg, 0.0) / self.part_count,
            ),
            FramePart(
                name="base plate", length_m=self.base_m, width_m=self.base_m, thickness_m=PLATE_M,
                mass_kg=self.plate_kg,
            ),
        )  # fmt: skip

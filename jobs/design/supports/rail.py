"""A straight rail on two uprights: a table edge, a fence, a stair rail made level."""

from __future__ import annotations

from functools import cached_property
from typing import ClassVar, Literal, Self

from pydantic import Field

from jobs.design.supports.base import FramePart, Neat, NoSuchPlace, Side, Size, Support
from jobs.design.supports.curves import Curve, Line
from pricing.core.supply_keys import SupplyKey


class Rail(Support):
    """A level tube. The path runs from left to right."""

    label: ClassVar[str] = "rail"
    words: ClassVar[str] = "rail"
    kit_key: ClassVar[SupplyKey | None] = SupplyKey("frame", "rail")
    level: ClassVar[bool] = True

    kind: Literal["rail"] = "rail"
    run_m: Size = Field(title="Length")
    height_m: Size = Field(title="Height above the floor")

    @classmethod
    def begin(cls, free_m: float, neat: Neat) -> Self:
        return cls(run_m=neat(3.05), height_m=neat(min(0.92, free_m / 2)), part_count=2)

    @cached_property
    def path(self) -> Curve:
        return Line((-self.run_m / 2, self.height_m), (self.run_m / 2, self.height_m))

    def s_at_height(self, height_m: float, side: Side) -> float:
        raise NoSuchPlace("a rail is level: expected a length along it or a share, got a height")

    @property
    def tube_length_m(self) -> float:
        return self.run_m + 2 * self.height_m

    @property
    def feet_x_m(self) -> tuple[float, ...]:
        return (-self.run_m / 2, self.run_m / 2)

    def frame_parts(self) -> tuple[FramePart, ...]:
        tube, a_metre = self.tube_m, self.mass_kg / self.tube_length_m
        section = self.run_m / self.part_count
        return (
            FramePart(
                name="rail section", length_m=section, width_m=tube, thickness_m=tube,
                count=self.part_count, mass_kg=section * a_metre,
            ),
            FramePart(
                name="upright", length_m=self.height_m, width_m=tube, thickness_m=tube,
                count=2, mass_kg=self.height_m * a_metre,
            ),
        )  # fmt: skip

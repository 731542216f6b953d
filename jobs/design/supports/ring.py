"""A ring-shaped frame standing on the floor or on a base."""

from __future__ import annotations

from functools import cached_property
from math import cos, pi, sin
from typing import ClassVar, Literal, Self

from pydantic import Field

from jobs.design.supports.base import FramePart, Height, Neat, Size, Support
from jobs.design.supports.curves import Arc, Curve
from pricing.core.supply_keys import SupplyKey


class Ring(Support):
    """A circle of tube. The path starts at its lowest point and goes up the left side."""

    label: ClassVar[str] = "ring"
    words: ClassVar[str] = "ring-shaped frame"
    kit_key: ClassVar[SupplyKey | None] = SupplyKey("frame", "ring")
    closed: ClassVar[bool] = True

    kind: Literal["ring"] = "ring"
    diameter_m: Size = Field(title="Across", description="Between the tube’s centre lines.")
    foot_m: Height = Field(
        default=0.0, title="Foot above the floor", description="Lowest point of the ring."
    )

    @classmethod
    def begin(cls, free_m: float, neat: Neat) -> Self:
        return cls(diameter_m=neat(min(2.0, 0.9 * free_m)), part_count=4)

    @property
    def sizes_m(self) -> tuple[float, ...]:
        return (self.diameter_m,)

    @cached_property
    def path(self) -> Curve:
        radius = self.diameter_m / 2
        return Arc((0.0, self.foot_m + radius), radius, -pi / 2, -2 * pi)

    def frame_parts(self) -> tuple[FramePart, ...]:
        """Equal arcs; an arc of angle a ≤ π is as wide as its sagitta R(1 − cos(a/2))."""
        tube, radius = self.tube_m, self.diameter_m / 2
        whole = self.part_count == 1
        half = pi / self.part_count
        return (
            FramePart(
                name="ring" if whole else "ring section",
                length_m=tube + (self.diameter_m if whole else 2 * radius * sin(half)),
                width_m=tube + (self.diameter_m if whole else radius * (1 - cos(half))),
                thickness_m=tube,
                count=self.part_count,
                mass_kg=self.mass_kg / self.part_count,
            ),
        )

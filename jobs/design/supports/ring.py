"""A ring-shaped frame standing on the floor or on a base."""

from __future__ import annotations

from math import asin, cos, pi, sin
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from jobs.design.supports.base import FramePart, Height, NoSuchPlace, Side, Size, Support


class Ring(Support):
    """A circle of tube. The path starts at its lowest point and goes up the left side."""

    label: ClassVar[str] = "ring"
    closed: ClassVar[bool] = True

    kind: Literal["ring"] = "ring"
    diameter_m: Size = Field(title="Across", description="Between the tube’s centre lines.")
    foot_m: Height = Field(
        default=0.0, title="Foot above the floor", description="Lowest point of the ring."
    )

    @property
    def radius_m(self) -> float:
        return self.diameter_m / 2

    @property
    def length_m(self) -> float:
        """2πR."""
        return pi * self.diameter_m

    def points(self, s_m: NDArray[np.float64]) -> NDArray[np.float64]:
        turn = s_m / self.radius_m
        x = -self.radius_m * np.sin(turn)
        z = self.foot_m + self.radius_m * (1 - np.cos(turn))
        return np.column_stack([x, z])

    def s_at_height(self, height_m: float, side: Side) -> float:
        """s = R(π/2 + asin((h − centre)/R)) on the left, its mirror image on the right."""
        up = (height_m - self.foot_m - self.radius_m) / self.radius_m
        if not -1 <= up <= 1:
            low, high = self.foot_m, self.foot_m + self.diameter_m
            raise NoSuchPlace(
                f"expected a height from {low:.2f} to {high:.2f} m, got {height_m:.2f} m"
            )
        left = self.radius_m * (pi / 2 + asin(up))
        return left if side == "left" else self.length_m - left

    def frame_parts(self) -> tuple[FramePart, ...]:
        """Equal arcs; an arc of angle a ≤ π is as wide as its sagitta R(1 − cos(a/2))."""
        tube = self.tube_m
        outer = self.diameter_m + tube
        if self.part_count == 1:
            return (FramePart(name="ring", length_m=outer, width_m=outer, thickness_m=tube),)
        half = pi / self.part_count
        chord = 2 * self.radius_m * sin(half) + tube
        sagitta = self.radius_m * (1 - cos(half)) + tube
        return (
            FramePart(
                name="ring section",
                length_m=chord,
                width_m=sagitta,
                thickness_m=tube,
                count=self.part_count,
            ),
        )

    @property
    def top_m(self) -> float:
        return self.foot_m + self.diameter_m + self.tube_m / 2

    @property
    def width_m(self) -> float:
        return self.diameter_m + self.tube_m

    @property
    def words(self) -> str:
        return "ring-shaped frame"

    @property
    def kit_key(self) -> str:
        return "frame/ring"

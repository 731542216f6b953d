"""A straight rail on two uprights: a table edge, a fence, a stair rail made level."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from jobs.design.supports.base import FramePart, NoSuchPlace, Side, Size, Support


class Rail(Support):
    """A level tube. The path runs from left to right."""

    label: ClassVar[str] = "rail"
    level: ClassVar[bool] = True

    kind: Literal["rail"] = "rail"
    run_m: Size = Field(title="Length")
    height_m: Size = Field(title="Height above the floor")

    @property
    def length_m(self) -> float:
        return self.run_m

    def points(self, s_m: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack([s_m - self.run_m / 2, np.full_like(s_m, self.height_m)])

    def s_at_height(self, height_m: float, side: Side) -> float:
        raise NoSuchPlace("a rail is level: expected a length along it or a share, got a height")

    def frame_parts(self) -> tuple[FramePart, ...]:
        tube = self.tube_m
        return (
            FramePart(
                name="rail section",
                length_m=self.run_m / self.part_count,
                width_m=tube,
                thickness_m=tube,
                count=self.part_count,
            ),
            FramePart(
                name="upright", length_m=self.height_m, width_m=tube, thickness_m=tube, count=2
            ),
        )

    @property
    def top_m(self) -> float:
        return self.height_m + self.tube_m / 2

    @property
    def width_m(self) -> float:
        return self.run_m + self.tube_m

    @property
    def words(self) -> str:
        return "rail"

    @property
    def kit_key(self) -> str:
        return "frame/rail"

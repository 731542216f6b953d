"""A flat board that stands: square, with rounded corners, or round at the top."""

from __future__ import annotations

from functools import cached_property
from math import pi
from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field, model_validator

from jobs.design.supports.base import FramePart, Height, Neat, Size, Support
from jobs.design.supports.curves import ACROSS, UP, Arc, Chain, Curve, Line
from pricing.core.supply_keys import SupplyKey

BOARD_KG_M2 = 6.0  # plywood of about 10 mm (common practice, no source)

type Shape = Literal["square", "rounded", "round top"]


class Panel(Support):
    """A board whose edge carries the runs. The path starts in the middle below and goes up the left side."""

    label: ClassVar[str] = "panel"
    words: ClassVar[str] = "panel"
    kit_key: ClassVar[SupplyKey | None] = SupplyKey("frame", "panel")
    closed: ClassVar[bool] = True
    filled: ClassVar[bool] = True

    kind: Literal["panel"] = "panel"
    shape: Shape = Field(default="round top", title="Shape")
    board_width_m: Size = Field(title="Width")
    board_height_m: Size = Field(title="Height")
    corner_m: Height = Field(
        default=0.0, title="Corner radius", description="For rounded corners only."
    )
    foot_m: Height = Field(default=0.0, title="Foot above the floor")

    @model_validator(mode="after")
    def corners_fit(self) -> Self:
        width, height = self.board_width_m, self.board_height_m
        if self.shape == "round top" and height <= width / 2 + 1e-9:
            raise ValueError(
                f"a round top on {width:.2f} m is {width / 2:.2f} m high: a height above that"
            )
        if self.shape == "rounded" and not 0 < self.corner_m < min(width, height) / 2:
            raise ValueError(f"a corner radius above 0 and below {min(width, height) / 2:.2f} m")
        return self

    @classmethod
    def begin(cls, free_m: float, neat: Neat) -> Self:
        return cls(
            board_width_m=neat(min(1.2, free_m)),
            board_height_m=neat(min(2.0, free_m)),
            tube_m=neat(0.02) or 0.0127,
        )

    @property
    def sizes_m(self) -> tuple[float, ...]:
        return (self.board_width_m, self.board_height_m)

    @cached_property
    def path(self) -> Curve:
        half, low, top = self.board_width_m / 2, self.foot_m, self.foot_m + self.board_height_m
        if self.shape == "round top":
            side = top - half
            parts: tuple[Curve, ...] = (
                Line((0.0, low), (-half, low)),
                Line((-half, low), (-half, side)),
                Arc((0.0, side), half, pi, -pi),
                Line((half, side), (half, low)),
                Line((half, low), (0.0, low)),
            )
        else:
            parts = tuple(_box(half, low, top, self.corner_m if self.shape == "rounded" else 0.0))
        return Chain(parts)

    @property
    def mass_kg(self) -> float:
        """As weighed, or a plywood board as large as the box round it."""
        return self.weight_kg or BOARD_KG_M2 * self.board_width_m * self.board_height_m

    @property
    def _cut(self) -> int:
        """The axis that cuts step along: a board is cut across its longer side."""
        return UP if self.board_height_m >= self.board_width_m else ACROSS

    def frame_parts(self) -> tuple[FramePart, ...]:
        """Equal boards, cut across the longer side."""
        long, short = sorted((self.board_width_m, self.board_height_m), reverse=True)
        sides = sorted((long / self.part_count, short), reverse=True)
        return (
            FramePart(
                name="panel board" if self.part_count > 1 else "panel",
                length_m=sides[0], width_m=sides[1], thickness_m=self.tube_m,
                count=self.part_count, mass_kg=self.mass_kg / self.part_count,
            ),
        )  # fmt: skip

    @property
    def joints_s_m(self) -> tuple[float, ...]:
        """Both ends of every cut, where it meets the edge."""
        low, high = (corner[self._cut] for corner in self.path.box)
        cuts = np.linspace(low, high, self.part_count + 1)[1:-1]
        return tuple(sorted(s for c in cuts for s in self.path.crossings(float(c), self._cut)))


def _box(half: float, low: float, top: float, corner: float) -> list[Curve]:
    """Sides and corners in order from the middle below, up the left side; a sharp corner has no arc."""
    right, left, c = half, -half, corner
    sides = [
        Line((0.0, low), (left + c, low)),
        Line((left, low + c), (left, top - c)),
        Line((left + c, top), (right - c, top)),
        Line((right, top - c), (right, low + c)),
        Line((right - c, low), (0.0, low)),
    ]
    corners = [
        Arc((left + c, low + c), c, -pi / 2, -pi / 2),
        Arc((left + c, top - c), c, pi, -pi / 2),
        Arc((right - c, top - c), c, pi / 2, -pi / 2),
        Arc((right - c, low + c), c, 0.0, -pi / 2),
    ]
    if not corner:
        return list(sides)
    paired = zip(sides, corners, strict=False)
    return [*(curve for pair in paired for curve in pair), sides[-1]]

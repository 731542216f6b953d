"""An arch of one bent rod, its feet held on the floor."""

from __future__ import annotations

from functools import cached_property
from typing import ClassVar, Literal, Self

from pydantic import Field

from jobs.design.supports.base import FramePart, Neat, Size, Support
from jobs.design.supports.curves import Catenary, Curve
from pricing.core.supply_keys import SupplyKey


class RodArch(Support):
    """A rod bent between two feet, taken as a catenary turned upside down. The path starts at the left foot."""

    label: ClassVar[str] = "bent-rod arch"
    words: ClassVar[str] = "arch"
    kit_key: ClassVar[SupplyKey | None] = SupplyKey("frame", "bent rod")

    kind: Literal["rod-arch"] = "rod-arch"
    span_m: Size = Field(title="Span", description="Foot to foot.")
    rise_m: Size = Field(title="Rise", description="Floor to the top of the bend.")

    @classmethod
    def begin(cls, free_m: float, neat: Neat) -> Self:
        return cls(span_m=neat(2.4), rise_m=neat(min(2.2, free_m)), tube_m=neat(0.02) or 0.0127)

    @cached_property
    def path(self) -> Curve:
        return Catenary(self.span_m, -self.rise_m, 0.0)

    def frame_parts(self) -> tuple[FramePart, ...]:
        """It is carried straight and bent in its place."""
        return (
            FramePart(
                name="rod" if self.part_count == 1 else "rod section",
                length_m=self.length_m / self.part_count, width_m=self.tube_m, thickness_m=self.tube_m,
                count=self.part_count, mass_kg=self.mass_kg / self.part_count,
            ),
        )  # fmt: skip

"""What every support is: a fixed, validated description that is also its own path.

A path is measured by s, metres along the tube's centre line from its start. x runs to the right
as seen from the front, from the piece's own centre line; z is height above the floor.
"""

from __future__ import annotations

from abc import abstractmethod
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, Field

type Side = Literal["left", "right"]
Size = Annotated[
    float, Field(gt=0, le=60, allow_inf_nan=False)
]  # metres, something that has extent
Height = Annotated[float, Field(ge=0, le=60, allow_inf_nan=False)]  # metres above the floor


class Frozen(BaseModel):
    """A value of the design document: fixed, nothing unknown, no NaN."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class FramePart:
    """One part that the support comes apart into, as it is carried."""

    name: str
    length_m: float  # longest side of the box round it
    width_m: float  # narrowest width of its outline in its own plane
    thickness_m: float  # across that plane
    count: int = 1


class NoSuchPlace(ValueError):
    """A place that this support does not have: the sentence says what was expected and what came."""


class Support(Frozen):
    """Base of all supports. A kind adds its fields, its label and the methods below."""

    label: ClassVar[str]  # the trade's word, shown on screen
    closed: ClassVar[bool] = False  # a closed path comes back to its start
    level: ClassVar[bool] = False  # lies level on uprights: it has no height on one side
    tube_m: Size = Field(default=0.025, title="Tube", description="Outer diameter.")
    part_count: int = Field(
        default=1,
        ge=1,
        le=40,
        title="Comes apart into",
        description="Equal parts; each joint is taped.",
    )

    @property
    @abstractmethod
    def length_m(self) -> float:
        """Exact length of the path."""

    @abstractmethod
    def points(self, s_m: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points (x, z) in metres, shape (n, 2), at lengths s, shape (n,)."""

    @abstractmethod
    def s_at_height(self, height_m: float, side: Side) -> float:
        """Where along the path the tube stands this high on that side. Raises NoSuchPlace."""

    @abstractmethod
    def frame_parts(self) -> tuple[FramePart, ...]:
        """What it comes apart into."""

    @property
    def joints_s_m(self) -> tuple[float, ...]:
        """Where parts meet along the path (each is taped)."""
        step = self.length_m / self.part_count
        if self.closed:
            return tuple(i * step for i in range(self.part_count)) if self.part_count > 1 else ()
        return tuple(i * step for i in range(1, self.part_count))

    @property
    @abstractmethod
    def top_m(self) -> float:
        """Highest point of the tube's outer skin above the floor."""

    @property
    @abstractmethod
    def width_m(self) -> float:
        """Width that the frame itself takes along the wall."""

    @property
    @abstractmethod
    def words(self) -> str:
        """What it is in a client's words, without sizes: "ring-shaped frame"."""

    @property
    @abstractmethod
    def kit_key(self) -> str:
        """Key of the frame in the price book, e.g. "frame/ring"."""

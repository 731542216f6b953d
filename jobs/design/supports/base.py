"""What every support is: a fixed, validated description that is also its own path.

A path is measured by s, metres along the tube's centre line from its start. x runs to the right
as seen from the front, from the piece's own centre line; z is height above the floor.
"""

from __future__ import annotations

from abc import abstractmethod
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import pi
from typing import Annotated, Any, ClassVar, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, Field

from jobs.design.supports.curves import ACROSS, UP, Curve
from pricing.core.supply_keys import SupplyKey

type Side = Literal["left", "right"]
# Metres, something that has extent: at least a millimetre, so that no formula meets a number near nothing.
Size = Annotated[float, Field(ge=0.001, le=60, allow_inf_nan=False)]
Height = Annotated[float, Field(ge=0, le=60, allow_inf_nan=False)]  # metres above the floor
Across = Annotated[float, Field(ge=-60, le=60, allow_inf_nan=False)]  # metres, right positive
At = tuple[Across, Height]

# A frame's tube where nobody has weighed it: mild steel, 7850 kg/m³ (EN 1991-1-1 table A.4, from memory),
# with a wall of 1.2 mm (common practice, no source).
STEEL_KG_M3, WALL_M = 7850.0, 0.0012


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
    mass_kg: float = 0.0  # of one


class NoSuchPlace(ValueError):
    """A place that this support does not have: the sentence says what was expected and what came."""


type Neat = Any  # Callable[[float], float]; pydantic must not read it as a field type


class Support(Frozen):
    """Base of all supports. A kind adds its fields, its words, its path and a first sketch of itself."""

    kind: str  # each kind narrows it to its own word
    label: ClassVar[str]  # the trade's word, shown on screen
    words: ClassVar[str]  # what it is in a client's words, without sizes: "ring-shaped frame"
    kit_key: ClassVar[SupplyKey | None] = None  # the frame in the price book; None: none to hire
    closed: ClassVar[bool] = False  # a closed path comes back to its start
    level: ClassVar[bool] = False  # lies level on uprights: it has no height on one side
    hung: ClassVar[bool] = False  # hangs on hooks by a line: it has no tube, no feet, no parts
    filled: ClassVar[bool] = False  # a board, not a bare tube
    topped: ClassVar[bool] = False  # ends in the air and can carry a topper
    hook_gap_m: ClassVar[float | None] = None  # between hooks; None: at both ends only
    tube_m: Size = Field(default=0.025, title="Tube", description="Outer diameter.")
    part_count: int = Field(
        default=1, ge=1, le=40, title="Comes apart into", description="Equal parts; each joint is taped."
    )  # fmt: skip
    weight_kg: Annotated[float, Field(gt=0, le=2000)] | None = Field(
        default=None, title="Weighs, kg", description="Empty: taken as steel tube."
    )

    @classmethod
    @abstractmethod
    def begin(cls, free_m: float, neat: Neat) -> Self:
        """A first sketch of one in a room with so much free height; `neat` rounds down to a tape's marks."""

    @cached_property
    @abstractmethod
    def path(self) -> Curve:
        """The tube's centre line."""

    @property
    def sizes_m(self) -> tuple[float, ...]:
        """Lengths by which a frame of one size is known; empty where it is put together to any size."""
        return ()

    def but(self, **changes: Any) -> Self:
        """The same with other values, checked anew and with nothing remembered."""
        return type(self).model_validate({**self.model_dump(), **changes})

    @property
    def length_m(self) -> float:
        """Exact length of the path."""
        return self.path.length_m

    def points(self, s_m: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points (x, z) in metres, shape (n, 2), at lengths s, shape (n,)."""
        return self.path.points(s_m)

    def directions(self, s_m: NDArray[np.float64]) -> NDArray[np.float64]:
        """Unit tangents (x, z), shape (n, 2)."""
        return self.path.directions(s_m)

    def s_at_height(self, height_m: float, side: Side) -> float:
        """Where the tube stands this high, farthest out on that side. Raises NoSuchPlace."""
        found = self.path.crossings(height_m)
        if not found:
            (_, low), (_, high) = self.path.box
            raise NoSuchPlace(
                f"expected a height from {low:.2f} to {high:.2f} m, got {height_m:.2f} m"
            )
        x = self.points(np.array(found))[:, ACROSS]
        return found[int(x.argmin() if side == "left" else x.argmax())]

    def frame_parts(self) -> tuple[FramePart, ...]:
        """What it comes apart into: equal lengths of tube, the largest chord and width deciding."""
        if self.hung:
            return ()
        cuts = np.linspace(0, self.length_m, self.part_count + 1)
        boxes = [box(self.points(np.linspace(a, b, 65))) for a, b in pairwise(cuts.tolist())]
        return (
            FramePart(
                name=f"{self.label} section" if self.part_count > 1 else self.label,
                length_m=max(b[0] for b in boxes) + self.tube_m,
                width_m=max(b[1] for b in boxes) + self.tube_m,
                thickness_m=self.tube_m,
                count=self.part_count,
                mass_kg=self.mass_kg / self.part_count,
            ),
        )

    @property
    def joints_s_m(self) -> tuple[float, ...]:
        """Where parts meet along the path (each is taped)."""
        if self.hung or self.part_count == 1:
            return ()
        step = self.length_m / self.part_count
        return tuple(i * step for i in range(0 if self.closed else 1, self.part_count))

    @property
    def tube_length_m(self) -> float:
        """All the tube there is in it."""
        return 0.0 if self.hung else self.length_m

    @property
    def mass_kg(self) -> float:
        """As weighed, or π(D − t)t·ρ for each metre of steel tube."""
        wall = min(WALL_M, self.tube_m / 2)
        return self.weight_kg or self.tube_length_m * pi * (self.tube_m - wall) * wall * STEEL_KG_M3

    @property
    def feet_x_m(self) -> tuple[float, ...]:
        """Where it stands on the floor; nothing for what hangs."""
        if self.hung:
            return ()
        s = np.linspace(0, self.length_m, 97)
        at = self.points(s)
        low = at[at[:, UP] < at[:, UP].min() + 0.02][:, ACROSS]
        ends = (float(low.min()), float(low.max()))
        return ends if ends[1] - ends[0] > 0.01 else ends[:1]

    @property
    def hooks_s_m(self) -> tuple[float, ...]:
        """Where hooks hold what hangs."""
        if not self.hung:
            return ()
        gaps = (
            1
            if self.hook_gap_m is None
            else max(1, int(np.ceil(self.length_m / self.hook_gap_m - 1e-9)))
        )
        return tuple(float(s) for s in np.linspace(0, self.length_m, gaps + 1))

    @property
    def top_m(self) -> float:
        """Highest point of the tube's outer skin above the floor."""
        return self.path.box[1][UP] + self.tube_m / 2

    @property
    def width_m(self) -> float:
        """Width that the frame itself takes along the wall."""
        return self.right_m - self.left_m

    @property
    def left_m(self) -> float:
        return self.path.box[0][ACROSS] - self.tube_m / 2

    @property
    def right_m(self) -> float:
        return self.path.box[1][ACROSS] + self.tube_m / 2


def box(points: NDArray[np.float64]) -> tuple[float, float]:
    """Longest and narrowest side of the narrowest box round points, turned every degree."""
    turn = np.radians(np.arange(180))
    shadows = points @ np.vstack([np.cos(turn), np.sin(turn)])
    widths = np.ptp(shadows, axis=0)
    narrow = int(widths.argmin())
    return float(widths[(narrow + 90) % 180]), float(widths[narrow])

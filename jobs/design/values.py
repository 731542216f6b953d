"""The small types of the design document, each with its bounds. All lengths in metres."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from jobs.design.supports.base import Frozen, Height, Side, Size

type Finish = Literal["matt", "pearl", "metallic", "clear", "printed"]
type Grade = Literal["professional", "party"]
type Hold = Literal["slipped", "locked", "tied"]
type Thick = Literal["at the start", "in the middle", "at the end"]
type Lies = Literal["all round", "in front"]
type Fixed = Literal["tie", "dot"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """How a form asks for a value, where its type does not say so. The document itself does not mind."""

    written: Literal["", "number", "percent", "colour code"] = ""
    suggestions: str = ""  # id of the list on the page that it may be chosen from
    folded: bool = False  # stands under "More"


FOLDED = Typed(folded=True)
PERCENT = Typed(written="percent")

Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=60)]
ShadeName = Annotated[Name, Typed(suggestions="shades")]
RecipeName = Annotated[Name, Typed(suggestions="clusters")]
Nominal = Annotated[
    str, StringConstraints(pattern=r"^[1-9][0-9]{0,2} (in|cm)$"), Typed(suggestions="sizes")
]
Hex = Annotated[str, StringConstraints(pattern=r"^#[0-9a-f]{6}$"), Typed(written="colour code")]
Some = Annotated[int, Field(ge=1, le=5000)]
Pitch = Annotated[float, Field(ge=0.01, le=60, allow_inf_nan=False)]  # metres along for one turn
PerMetre = Annotated[float, Field(gt=0, le=100), Typed(written="number")]  # no length
Loops = Annotated[int, Field(ge=1, le=40)]
Width = Annotated[int, Field(ge=1, le=200)]  # of ribbon, mm
Weight = Annotated[int, Field(ge=0, le=1000)]
Weights = dict[Name, Weight]


class Colour(Frozen):
    """One colour of the palette and its share."""

    name: ShadeName = Field(title="Colour")
    hex: Hex = Field(title="Looks like", examples=["#e8dcc8"])
    finish: Finish = Field(default="matt", title="Finish")
    weight: Weight = Field(default=1, title="Share")
    grade: Grade = Field(default="professional", title="Grade")


class Balls(Frozen):
    """Equal balls in a cluster: how many, of which nominal size, blown to which diameter."""

    count: Annotated[int, Field(ge=1, le=12)] = Field(title="Balloons", examples=[4])
    size: Nominal = Field(title="Size", examples=["11 in"])
    blown_m: Size = Field(title="Blown to")


class Recipe(Frozen):
    """What a cluster is made of. 1 to 12 balls in all."""

    name: Name = Field(title="Cluster")
    balls: Annotated[tuple[Balls, ...], Field(min_length=1, max_length=6)]

    @property
    def ball_count(self) -> int:
        return sum(b.count for b in self.balls)


class Place(Frozen):
    """A place on a support: exactly one of a length from its start, a share of it, a height on one side."""

    length_m: Height | None = None
    share: Annotated[float, Field(ge=0, le=1)] | None = None
    height_m: Height | None = None
    side: Side | None = None


def nominal_m(size: str) -> float:
    """Nominal diameter of a size name in metres.

    >>> nominal_m("11 in"), nominal_m("30 cm")
    (0.2794, 0.3)
    """
    number, unit = re.split(r" ", size)
    return round(int(number) * (0.0254 if unit == "in" else 0.01), 6)


def finished_range_m(size: str) -> tuple[float, float]:
    """Usual finished diameters of a nominal size: from half of it, below which it is slack, to all of it.

    Common practice, no source.

    >>> finished_range_m("36 in")
    (0.4572, 0.9144)
    """
    most = nominal_m(size)
    return 0.5 * most, most

"""The design document: what a studio decided to build, as versioned JSON. All lengths in metres."""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from jobs.design.supports import AnySupport
from jobs.design.supports.base import Frozen, Height, Side, Size

FORMAT = "archwright-design"
VERSION = 1

type Finish = Literal["matt", "pearl", "metallic", "clear", "printed"]
type Hold = Literal["slipped", "locked", "tied"]
Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=60)]
Nominal = Annotated[str, StringConstraints(pattern=r"^[1-9][0-9]{0,2} (in|cm)$")]
Hex = Annotated[str, StringConstraints(pattern=r"^#[0-9a-f]{6}$")]
Some = Annotated[int, Field(ge=1, le=5000)]
Weight = Annotated[int, Field(ge=0, le=1000)]
Weights = dict[Name, Weight]


class Colour(Frozen):
    """One colour of the palette and its share."""

    name: Name
    hex: Hex
    finish: Finish = "matt"
    weight: Weight = 1


class Balls(Frozen):
    """Equal balls in a cluster: how many, of which nominal size, blown to which diameter."""

    count: Annotated[int, Field(ge=1, le=12)]
    size: Nominal
    blown_m: Size


class Recipe(Frozen):
    """What a cluster is made of. 1 to 12 balls in all."""

    name: Name
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


class Run(Frozen):
    """A stretch of clusters. The pattern of recipe names repeats from start to end.

    On a closed support a run goes the way of the path and may pass its start.
    """

    start: Place
    end: Place
    pattern: Annotated[tuple[Name, ...], Field(min_length=1, max_length=12)]
    hold: Hold = "locked"
    # Other shares of the palette for this run; empty: the palette's own.
    weights: Weights = Field(default_factory=dict)


class Skirt(Frozen):
    """Clusters spilling on the floor at the foot, spread evenly over a width about a centre."""

    clusters: Some
    recipe: Name
    centre_m: Annotated[float, Field(ge=-60, le=60)] = 0.0  # from the piece's centre line
    width_m: Size = 1.0
    weights: Weights = Field(default_factory=dict)


class Accents(Frozen):
    """Minis set along the runs: each two quads of small balls on half a tie."""

    count: Some
    size: Nominal = "5 in"
    blown_m: Size = 0.11
    weights: Weights = Field(default_factory=dict)


class Features(Frozen):
    """Loose large balls set along the runs, each on half a tie."""

    count: Some
    size: Nominal
    blown_m: Size
    weights: Weights = Field(default_factory=dict)


class Greenery(Frozen):
    """Strands wrapped round a stretch of the support, side by side, lengths meeting with an overlap."""

    start: Place
    end: Place
    plant: Name = "mixed leaf"
    strand_m: Size = 2.0  # length of one strand as bought
    side_by_side: Annotated[int, Field(ge=1, le=12)] = 2
    wrap_pitch_m: Size | None = None  # one turn per this length; None: laid straight
    overlap_m: Height = 0.05
    fastener_gap_m: Size = 1.0  # at both ends of each length and no farther apart than this


class Tails(Frozen):
    """Hanging ribbon."""

    count: Some
    length_m: Size
    width_mm: Annotated[int, Field(ge=1, le=200)] = 10
    colour: Name = "ivory"


class Piece(Frozen):
    """One thing that stands in the room."""

    name: Name
    at_m: Annotated[float, Field(ge=-60, le=60)] = (
        0.0  # its centre line from the middle of the wall
    )
    support: Annotated[AnySupport, Field(discriminator="kind")]
    runs: Annotated[tuple[Run, ...], Field(max_length=20)] = ()
    skirt: Skirt | None = None
    accents: Accents | None = None
    features: Features | None = None
    greenery: Annotated[tuple[Greenery, ...], Field(max_length=10)] = ()
    tails: Tails | None = None


class Room(Frozen):
    """What the piece must fit. None: not known, so not checked (and told as a finding)."""

    ceiling_m: Size | None = None
    outdoors: bool = False
    door_width_m: Size | None = None
    door_height_m: Size | None = None
    floor: Annotated[str, StringConstraints(max_length=120)] = ""


class Design(Frozen):
    """The whole document."""

    format: Literal["archwright-design"] = "archwright-design"
    version: Literal[1] = 1
    title: Annotated[str, StringConstraints(strip_whitespace=True, max_length=120)] = ""
    seed: Annotated[int, Field(ge=0, le=2**31 - 1)] = 1
    room: Room = Room()
    palette: Annotated[tuple[Colour, ...], Field(min_length=1, max_length=24)]
    recipes: Annotated[tuple[Recipe, ...], Field(min_length=1, max_length=24)]
    pieces: Annotated[tuple[Piece, ...], Field(min_length=1, max_length=20)]


def nominal_m(size: str) -> float:
    """Nominal diameter of a size name in metres.

    >>> nominal_m("11 in"), nominal_m("30 cm")
    (0.2794, 0.3)
    """
    number, unit = re.split(r" ", size)
    return round(int(number) * (0.0254 if unit == "in" else 0.01), 6)

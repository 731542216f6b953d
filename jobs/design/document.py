"""The design document: what a studio decided to build, as versioned JSON. All lengths in metres."""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from jobs.design.supports import AnySupport
from jobs.design.supports.base import Across, Frozen, Height, Side, Size

FORMAT = "archwright-design"
VERSION = 2

type Finish = Literal["matt", "pearl", "metallic", "clear", "printed"]
type Grade = Literal["professional", "party"]
type Hold = Literal["slipped", "locked", "tied"]
type Thick = Literal["at the start", "in the middle", "at the end"]
type Lies = Literal["all round", "in front"]
type Fixed = Literal["tie", "dot"]
Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=60)]
Nominal = Annotated[str, StringConstraints(pattern=r"^[1-9][0-9]{0,2} (in|cm)$")]
Hex = Annotated[str, StringConstraints(pattern=r"^#[0-9a-f]{6}$")]
Some = Annotated[int, Field(ge=1, le=5000)]
Pitch = Annotated[float, Field(ge=0.01, le=60, allow_inf_nan=False)]  # metres along for one turn
PerMetre = Annotated[float, Field(gt=0, le=100)]
Loops = Annotated[int, Field(ge=1, le=40)]
Width = Annotated[int, Field(ge=1, le=200)]  # of ribbon, mm
Weight = Annotated[int, Field(ge=0, le=1000)]
Weights = dict[Name, Weight]


class Colour(Frozen):
    """One colour of the palette and its share."""

    name: Name
    hex: Hex
    finish: Finish = "matt"
    weight: Weight = 1
    grade: Grade = "professional"


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


class Feature(Frozen):
    """Clusters of another recipe that stand in for some of a run's: one every so many, or nearest to places."""

    recipe: Name
    every: Annotated[int, Field(ge=2, le=200)] | None = None
    at: Annotated[tuple[Place, ...], Field(max_length=40)] = ()


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
    clusters: Some | None = None  # None: as many as the length takes
    fullness: Annotated[float, Field(ge=0.3, le=2)] = 1.0  # above 1: closer than usual
    taper: Annotated[float, Field(ge=0.2, le=1)] = 1.0  # ball size at the thin end; 1: none
    thick: Thick = "at the start"
    lies: Lies = "all round"
    features: Annotated[tuple[Feature, ...], Field(max_length=6)] = ()


class Skirt(Frozen):
    """Clusters spilling on the floor at the foot, spread evenly over a width about a centre.

    As many as `clusters` says, or as fill a heap of that width, depth and height.
    """

    clusters: Some | None = None
    recipe: Name
    centre_m: Across = 0.0  # from the piece's centre line
    width_m: Size = 1.0
    depth_m: Size | None = None
    height_m: Size | None = None
    weights: Weights = Field(default_factory=dict)


class Accents(Frozen):
    """Minis set along the runs: each two quads of small balls, on half a tie or on dots of glue."""

    count: Some | None = None
    per_m: PerMetre | None = None  # for each metre of run
    size: Nominal = "5 in"
    blown_m: Size = 0.11
    fixed: Fixed = "tie"
    weights: Weights = Field(default_factory=dict)


class Features(Frozen):
    """Loose large balls set along the runs; the first of them at places, where some are given."""

    count: Some
    size: Nominal
    blown_m: Size
    fixed: Fixed = "tie"
    at: Annotated[tuple[Place, ...], Field(max_length=200)] = ()
    weights: Weights = Field(default_factory=dict)


class Topper(Frozen):
    """One ball on top of a column."""

    size: Nominal
    blown_m: Size
    weights: Weights = Field(default_factory=dict)


class Floaters(Frozen):
    """Single balls over the floor, on gas with a ribbon to a weight, or on sticks."""

    count: Some
    size: Nominal = "11 in"
    blown_m: Size = 0.27
    on: Literal["helium", "stick"] = "helium"
    height_m: Size = 1.8  # floor to the neck: the length of ribbon or stick
    per_weight: Annotated[int, Field(ge=1, le=50)] = 3  # floaters on one weight
    width_mm: Width = 5  # of the ribbon
    colour: Name = "ivory"  # of the ribbon
    centre_m: Across = 0.0
    spread_m: Size = 1.0  # width of floor that they stand over
    weights: Weights = Field(default_factory=dict)


class Greenery(Frozen):
    """Strands wrapped round a stretch of the support, side by side, lengths meeting with an overlap."""

    start: Place
    end: Place
    plant: Name = "mixed leaf"
    strand_m: Size = 2.0  # length of one strand as bought
    side_by_side: Annotated[int, Field(ge=1, le=12)] = (
        2  # wrapped in turn to the left and to the right
    )
    wrap_pitch_m: Pitch | None = None  # one turn per this length; None: laid straight
    overlap_m: Height = 0.05
    tuck_m: Height = 0.0  # tucked in at each of the two ends
    fastener_gap_m: Size = 1.0  # at both ends of each length and no farther apart than this


class Stems(Frozen):
    """Single stems tucked between the balloons of the runs."""

    count: Some | None = None
    per_m: PerMetre | None = None
    plant: Name = "mixed leaf"


class Tails(Frozen):
    """Hanging ribbon."""

    count: Some
    length_m: Size
    width_mm: Width = 10
    colour: Name = "ivory"


class Wrap(Frozen):
    """Ribbon wound round a stretch of bare tube."""

    start: Place
    end: Place
    pitch_m: Pitch = 0.1  # one turn per this length
    width_mm: Width = 25
    colour: Name = "ivory"


class Bows(Frozen):
    """Bows of ribbon: loops round a knot, two ends hanging."""

    count: Some
    loops: Loops = 4
    loop_m: Size = 0.12  # knot to the loop's far end
    end_m: Size = 0.3  # each of the two ends
    width_mm: Width = 25
    colour: Name = "ivory"


class Piece(Frozen):
    """One thing that stands in the room."""

    name: Name
    at_m: Across = 0.0  # its centre line from the middle of the wall
    passed: bool = False  # people pass close by it
    support: Annotated[AnySupport, Field(discriminator="kind")]
    runs: Annotated[tuple[Run, ...], Field(max_length=20)] = ()
    skirt: Skirt | None = None
    accents: Accents | None = None
    features: Features | None = None
    topper: Topper | None = None
    floaters: Floaters | None = None
    greenery: Annotated[tuple[Greenery, ...], Field(max_length=10)] = ()
    stems: Stems | None = None
    tails: Tails | None = None
    wraps: Annotated[tuple[Wrap, ...], Field(max_length=10)] = ()
    bows: Bows | None = None


class Room(Frozen):
    """What the piece must fit. None: not known, so not checked (and told as a finding)."""

    ceiling_m: Size | None = None
    outdoors: bool = False
    door_width_m: Size | None = None
    door_height_m: Size | None = None
    floor: Annotated[str, StringConstraints(max_length=120)] = ""
    warmest_c: Annotated[float, Field(ge=-30, le=60)] | None = None  # while it stands
    altitude_m: Annotated[float, Field(ge=-430, le=5000)] | None = None  # above sea level


class Design(Frozen):
    """The whole document."""

    format: Literal["archwright-design"] = "archwright-design"
    version: Literal[2] = 2
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


def finished_range_m(size: str) -> tuple[float, float]:
    """Usual finished diameters of a nominal size: from half of it, below which it is slack, to all of it.

    Common practice, no source.

    >>> finished_range_m("36 in")
    (0.4572, 0.9144)
    """
    most = nominal_m(size)
    return 0.5 * most, most

"""What every loose part is: a fixed, validated value on a piece that knows all that is asked of it.

One class is one kind, and one module of this folder. Each concern of the house asks it by one hook; a hook that
a kind does not define answers for a part that has nothing to do with that concern.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import IntEnum
from math import ceil
from typing import TYPE_CHECKING, Any, ClassVar, Literal, NamedTuple, Self

from jobs.design.faults import Fault, part_faults
from jobs.design.parts.making import ClusterMaker
from jobs.design.places import stretch_of
from jobs.design.stretch import Stretch

if TYPE_CHECKING:
    from jobs.design.compose import Laying
    from jobs.design.composition import Cluster
    from jobs.design.document import Design, Piece
    from jobs.design.handle import Handle
    from jobs.design.picture_plane import Thing, View
    from jobs.design.practice import Practice
    from jobs.design.soft import Ribbon
    from jobs.design.supports import Support
    from jobs.design.supports.base import FramePart
    from jobs.design.takeoff import Finding, KitToPack, Work
    from jobs.design.working import Worked
    from pricing.core.need import Need
    from studio.measure import Units

type Where = Literal["workshop", "site"]
type Box = Literal["soft", "fixings", "gas", "frame"]
type Times = tuple[str, Where, float]  # an operation, its place, how many times
BALLS_A_METRE = 600  # the very most; a full garland of 5 in balls has a third of that
DOTS_EACH = 2  # of glue for what is stuck (common practice, no source)
UNRANKED = 99


class Ranks(NamedTuple):
    """Where a kind stands among the others; those that say nothing come last, by name."""

    screen: int = UNRANKED  # in the document and on the form
    work: int = UNRANKED  # as things are put up, counted and drawn
    words: int = UNRANKED  # in what a client reads


class WorkStage(IntEnum):
    """When in the work an operation is done."""

    PLACING = 1  # of clusters
    GREENING = 2
    FASTENING = 3
    DRESSING = 4  # ribbon and whatever else is put on last


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """Something that is done for a part, and how long a steady hand takes for one."""

    name: str
    minutes: float  # common practice, no source, unless said otherwise
    stage: WorkStage = WorkStage.DRESSING


@dataclass(frozen=True, slots=True, kw_only=True)
class Saving:
    """A cut that a budget may ask of a part. Kinds with the same words are cut together."""

    seen: int  # the least visible cut first
    words: str
    less: Callable[
        [Any], Any
    ]  # the part with less of it; itself where nothing more can go; None: left out


def left_out(part: LoosePart) -> None:
    """A saving that takes the part away."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What is round a loose part: its piece, its design, whose hands put it up."""

    design: Design
    piece: Piece
    index: int  # of the piece
    number: int  # of the part, among its kind in the whole design, from 0
    practice: Practice

    @property
    def stretches(self) -> tuple[Stretch, ...]:
        """Of the runs."""
        return tuple(stretch_of(self.piece.support, r.start, r.end) for r in self.piece.runs)

    @property
    def run_m(self) -> float:
        """Length of all runs; of the whole support where there are none."""
        return sum(s.length_m for s in self.stretches) or self.piece.support.length_m


class Extent(NamedTuple):
    """Room that something takes, metres from its piece's centre line and from the floor."""

    left_m: float
    right_m: float
    top_m: float


class LoosePart(ClusterMaker):
    """Base of all loose parts. A kind adds its fields, its words, and the hooks that it has an answer to.

    Fields are stated once: title and description become the form's label and help, bounds its limits; one that
    must be filled in has an example, by which the part is tried on every support. A field
    called `weights` is shares of the palette, `colour` a colour of ribbon, `recipe` a cluster's name, and
    `start` and `end` a stretch of the support: their faults, and a colour that is renamed, are seen to here.
    """

    key: ClassVar[str]  # its field on a piece: "bows"
    words: ClassVar[str]  # what the client would have or leave: "bows"
    heading: ClassVar[str] = ""  # over it on the form; empty: its key
    row_words: ClassVar[str] = ""  # of a table, what another row is called: "a wrap"
    most: ClassVar[int] = 1  # on one piece; above 1 it is a table of rows
    ranks: ClassVar[Ranks] = Ranks()
    # Written as nothing where a piece has none, as the first documents have it; what came later is left out there,
    # so that no document changes for a part that it does not have.
    always_written: ClassVar[bool] = False
    switch: ClassVar[tuple[str, ...]] = ("count",)  # fields that, all left empty, mean none of it
    with_garland: ClassVar[bool] = False  # stays where a layout is the garland only
    operations: ClassVar[tuple[Operation, ...]] = ()  # those that nobody else has
    boxes: ClassVar[dict[str, Box]] = {}  # where its supplies are packed, by their kind
    savings: ClassVar[tuple[Saving, ...]] = ()
    sheet_heading: ClassVar[str] = "Also on it"  # over its lines on the build sheet
    ties_each: ClassVar[int] = 1  # halves of a tie for what hangs on a cluster or lies at the foot

    @classmethod
    def is_many(cls) -> bool:
        return cls.most > 1

    @classmethod
    def example(cls) -> Self:
        """One of it, by the examples of those fields that must be filled in. Raises ValidationError without them."""
        fields = cls.model_fields.items()
        return cls.model_validate({name: f.examples[0] for name, f in fields if f.examples})

    @classmethod
    def fits(cls, support: type[Support]) -> bool:
        """Whether a support of this kind can carry it."""
        return True

    def but(self, **changes: Any) -> Self:
        """The same with other values, checked anew."""
        return type(self).model_validate({**self.model_dump(), **changes})

    # Reading.

    def faults(self, setting: Setting, path: str) -> Iterator[Fault]:
        """What the types of its fields cannot say."""
        yield from part_faults(self, setting.design, setting.piece.support, path)

    def crowds(self, setting: Setting) -> Iterator[tuple[str, float, float]]:
        """Numbers that could be absurd: the field, the number, what there is room for at the very most."""
        return iter(())

    def about_balls(self, setting: Setting) -> float:
        """About how many balls it takes, never too few by much."""
        return 0.0

    # Counting.

    def lay(self, laying: Laying) -> Iterator[Cluster]:
        """Its clusters."""
        return iter(())

    def half_ties(self, cluster: Cluster) -> int:
        return 0 if self.is_glued else self.ties_each

    def dots(self, cluster: Cluster) -> int:
        return DOTS_EACH if self.is_glued else 0

    @property
    def is_glued(self) -> bool:
        return getattr(self, "fixed", "tie") == "dot"

    def ribbons(self, setting: Setting) -> Iterator[Ribbon]:
        """What it cuts of ribbon."""
        return iter(())

    def needs(self, setting: Setting, units: Units) -> Iterator[Need]:
        """What else it uses up or hires; equal ones of the whole design are added up. `units` are of the labels."""
        return iter(())

    def work(self, setting: Setting) -> Iterator[Times]:
        """What is done for it besides making and setting clusters."""
        return iter(())

    def tools(self, setting: Setting) -> Iterator[KitToPack]:
        """What must be in the van for it besides what every job takes."""
        return iter(())

    # Standing in the room.

    def extent(self, setting: Setting) -> Extent | None:
        """What room it takes besides its balls; None for what stays within frame and balloons."""
        return None

    def rigid_parts(self, setting: Setting) -> Iterator[FramePart]:
        """What of it is carried stiff, as it is carried: through the door, by hand, in the van."""
        return iter(())

    # Answering.

    def findings(self, setting: Setting, units: Units) -> Iterator[Finding]:
        """What it must answer for."""
        return iter(())

    def told(self, setting: Setting, worked: Worked, units: Units) -> Iterator[str]:
        """It in a client's words, a line each; the same line of another of its kind stands once."""
        return iter(())

    # Building.

    def held(self, cluster: Cluster) -> str:
        if self.is_glued:
            return "dots"
        return "half a tie" if self.ties_each == 1 else "a tie"

    def build_lines(self, setting: Setting, units: Units) -> Iterator[Work]:
        """What the build sheet says of it besides its clusters."""
        return iter(())

    # Drawing.

    def draw(self, setting: Setting, worked: Worked, view: View) -> Iterator[Thing]:
        """It on the picture, its balls aside."""
        return iter(())

    def handles(self, setting: Setting, worked: Worked, units: Units) -> Iterator[Handle]:
        """What of it can be taken hold of, each by a field of its own."""
        return iter(())


def how_many(count: int | None, per_m: float | None, length_m: float) -> int:
    """A count, or so many for each metre, at least one."""
    return count or max(1, ceil((per_m or 0) * length_m - 1e-9))

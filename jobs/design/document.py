"""The design document: what a studio decided to build, as versioned JSON. All lengths in metres.

Every loose part of a piece is a class of its own (`jobs.design.parts`); a piece has one field for each.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal, Self

from pydantic import (
    Field,
    SerializerFunctionWrapHandler,
    StringConstraints,
    create_model,
    model_serializer,
)

from jobs.design.parts import IN_WORK, PART_KINDS, LoosePart
from jobs.design.parts.making import ClusterMaker
from jobs.design.supports import AnySupport
from jobs.design.supports.base import Across, Frozen, Size
from jobs.design.values import (
    FOLDED,
    PERCENT,
    Colour,
    Hold,
    Lies,
    Name,
    Place,
    Recipe,
    Some,
    Thick,
    Weights,
)

if TYPE_CHECKING:
    from jobs.design.composition import Cluster

FORMAT = "archwright-design"
VERSION = 2


class Feature(Frozen):
    """Clusters of another recipe that stand in for some of a run's: one every so many, or nearest to places."""

    recipe: Name
    every: Annotated[int, Field(ge=2, le=200)] | None = None
    at: Annotated[tuple[Place, ...], Field(max_length=40)] = ()


class Run(ClusterMaker):
    """A stretch of clusters. The pattern of recipe names repeats from start to end.

    On a closed support a run goes the way of the path and may pass its start.
    """

    cluster_part: ClassVar[str] = "run"
    finessed: ClassVar[bool] = True
    on_tube: ClassVar[bool] = True
    sway: ClassVar[float] = 1.0

    start: Place = Field(title="From")
    end: Place = Field(title="To")
    pattern: Annotated[tuple[Name, ...], Field(min_length=1, max_length=12)] = Field(
        title="Clusters",
        description="Names in order, repeated along the run: eight, eight, quad.",
    )
    hold: Hold = Field(default="locked", title="Held")
    # Other shares of the palette for this run; empty: the palette's own.
    weights: Annotated[Weights, FOLDED] = Field(default_factory=dict, title="Own shares")
    clusters: Annotated[Some | None, FOLDED] = Field(
        default=None, title="How many", description="Empty: as fill it."
    )
    fullness: Annotated[float, Field(ge=0.3, le=2), PERCENT, FOLDED] = Field(
        default=1.0, title="Fullness", description="100 % is snug; less shows gaps."
    )
    taper: Annotated[float, Field(ge=0.2, le=1), PERCENT, FOLDED] = Field(
        default=1.0, title="Thin end", description="Balloon size there; 100 %: no taper."
    )
    thick: Annotated[Thick, FOLDED] = Field(default="at the start", title="Thick")
    lies: Annotated[Lies, FOLDED] = Field(default="all round", title="Lies")
    features: Annotated[tuple[Feature, ...], Field(max_length=6), FOLDED] = Field(
        default=(), title="Features", description="Other clusters: giant every 5; giant at 40 %."
    )

    def step_of(self, cluster: Cluster) -> str:
        return f"run {cluster.run + 1}"


class BarePiece(Frozen):
    """One thing that stands in the room."""

    name: Name = Field(title="Piece")
    # Its centre line.
    at_m: Across = Field(default=0.0, title="Stands", description="From the middle of the wall.")
    passed: bool = Field(default=False, title="People pass close by")
    support: Annotated[AnySupport, Field(discriminator="kind")]
    runs: Annotated[tuple[Run, ...], Field(max_length=20)] = ()

    @model_serializer(mode="wrap")
    def _written(self, write: SerializerFunctionWrapHandler) -> dict[str, Any]:
        """All of it, but parts of later kinds only where it has them."""
        said: dict[str, Any] = write(self)
        later = {key for key, kind in PART_KINDS.items() if not kind.always_written}
        return {key: value for key, value in said.items() if value or key not in later}

    def part[P: LoosePart](self, kind: type[P]) -> P | None:
        """Its part of a kind, where it has one; the first of several."""
        return next(iter(self.parts(kind)), None)

    def parts[P: LoosePart](self, kind: type[P]) -> tuple[P, ...]:
        """Its parts of a kind."""
        held: Any = getattr(self, kind.key)
        if kind.is_many():
            return tuple(held)
        return () if held is None else (held,)

    def loose_parts(self) -> Iterator[LoosePart]:
        """All of its loose parts, in the order of work."""
        for kind in IN_WORK:
            yield from self.parts(kind)

    def having(self, *parts: LoosePart) -> Self:
        """The same piece with these parts in place of all others of their kinds."""
        of = {type(part): [p for p in parts if type(p) is type(part)] for part in parts}
        held = {kind.key: tuple(some) if kind.is_many() else some[-1] for kind, some in of.items()}
        return self.model_copy(update=held)

    def without(self, *kinds: type[LoosePart]) -> Self:
        """The same piece with no part of these kinds."""
        return self.model_copy(update={k.key: () if k.is_many() else None for k in kinds})


def _with_parts() -> type[BarePiece]:
    """A piece with a field for each kind of loose part, in their order."""
    fields: dict[str, Any] = {
        kind.key: (Annotated[tuple[kind, ...], Field(max_length=kind.most)], ())  # type: ignore[valid-type]
        if kind.is_many()
        else (kind | None, None)
        for kind in PART_KINDS.values()
    }
    return create_model(
        "Piece", __base__=BarePiece, __module__=__name__, __doc__=BarePiece.__doc__, **fields
    )


if TYPE_CHECKING:

    class Piece(BarePiece): ...

else:
    Piece = _with_parts()


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

"""The build sheet: every cluster in the order of work, numbered as on the picture."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from jobs.design.composition import Cluster, Composition
from jobs.design.document import Design
from studio.measure import Units


@dataclass(frozen=True, slots=True, kw_only=True)
class BallLot:
    """Equal balls of one step."""

    count: int
    size: str
    blown_m: float
    colour: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildStep:
    number: int  # as on the picture
    piece: str
    part: str  # "run 1", "skirt", …
    recipe: str
    where: str  # "1.20 m along, 0.85 m up on the left"
    lots: tuple[BallLot, ...]
    held: str  # "locked", "tied", "half a tie", …


def build_steps(design: Design, composition: Composition, units: Units) -> tuple[BuildStep, ...]:
    """One step for each cluster; numbers run through the whole design."""
    return tuple(
        _step(number, cluster, design, units)
        for number, cluster in enumerate(composition.clusters, 1)
    )


def _step(number: int, cluster: Cluster, design: Design, units: Units) -> BuildStep:
    piece = design.pieces[cluster.piece]
    lots = Counter((b.size, b.blown_m, b.colour.name) for b in cluster.balls)
    return BuildStep(
        number=number,
        piece=piece.name,
        part=cluster.maker.step_of(cluster),
        recipe=cluster.recipe,
        where=cluster.maker.where(cluster, piece, units),
        lots=tuple(
            BallLot(count=n, size=size, blown_m=blown, colour=colour)
            for (size, blown, colour), n in lots.items()
        ),
        held=cluster.maker.held(cluster),
    )

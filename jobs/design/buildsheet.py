"""The build sheet: every cluster in the order of work, numbered as on the picture."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from jobs.design.compose import Cluster, Composition
from jobs.design.document import Design
from jobs.design.needs import fixed_by
from studio.measure import Units, write_length

PARTS = {
    "run": "run", "topper": "topper", "skirt": "skirt", "feature": "feature", "accent": "mini",
    "floater": "floater",
}  # fmt: skip


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
    part = PARTS[cluster.part]
    return BuildStep(
        number=number,
        piece=piece.name,
        part=f"{part} {cluster.run + 1}" if cluster.part == "run" else part,
        recipe=cluster.recipe,
        where=_where(cluster, design, units),
        lots=tuple(
            BallLot(count=n, size=size, blown_m=blown, colour=colour)
            for (size, blown, colour), n in lots.items()
        ),
        held=_held(cluster, design),
    )


def _where(cluster: Cluster, design: Design, units: Units) -> str:
    piece = design.pieces[cluster.piece]
    off = cluster.x_m - piece.at_m
    side = "" if abs(off) < 0.02 else f", {'left' if off < 0 else 'right'} of the middle"
    if cluster.part in ("skirt", "floater"):
        return f"{write_length(abs(off), units)}{side.removeprefix(',')}" if side else "the middle"
    if cluster.part == "topper":
        return "on top"
    along = f"{write_length(cluster.s_m, units)} along"
    if piece.support.level:
        return along
    up = f"{write_length(cluster.z_m, units)} up"
    return f"{along}, {up}" + (f" on the {'left' if off < 0 else 'right'}" if side else "")


def _held(cluster: Cluster, design: Design) -> str:
    if cluster.part == "run":
        return cluster.hold
    if cluster.part == "floater":
        floaters = design.pieces[cluster.piece].floaters
        return "on a stick" if floaters and floaters.on == "stick" else "ribbon and weight"
    if fixed_by(design, cluster) == "dot":
        return "dots"
    return "a tie" if cluster.part == "topper" else "half a tie"

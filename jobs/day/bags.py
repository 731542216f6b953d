"""Built clusters go into bags in the order of work; what does not travel built is inflated on site. Pure.

Balls loose in a bag lie at 0.55 of its volume: random loose packing (Onoda & Liniger 1990, from memory), since a
bag is under ten balloons wide and its walls keep them apart.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from math import pi

from jobs.design.composition import Cluster
from jobs.design.working import Worked

LOOSE_PACKING = 0.55
BAG_M = (1.0, 1.2, 0.6)  # width, height, depth when full
FULL = 1 + 1e-9
type Numbered = tuple[int, Cluster]  # number on the picture and the build sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Bag:
    number: int
    clusters: tuple[Numbered, ...]

    @property
    def balls(self) -> int:
        return sum(len(cluster.balls) for _, cluster in self.clusters)

    @property
    def numbers(self) -> str:
        """The clusters in it, by their numbers: "1–12, 15"."""
        return ranges([number for number, _ in self.clusters])

    @property
    def contents(self) -> str:
        """By recipe, as on the build sheet: "12 × eight, 2 × quad"."""
        found = Counter(cluster.recipe for _, cluster in self.clusters)
        return ", ".join(f"{count} × {recipe}" for recipe, count in found.items())

    @property
    def balloons(self) -> tuple[str, ...]:
        """By size and colour: "24 × 11 in, ivory"."""
        found = Counter(
            (b.size, b.colour.name) for _, cluster in self.clusters for b in cluster.balls
        )
        return tuple(f"{count} × {size}, {colour}" for (size, colour), count in found.items())


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """How the balloons of a design travel: every cluster is in one bag, or inflated on site."""

    bags: tuple[Bag, ...]
    on_site: tuple[Numbered, ...]


def bag_balls(ball_m: float, bag_m: tuple[float, float, float] = BAG_M) -> int:
    """Balls of one size that a bag holds.

    >>> bag_balls(0.28)
    34
    """
    wide, high, deep = bag_m
    return int(LOOSE_PACKING * wide * high * deep / (pi / 6 * ball_m**3))


def fill_of(cluster: Cluster) -> float:
    """The part of a bag that a cluster takes."""
    return sum(1 / max(bag_balls(ball.blown_m), 1) for ball in cluster.balls)


def carry(worked: Worked, part: float) -> Carried:
    """Bags of the first clusters in the order of work, up to a part (0 to 1) of the balloons that can travel built.

    Floaters on gas are filled on site, and a cluster that is larger than a bag is made there.
    """
    numbered = list(enumerate(worked.composition.clusters, 1))
    fills = {n: fill_of(c) for n, c in numbered if not c.maker.on_gas}
    can = [(n, c) for n, c in numbered if fills.get(n, 2.0) <= FULL]
    most = part * sum(len(c.balls) for _, c in can) + 1e-9
    built: list[Numbered] = []
    for n, cluster in can:
        most -= len(cluster.balls)
        if most < 0:
            break
        built.append((n, cluster))
    inside = {n for n, _ in built}
    return Carried(
        bags=tuple(_bags(built, fills)),
        on_site=tuple((n, c) for n, c in numbered if n not in inside),
    )


def _bags(built: list[Numbered], fills: dict[int, float]) -> list[Bag]:
    """A bag takes clusters until the next one would not go in any more."""
    lots: list[list[Numbered]] = []
    room = 0.0
    for n, cluster in built:
        if not lots or fills[n] > room + 1e-9:
            lots.append([])
            room = 1.0
        lots[-1].append((n, cluster))
        room -= fills[n]
    return [Bag(number=i, clusters=tuple(lot)) for i, lot in enumerate(lots, 1)]


def ranges(numbers: list[int]) -> str:
    """Rising numbers, those that follow each other as from–to.

    >>> ranges([1, 2, 3, 5, 7, 8])
    '1–3, 5, 7–8'
    """
    starts = [n for before, n in pairwise([-1, *numbers]) if n != before + 1]
    ends = [n for n, after in pairwise([*numbers, -1]) if after != n + 1]
    return ", ".join(f"{a}" if a == b else f"{a}–{b}" for a, b in zip(starts, ends, strict=True))

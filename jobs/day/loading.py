"""Bags, van, trips: where to inflate so that everything fits with the least minutes. Pure.

Balls loose in a bag lie at 0.55 of its volume: random loose packing (Onoda & Liniger 1990, from memory), since a
bag is under ten balloons wide and its walls keep them apart.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, pi, sqrt

from jobs.design.labour import inflating
from jobs.design.working import Worked

LOOSE_PACKING = 0.55
BAG_M = (1.0, 1.2, 0.6)  # width, height, depth when full
BOX_M3 = 0.06  # a lidded box of about 60 × 40 × 25 cm
BAG_MINUTES = 1.5  # to fill, tie, carry and load one bag (common practice, no source)
ROAD_KMH = 40.0
SITE_SLOWER = 1.15  # inflating on site against the workshop (common practice, no source)
PARTS = (1.0, 0.75, 0.5, 0.25, 0.0)  # of the balloons inflated in the workshop


@dataclass(frozen=True, slots=True, kw_only=True)
class Van:
    long_m: float = 2.4
    wide_m: float = 1.6
    high_m: float = 1.4

    @property
    def volume_m3(self) -> float:
        return self.long_m * self.wide_m * self.high_m

    @property
    def longest_m(self) -> float:
        """A rod that lies corner to corner."""
        return sqrt(self.long_m**2 + self.wide_m**2 + self.high_m**2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """One way to do it."""

    part: float  # of the balloons inflated in the workshop
    bags: int
    trips: int
    minutes: float  # more than with everything inflated at leisure next door: bags, extra trips, slower site
    fits: bool

    @property
    def words(self) -> str:
        if self.part == 1:
            return "all inflated in the workshop"
        return (
            "all inflated on site" if not self.part else f"{self.part:.0%} inflated in the workshop"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Loading:
    ways: tuple[Load, ...]
    too_long: tuple[str, ...]  # parts that no van of this size takes
    bag_passes: bool  # through the door
    boxes: int

    @property
    def best(self) -> Load | None:
        """The least minutes that fits."""
        fitting = [way for way in self.ways if way.fits]
        return min(fitting, key=lambda way: (way.minutes, way.trips)) if fitting else None


def bag_balls(ball_m: float, bag_m: tuple[float, float, float] = BAG_M) -> int:
    """Balls of one size that a bag holds.

    >>> bag_balls(0.28)
    34
    """
    wide, high, deep = bag_m
    return int(LOOSE_PACKING * wide * high * deep / (pi / 6 * ball_m**3))


def work_loading(
    worked: Worked, van: Van, *, box_count: int, km_one_way: float, most_trips: int = 2
) -> Loading:
    """Every part of the balloons that could be inflated at home, with bags, trips and minutes."""
    sizes: Counter[float] = Counter(b.blown_m for c in worked.composition.clusters for b in c.balls)
    frames = [part for piece in worked.design.pieces for part in piece.support.frame_parts()]
    frame_m3 = sum(
        p.count * p.length_m * max(p.width_m, 0.03) * max(p.thickness_m, 0.03) for p in frames
    )
    boxes_m3 = box_count * BOX_M3
    too_long = tuple(dict.fromkeys(p.name for p in frames if p.length_m > van.longest_m + 1e-9))
    room = worked.design.room
    door = min(room.door_width_m or 9.0, room.door_height_m or 9.0)
    passes = min(BAG_M) <= door
    site_minutes = _inflating_minutes(worked, sizes)
    return Loading(
        ways=tuple(
            _ways(sizes, van, frame_m3 + boxes_m3, site_minutes, km_one_way, most_trips, bool(too_long), passes)
        ),
        too_long=too_long,
        bag_passes=passes,
        boxes=box_count,
    )  # fmt: skip


def _inflating_minutes(worked: Worked, sizes: Counter[float]) -> float:
    minutes = worked.practice.minutes
    return sum(count * minutes[inflating(size)] for size, count in sizes.items())


def _ways(
    sizes: Counter[float], van: Van, other_m3: float, inflate_min: float, km: float, most_trips: int,
    too_long: bool, passes: bool,
) -> Iterator[Load]:  # fmt: skip
    bag_m3 = BAG_M[0] * BAG_M[1] * BAG_M[2]
    trip_min = 2 * km / ROAD_KMH * 60
    for part in PARTS:
        fill = sum(part * count / max(bag_balls(size), 1) for size, count in sizes.items())
        bags = ceil(fill - 1e-9)
        trips = max(1, ceil((other_m3 + bags * bag_m3) / van.volume_m3 - 1e-9))
        slower = (1 - part) * inflate_min * (SITE_SLOWER - 1)
        yield Load(
            part=part,
            bags=bags,
            trips=trips,
            minutes=bags * BAG_MINUTES + (trips - 1) * trip_min + slower,
            fits=trips <= most_trips and not too_long and (passes or not bags),
        )

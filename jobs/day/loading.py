"""The van and its trips: where to inflate so that everything fits and costs few minutes. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, sqrt

from jobs.day.bags import BAG_M, Carried, carry
from jobs.day.boxes import Packing, pack_boxes
from jobs.design.labour import inflating
from jobs.design.working import Worked
from studio.measure import Units

BOX_M3 = 0.06  # a lidded box of about 60 × 40 × 25 cm
BAG_MINUTES = 1.5  # to fill, tie, carry and load one bag (common practice, no source)
ROAD_KMH = 40.0
SITE_SLOWER = 1.15  # inflating on site against the workshop (common practice, no source)
ALIKE_MINUTES = 5.0  # nobody splits a garland to save less (own rule)
PARTS = (1.0, 0.75, 0.5, 0.25, 0.0)  # of the balloons that can travel built


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
class TravelPlan:
    """One way to travel."""

    percent: int  # of the balloons that can travel built, built in the workshop at most
    carried: Carried
    packing: Packing
    trips: int
    minutes: float  # more than with everything inflated at leisure next door: bags, extra trips, slower site
    fits: bool

    @property
    def bags(self) -> int:
        return len(self.carried.bags)

    @property
    def boxes(self) -> int:
        return len(self.packing.boxes)

    @property
    def words(self) -> str:
        if self.percent == 100:
            return "all built in the workshop"
        return (
            "all inflated on site"
            if not self.percent
            else f"{self.percent} % built in the workshop"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Loading:
    ways: tuple[TravelPlan, ...]
    too_long: tuple[str, ...]  # parts that no van of this size takes
    bag_passes: bool  # through the door
    chosen: int | None = None  # percent; None: the best, as below

    @property
    def best(self) -> TravelPlan | None:
        """Of those that fit and take no more than a few minutes over the least: the most built in the workshop."""
        fitting = [way for way in self.ways if way.fits]
        if not fitting:
            return None
        least = min(way.minutes for way in fitting)
        alike = [way for way in fitting if way.minutes <= least + ALIKE_MINUTES]
        return min(alike, key=lambda way: (way.trips, -way.percent))

    @property
    def way(self) -> TravelPlan:
        """How the job travels: as chosen, else the best; where nothing fits, with the least to carry."""
        chosen = next((way for way in self.ways if way.percent == self.chosen), None)
        return chosen or self.best or self.ways[-1]


def work_loading(
    worked: Worked, van: Van, *, km_one_way: float, units: Units, most_trips: int = 2,
    chosen: int | None = None,
) -> Loading:  # fmt: skip
    """Every part of the balloons that could be built at home, with bags, boxes, trips and minutes."""
    frames = [
        part
        for index, piece in enumerate(worked.design.pieces)
        for part in (*piece.support.frame_parts(), *worked.composition.rigid_parts_on(index))
    ]
    frame_m3 = sum(
        p.count * p.length_m * max(p.width_m, 0.03) * max(p.thickness_m, 0.03) for p in frames
    )
    too_long = tuple(dict.fromkeys(p.name for p in frames if p.length_m > van.longest_m + 1e-9))
    room = worked.design.room
    passes = min(BAG_M) <= min(room.door_width_m or 9.0, room.door_height_m or 9.0)
    ways = (
        _way(worked, part, van, frame_m3, km_one_way, most_trips, units=units,
             stuck=bool(too_long), passes=passes)
        for part in PARTS
    )  # fmt: skip
    return Loading(ways=tuple(ways), too_long=too_long, bag_passes=passes, chosen=chosen)


def _way(
    worked: Worked, part: float, van: Van, frame_m3: float, km: float, most_trips: int, *, stuck: bool,
    passes: bool, units: Units,
) -> TravelPlan:  # fmt: skip
    carried = carry(worked, part)
    packing = pack_boxes(worked.takeoff, carried, units)
    bags = len(carried.bags)
    bags_m3 = bags * BAG_M[0] * BAG_M[1] * BAG_M[2]
    filled = (frame_m3 + len(packing.boxes) * BOX_M3 + bags_m3) / van.volume_m3
    trips = max(1, ceil(filled - 1e-9))
    slower = (SITE_SLOWER - 1) * sum(inflating_minutes(worked, carried))
    return TravelPlan(
        percent=round(100 * part),
        carried=carried,
        packing=packing,
        trips=trips,
        minutes=bags * BAG_MINUTES + (trips - 1) * 2 * km / ROAD_KMH * 60 + slower,
        fits=trips <= most_trips and not stuck and (passes or not bags),
    )


def inflating_minutes(worked: Worked, carried: Carried) -> Iterator[float]:
    """Of what is inflated on site; gas is filled there in any case."""
    minutes = worked.practice.minutes
    for _, cluster in carried.on_site:
        if not cluster.maker.on_gas:
            yield from (minutes[inflating(ball.blown_m)] for ball in cluster.balls)

"""The sizing sheet: to which diameter each balloon is blown in the workshop, and how long the pump takes."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from jobs.design.composition import Composition
from jobs.design.document import Design, Room
from jobs.design.gas import growth, strokes, volume_m3
from jobs.design.practice import Practice
from jobs.design.values import finished_range_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizing:
    size: str  # nominal
    finished_m: float  # where it stands
    workshop_m: float  # on the template; of those on gas, on site
    count: int
    strokes: float  # of a hand pump
    seconds: float  # of an electric pump
    bursts: bool  # beyond its nominal diameter, in the workshop or where it stands
    slack: bool  # below its usual range
    on_gas: bool = False  # helium, filled on site


def room_growth(room: Room, practice: Practice) -> float:
    """How much wider a balloon is where it stands than in the workshop; 1 where nothing is known."""
    return growth(
        from_c=practice.workshop_c,
        to_c=practice.workshop_c if room.warmest_c is None else room.warmest_c,
        from_altitude_m=practice.workshop_altitude_m,
        to_altitude_m=practice.workshop_altitude_m if room.altitude_m is None else room.altitude_m,
    )


def size_balloons(
    composition: Composition, design: Design, practice: Practice
) -> tuple[Sizing, ...]:
    """One line for each nominal size and finished diameter, the smallest first; floaters on gas apart.

    Those are filled where they stand, to what they are to be, and no pump works on them.
    """
    tally = Counter(
        (b.blown_m, b.size, c.maker.on_gas) for c in composition.clusters for b in c.balls
    )  # fmt: skip
    grown = room_growth(design.room, practice)
    return tuple(
        _line(size, blown, count, blown if on_gas else blown / grown, practice, on_gas=on_gas)
        for (blown, size, on_gas), count in sorted(tally.items())
    )


def _line(
    size: str, blown: float, count: int, workshop: float, practice: Practice, *, on_gas: bool
) -> Sizing:
    low, high = finished_range_m(size)
    return Sizing(
        size=size,
        finished_m=blown,
        workshop_m=workshop,
        count=count,
        strokes=0.0 if on_gas else strokes(workshop),
        seconds=0.0 if on_gas else volume_m3(workshop) * 1000 / practice.pump_litres_s,
        bursts=max(workshop, blown) > high + 0.0005,
        slack=blown < low - 0.0005,
        on_gas=on_gas,
    )

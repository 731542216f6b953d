"""What a studio's hands know: squeeze, losses, minutes. Common practice, no source, unless said otherwise.

A studio sets its own; what it does not set stands as here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import log2
from types import MappingProxyType

from jobs.design.parts import PART_KINDS
from jobs.design.parts.base import WorkStage


def _of_parts(*stages: WorkStage) -> dict[str, float]:
    """Minutes of what loose parts ask, stage by stage."""
    said = [operation for kind in PART_KINDS.values() for operation in kind.operations]
    return {o.name: o.minutes for stage in stages for o in said if o.stage == stage}


# Minutes for one of each operation, by a steady hand, in the order of work. Common practice, no source.
MINUTES: Mapping[str, float] = MappingProxyType(
    {
        "shop and order": 45.0,  # for one job, the asking and comparing included
        "sort a size and colour": 3.0,  # fetched, counted, laid out
        "inflate and size, up to 6 in": 0.20,
        "inflate and size, up to 12 in": 0.25,
        "inflate and size, larger": 1.0,
        "fill a floater with helium": 0.6,
        "tie a single": 0.2,
        "tie a pair": 0.15,
        "twist a quad": 0.15,
        "join an eight": 0.15,
        "make another cluster": 0.40,
        "place a slipped cluster": 0.40,
        "place a locked cluster": 0.60,
        "place a tied cluster": 1.00,
        **_of_parts(WorkStage.PLACING),
        "set up a frame part": 3.0,
        "tape a joint": 0.75,
        "set a hook": 1.5,
        "string a metre of line": 0.5,
        **_of_parts(WorkStage.GREENING, WorkStage.FASTENING, WorkStage.DRESSING),
        "finesse a cluster": 0.2,
        "sweep up the workshop": 15.0,
        "load": 20.0,
        "unload and carry in": 20.0,
        "take down a cluster": 0.15,
        "take down a frame part": 2.0,
        "sweep up on site": 20.0,  # after the set-up and after the take-down
    }
)
# Balloons lost before the event. Common practice, no source.
LOSS_RATES: Mapping[str, float] = MappingProxyType({"professional": 0.03, "party": 0.08})


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    squeeze: float = 0.8  # real pitch over rigid pitch: about two quads of 9–10 in balloons a foot
    template_m: float = 0.005  # step of the sizing template's holes, for runs that taper
    heap_packing: float = (
        0.55  # of a skirt: random loose packing (Onoda & Liniger 1990, from memory)
    )
    twist_clear_m: float = 0.12  # a level tube nearer to the floor leaves no room to twist a lock
    stem_m: float = 0.03  # what a greenery stem adds to the tube when it is wrapped
    loss_rates: Mapping[str, float] = field(default_factory=lambda: LOSS_RATES)  # by grade
    run_out: float = 0.05  # accepted chance that spares do not suffice
    joint_tape_m: float = 0.15
    knot_m: float = 0.15  # ribbon or line that each knot takes
    roll_m: float = 25.0  # ribbon on a roll where the price book does not say
    pole_reach_m: float = 2.0  # work above this needs a ladder
    feet_ballast: int = 2  # ballast weights for a piece that stands outdoors
    ballast_kg: float = 20.0  # of one
    plate_m2: float = 0.09  # floor that one foot's plate covers: 30 cm square
    # The least that floors where people meet are designed for, spread out: EN 1991-1-1:2002 table 6.2 gives
    # C1 as a range, 2.0 to 3.0 kN/m² (from memory), and the national annex or the building decides.
    floor_kpa: float = 2.0
    workshop_c: float = 20.0
    workshop_altitude_m: float = 0.0
    pump_litres_s: float = 6.0  # of an electric pump
    learning: float = (
        0.95  # time of the 2n-th over that of the n-th of the same cluster (Wright 1936)
    )
    steady_after: int = 20  # repeats after which the minutes below hold
    allowance: float = (
        0.11  # rest and personal allowance on working minutes (ILO work study, from memory)
    )
    minutes: Mapping[str, float] = field(default_factory=lambda: MINUTES)


PRACTICE = Practice()


def learning_factor(times: float, practice: Practice) -> float:
    """Mean time of the first `times` repeats over that of a steady hand; never below 1.

    Wright's curve by cumulative average: the mean of n is proportional to n^b, b = log2(rate). (From memory.)

    >>> round(learning_factor(10, Practice(learning=0.8, steady_after=20)), 9)
    1.25
    """
    if times <= 0:
        return 1.0
    return float(max(1.0, (times / practice.steady_after) ** log2(practice.learning)))


def squeeze_from(
    *, length_m: float, clusters: int, rigid_pitch_m: float, fullness: float = 1.0
) -> float:
    """The squeeze that a finished run shows: its real pitch over the rigid one.

    ValueError unless all are above zero.

    >>> squeeze_from(length_m=6.0, clusters=20, rigid_pitch_m=0.4)
    0.75
    """
    if min(length_m, clusters, rigid_pitch_m, fullness) <= 0:
        raise ValueError(
            "expected length, clusters, pitch and fullness above 0, "
            f"got {length_m}, {clusters}, {rigid_pitch_m}, {fullness}"
        )
    return length_m / clusters / rigid_pitch_m * fullness

"""First sketches to begin from, sized to the room. Pure."""

from __future__ import annotations

from collections.abc import Callable
from math import floor

from jobs.design.document import Design, Piece, Room, Run
from jobs.design.parts.accents import Accents
from jobs.design.parts.greenery import Greenery
from jobs.design.parts.topper import Topper
from jobs.design.supports import KINDS, Support
from jobs.design.values import Balls, Colour, Hold, Place, Recipe
from studio.measure import FOOT_M, INCH_M, Units

PALETTE = (
    Colour(name="ivory", hex="#efe6d2", finish="matt", weight=4),
    Colour(name="blush", hex="#e8b9ae", finish="matt", weight=3),
    Colour(name="sage", hex="#9db092", finish="pearl", weight=2),
    Colour(name="old gold", hex="#c8a24c", finish="metallic", weight=1),
)
REACH_M = (
    0.45  # what an eight of 11 in balloons needs over its frame, with a hand's breadth to spare
)
USUAL_CEILING_M = 2.6  # where nobody has measured

type Neat = Callable[[float], float]


def neat_in(units: Units) -> Neat:
    """Rounds down to what a tape in those units shows plainly: 5 cm, or half an inch (whole above a foot)."""

    def neat(length_m: float) -> float:
        if units == "metric":
            return round(floor(length_m / 0.05 + 1e-6) * 0.05, 4)
        step = INCH_M if length_m > FOOT_M else INCH_M / 2
        return round(floor(length_m / step + 1e-6) * step, 6)

    return neat


def sketch(kind: str, room: Room, units: Units = "metric") -> Design:
    """A first design of one piece on a support of this kind. KeyError for an unknown kind."""
    neat = neat_in(units)
    imperial = units == "imperial"
    recipes = (
        Recipe(
            name="eight", balls=(Balls(count=8, size="11 in", blown_m=0.254 if imperial else 0.25),)
        ),
        Recipe(
            name="quad of 11s",
            balls=(Balls(count=4, size="11 in", blown_m=0.254 if imperial else 0.25),),
        ),
        Recipe(
            name="quad", balls=(Balls(count=4, size="5 in", blown_m=0.1143 if imperial else 0.11),)
        ),
    )
    piece = begin_piece(kind, free_height_m(room), neat)
    return Design(room=room, palette=PALETTE, recipes=recipes, pieces=(piece,))


def free_height_m(room: Room) -> float:
    ceiling = 3.2 if room.outdoors else room.ceiling_m or USUAL_CEILING_M
    return max(ceiling, 1.0)


def begin_piece(kind: str, free_m: float, neat: Neat) -> Piece:
    """A support sized to the room with a first run: all along an open one, a crescent on a closed one."""
    support = KINDS[kind].begin(free_m if KINDS[kind].closed else max(free_m - REACH_M, 0.4), neat)
    if support.closed:
        return crescent(support, free_m, neat)
    pattern = ("quad of 11s",) if support.topped else ("eight",)
    hold: Hold = "tied" if support.hung else "locked"
    run = Run(start=Place(share=0), end=Place(share=1), pattern=pattern, hold=hold)
    more = Topper(size="24 in", blown_m=neat(0.5)) if support.topped else minis(6, neat)
    return Piece(name=support.label.capitalize(), support=support, runs=(run,)).having(more)


def minis(count: int, neat: Neat) -> Accents:
    return Accents(count=count, blown_m=neat(0.115))


def crescent(support: Support, free_m: float, neat: Neat) -> Piece:
    """Clusters from a third of the height on the right round below and up the left; greenery on the rest."""
    (_, low), (_, high) = support.path.box
    tall = high - low
    left = Place(
        height_m=neat(low + min(0.75 * tall, max(free_m - REACH_M - low, 0.3))), side="left"
    )
    right = Place(height_m=neat(low + tall / 3), side="right")
    bare = Greenery(
        start=left, end=right, wrap_pitch_m=None if support.filled else neat(0.5), strand_m=neat(2.0),
        overlap_m=neat(0.06), fastener_gap_m=neat(1.0),
    )  # fmt: skip
    name = "Ringed backdrop" if support.kind == "ring" else support.label.capitalize()
    run = Run(start=right, end=left, pattern=("eight",))
    return Piece(name=name, support=support, runs=(run,)).having(minis(6, neat), bare)

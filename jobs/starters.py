"""First sketches to begin from, sized to the room. Pure."""

from __future__ import annotations

from collections.abc import Callable
from math import floor

from jobs.design.document import (
    Accents,
    Balls,
    Colour,
    Design,
    Greenery,
    Piece,
    Place,
    Recipe,
    Room,
    Run,
)
from jobs.design.supports import KINDS
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
            name="quad", balls=(Balls(count=4, size="5 in", blown_m=0.1143 if imperial else 0.11),)
        ),
    )
    piece = PIECES[kind](free_height_m(room), neat)
    return Design(room=room, palette=PALETTE, recipes=recipes, pieces=(piece,))


def free_height_m(room: Room) -> float:
    ceiling = 3.2 if room.outdoors else room.ceiling_m or USUAL_CEILING_M
    return max(ceiling, 1.0)


def whole_run() -> Run:
    return Run(start=Place(share=0), end=Place(share=1), pattern=("eight",))


def minis(count: int, neat: Neat) -> Accents:
    return Accents(count=count, blown_m=neat(0.115))


def ring(free_m: float, neat: Neat) -> Piece:
    across = neat(min(2.0, 0.9 * free_m))
    left = Place(height_m=neat(min(0.75 * across, max(free_m - REACH_M, 0.3))), side="left")
    right = Place(height_m=neat(across / 3), side="right")
    bare = Greenery(
        start=left,
        end=right,
        wrap_pitch_m=neat(0.5),
        strand_m=neat(2.0),
        overlap_m=neat(0.06),
        fastener_gap_m=neat(1.0),
    )
    return Piece(
        name="Ringed backdrop",
        support=KINDS["ring"].model_validate(
            {"kind": "ring", "diameter_m": across, "part_count": 4}
        ),
        runs=(Run(start=right, end=left, pattern=("eight",)),),
        accents=minis(6, neat),
        greenery=(bare,),
    )


def arch(free_m: float, neat: Neat) -> Piece:
    frame = {
        "kind": "arch", "span_m": neat(2.6), "rise_m": neat(min(2.2, max(free_m - REACH_M, 0.4))), "part_count": 5,
    }  # fmt: skip
    support = KINDS["arch"].model_validate(frame)
    return Piece(name="Arch", support=support, runs=(whole_run(),), accents=minis(6, neat))


def rail(free_m: float, neat: Neat) -> Piece:
    frame = {
        "kind": "rail",
        "run_m": neat(3.05),
        "height_m": neat(min(0.92, free_m / 2)),
        "part_count": 2,
    }
    support = KINDS["rail"].model_validate(frame)
    return Piece(
        name="Garland on a rail", support=support, runs=(whole_run(),), accents=minis(4, neat)
    )


PIECES: dict[str, Callable[[float, Neat], Piece]] = {"ring": ring, "arch": arch, "rail": rail}

"""First sketches to begin from, sized to the room. Pure."""

from __future__ import annotations

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

PALETTE = (
    Colour(name="ivory", hex="#efe6d2", finish="matt", weight=4),
    Colour(name="blush", hex="#e8b9ae", finish="matt", weight=3),
    Colour(name="sage", hex="#9db092", finish="pearl", weight=2),
    Colour(name="old gold", hex="#c8a24c", finish="metallic", weight=1),
)
RECIPES = (
    Recipe(name="eight", balls=(Balls(count=8, size="11 in", blown_m=0.25),)),
    Recipe(name="quad", balls=(Balls(count=4, size="5 in", blown_m=0.11),)),
)
REACH_M = (
    0.45  # what an eight of 11 in balloons needs over its frame, with a hand's breadth to spare
)
USUAL_CEILING_M = 2.6  # where nobody has measured


def sketch(kind: str, room: Room) -> Design:
    """A first design of one piece on a support of this kind. KeyError for an unknown kind."""
    piece = PIECES[kind](free_height_m(room))
    return Design(room=room, palette=PALETTE, recipes=RECIPES, pieces=(piece,))


def free_height_m(room: Room) -> float:
    ceiling = 3.2 if room.outdoors else room.ceiling_m or USUAL_CEILING_M
    return max(ceiling, 1.0)


def ring(free_m: float) -> Piece:
    across = round(min(2.0, 0.9 * free_m), 2)
    left = Place(height_m=round(min(0.75 * across, max(free_m - REACH_M, 0.3)), 2), side="left")
    right = Place(height_m=round(across / 3, 2), side="right")
    return Piece(
        name="Ringed backdrop",
        support=KINDS["ring"].model_validate(
            {"kind": "ring", "diameter_m": across, "part_count": 4}
        ),
        runs=(Run(start=right, end=left, pattern=("eight",)),),
        accents=Accents(count=6),
        greenery=(Greenery(start=left, end=right, wrap_pitch_m=0.5),),
    )


def arch(free_m: float) -> Piece:
    rise = round(min(2.2, max(free_m - REACH_M, 0.4)), 2)
    frame = {"kind": "arch", "span_m": 2.6, "rise_m": rise, "part_count": 5}
    return Piece(
        name="Arch",
        support=KINDS["arch"].model_validate(frame),
        runs=(Run(start=Place(share=0), end=Place(share=1), pattern=("eight",)),),
        accents=Accents(count=6),
    )


def rail(free_m: float) -> Piece:
    frame = {
        "run_m": 3.0,
        "height_m": round(min(0.9, free_m / 2), 2),
        "part_count": 2,
    }
    return Piece(
        name="Garland on a rail",
        support=KINDS["rail"].model_validate(frame),
        runs=(Run(start=Place(share=0), end=Place(share=1), pattern=("eight",)),),
        accents=Accents(count=4),
    )


PIECES = {"ring": ring, "arch": arch, "rail": rail}

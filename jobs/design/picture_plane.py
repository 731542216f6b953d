"""The plane that a picture is drawn on: which way it is seen, inks, and what is drawn on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from jobs.design.document import Piece

type View = Literal["front", "side", "plan"]
type Array = NDArray[np.float64]

INK = "#2b2320"
FAINT = "#8a7d70"
ACCENT = "#a8432f"


@dataclass(frozen=True, slots=True)
class Thing:
    """Something drawn at a depth: greater is nearer to the viewer."""

    piece: int
    depth_m: float
    svg: str


def project(at_m: Array, view: View) -> Array:
    """Points (x, y, z) in metres, shape (n, 3), on the sheet: across and down in cm, and depth in metres.

    A greater depth is nearer to the eye. From the front x goes across; from the right side y does, the front
    on the left; from above x goes across and what is nearer to the viewer in front is lower on the sheet.
    """
    x, y, z = at_m.T
    ways = {
        "front": (100 * x, -100 * z, y),
        "side": (-100 * y, -100 * z, x),
        "plan": (100 * x, 100 * y, z),
    }
    return np.column_stack(ways[view])


def on_path(piece: Piece, points: Array) -> Array:
    """A support's points (x, z) as points in the room, shape (n, 3)."""
    return np.column_stack([points[:, 0] + piece.at_m, np.zeros(len(points)), points[:, 1]])

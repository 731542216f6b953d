"""What can be taken hold of on the picture, as a value."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from jobs.design.picture_plane import on_path, project
from studio.measure import Units, write_length

if TYPE_CHECKING:
    from jobs.design.document import Piece

type HandleKind = Literal["end", "feature", "place", "edge", "piece"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Handle:
    kind: HandleKind
    piece: int
    path: str  # of the field in the document
    label: str
    x_cm: float
    y_cm: float
    now: float  # metres along the path, or across the floor
    least: float
    most: float
    said: str  # the same for those who listen
    run: int = -1
    index: int = 0  # which of several places in one field
    centre: str = ""  # of an edge: path of the field that holds the middle of both


def handle_along(
    index: int, piece: Piece, s_m: float, units: Units, *, kind: HandleKind, path: str, label: str,
    run: int = -1, which: int = 0,
) -> Handle:  # fmt: skip
    """A handle on the support's path, so many metres along it."""
    length = piece.support.length_m
    s_m = min(s_m % (length + 1e-9), length) if piece.support.closed else min(s_m, length)
    ((x, y, _),) = project(on_path(piece, piece.support.points(np.array([s_m]))), "front").tolist()
    return Handle(
        kind=kind, piece=index, path=path, label=label, x_cm=x, y_cm=y, now=s_m, least=0.0, most=length,
        said=f"{write_length(s_m, units)} along, {write_length(-y / 100, units)} up", run=run, index=which,
    )  # fmt: skip

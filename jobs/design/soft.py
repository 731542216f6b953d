"""What is soft and cut to length."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor, pi, sqrt
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jobs.design.practice import Practice


@dataclass(frozen=True, slots=True, kw_only=True)
class Ribbon:
    """Equal cuts of one ribbon."""

    piece: int
    width_mm: int
    colour: str
    cut_mm: int
    count: int


def helix(across_m: float, pitch_m: float | None) -> float:
    """Length of a helix for each metre of its axis, √(1 + (πD/p)²); 1 for what is laid straight.

    >>> round(helix(0.2, 0.4) * 2, 10)
    3.7241917782
    """
    return sqrt(1 + (pi * across_m / pitch_m) ** 2) if pitch_m else 1.0


def in_rolls(length_mm: int, practice: Practice) -> Iterator[tuple[int, int]]:
    """A length longer than a roll is made of whole rolls and a rest: (cut, how many)."""
    roll = floor(practice.roll_m * 1000)
    whole, rest = divmod(length_mm, roll)
    if whole:
        yield roll, whole
    if rest:
        yield rest, 1


def whole_mm(length_m: float) -> int:
    """Whole millimetres, up: a float sum would make an inexact count."""
    return ceil(length_m * 1000 - 1e-6)

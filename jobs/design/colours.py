"""Colours side by side: how far apart they look, to most eyes and to colour-blind ones; new ones between two.

coloraide does the sums: CIEDE2000 for differences, OKLCH (CSS Color 4) for mixing, Brettel, Viénot & Mollon
1997 for colour blindness.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations
from typing import Literal

from coloraide import Color

type Sight = Literal["deutan", "protan", "tritan"]

ALIKE = (
    6.0  # ΔE2000 below which two balloons across a room pass for one (common practice, no source)
)
# As people say it; the most common first.
SIGHTS: dict[Sight, str] = {
    "deutan": "red-green (green-weak)",
    "protan": "red-green (red-weak)",
    "tritan": "blue-yellow",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Alike:
    """Two colours of a palette that are hard to tell apart."""

    first: int
    second: int
    difference: float  # ΔE2000, 0 for the same
    sight: Sight | None  # None: to most eyes


@cache
def difference(one: str, other: str, sight: Sight | None = None) -> float:
    """CIEDE2000 between two #rrggbb colours, as seen by most or with a colour blindness.

    >>> round(difference("#ff0000", "#ff0000"), 3)
    0.0
    """
    return float(_seen(one, sight).delta_e(_seen(other, sight), method="2000"))


@cache
def _seen(hex_: str, sight: Sight | None) -> Color:
    colour = Color(hex_)
    return colour.filter(sight) if sight else colour


def alike(hexes: Sequence[str]) -> tuple[Alike, ...]:
    """Pairs that look alike, each once, by the first kind of sight that takes them for one."""
    found = []
    sights: tuple[Sight | None, ...] = (None, *SIGHTS)
    for i, j in combinations(range(len(hexes)), 2):
        for sight in sights:
            far = difference(hexes[i], hexes[j], sight)
            if far < ALIKE:
                found.append(Alike(first=i, second=j, difference=far, sight=sight))
                break
    return tuple(found)


def oklch(hex_: str) -> tuple[float, float, float]:
    """Lightness 0–1, chroma, hue in degrees (OKLCH of CSS Color 4)."""
    lightness, chroma, hue = Color(hex_).convert("oklch").coords(nans=False)
    return float(lightness), float(chroma), float(hue)


def between(one: str, other: str, count: int) -> tuple[str, ...]:
    """Colours at equal steps between two, mixed in OKLCH by the shorter way round, fitted to the screen.

    ValueError for fewer than one.

    >>> between("#ffffff", "#000000", 1)
    ('#636363',)
    """
    if count < 1:
        raise ValueError(f"count: expected at least 1, got {count}")
    steps = Color.steps([one, other], steps=count + 2, space="oklch", hue="shorter")
    return tuple(
        step.convert("srgb").fit(method="oklch-chroma").to_string(hex=True) for step in steps[1:-1]
    )


def suggest(one: str, other: str) -> tuple[str, ...]:
    """Three that go with two chosen ones: a light tint, the tone between, a deep accent of the first.

    Lightness 0.93 with a third of the chroma; the middle of both; lightness 0.42 with four fifths.
    """
    first = Color(one).convert("oklch")
    tint = first.clone().set("lightness", 0.93).set("chroma", lambda c: c / 3)
    deep = first.clone().set("lightness", 0.42).set("chroma", lambda c: 0.8 * c)
    fitted = (
        c.convert("srgb").fit(method="oklch-chroma").to_string(hex=True) for c in (tint, deep)
    )
    light, dark = fitted
    return (light, *between(one, other, 1), dark)


def nearest(hex_: str, choices: Sequence[str]) -> int:
    """Index of the choice that looks most like a colour. ValueError when there is none."""
    if not choices:
        raise ValueError("choices: expected at least one, got none")
    return min(range(len(choices)), key=lambda i: difference(hex_, choices[i]))

"""Bars that lie one under another, each below its label: where they stand on the drawing. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

WIDE = 336  # units of the drawing, about pixels on a phone
STEP, DOWN, HIGH = 32, 17, 9  # from bar to bar; label's room above it; its height
LONGEST = 44  # letters of a label


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    label: str
    text_y: int
    x: int
    y: int
    wide: int
    below: bool  # below zero: it runs to the left


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    wide: int
    high: int
    thick: int
    zero: int  # where the line of zero stands
    bars: tuple[Bar, ...]


def lay_bars(values: Sequence[tuple[str, Decimal]]) -> Drawing:
    """Lengths to one scale, from a line of zero. ValueError where nothing differs from zero."""
    least = min(Decimal(0), *(value for _, value in values))
    most = max(Decimal(0), *(value for _, value in values))
    if least == most:
        raise ValueError("values: expected some other than zero, got none")
    unit = WIDE / (most - least)
    zero = round(-least * unit)
    bars = []
    for i, (label, value) in enumerate(values):
        end = round((value - least) * unit)
        short = label if len(label) <= LONGEST else label[: LONGEST - 1] + "…"
        bars.append(
            Bar(label=short, text_y=i * STEP + DOWN - 5, x=min(zero, end), y=i * STEP + DOWN,
                wide=abs(end - zero), below=value < 0)
        )  # fmt: skip
    return Drawing(wide=WIDE, high=len(values) * STEP, thick=HIGH, zero=zero, bars=tuple(bars))

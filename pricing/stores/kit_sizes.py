"""Sizes of kit, as far as they stand in its name. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence

from studio.measure import LengthError, read_length

# Own rule: a tube's width, and a size that was rounded to whole inches or to five centimetres.
NEAR_M = 0.04
FITS, UNKNOWN, OTHER = 0, 1, 2  # how well an item fits, the best first
_NUMBER = r"\d+(?:[.,]\d+)?"
_FEET = rf"{_NUMBER}\s*(?:['’′]|ft\b\.?|feet\b|foot\b)(?:\s*{_NUMBER}\s*(?:[\"”″]|in\b\.?|inch\b|inches\b))?"
_OTHER = rf"{_NUMBER}\s*(?:[\"”″]|(?:mm|cm|m|metres?|meters?|in|inch|inches)\b)"
LENGTH = re.compile(rf"(?<![\d.,])(?:{_FEET}|{_OTHER})", re.IGNORECASE)


def lengths_in(name: str) -> list[float]:
    """Lengths in metres that a name holds.

    >>> lengths_in("ring frame, 2.3 m"), lengths_in("panel 4 ft by 7' 6\\""), lengths_in("ballast, 20 kg")
    ([2.3], [1.2192, 2.286], [])
    """
    found = []
    for text in LENGTH.findall(name):
        try:
            found.append(read_length(text, units="metric", what="Size"))
        except LengthError:
            continue
    return found


def size_fits(name: str, sizes_m: Sequence[float]) -> int:
    """0: a size that is asked stands in the name, or none is asked; 1: none stands there; 2: another one.

    >>> [fits(name, (2.286,)) for name in ("ring 7.5 ft", "ring frame", "ring, 1.8 m")]
    [0, 1, 2]
    """
    if not sizes_m:
        return FITS
    found = lengths_in(name)
    if not found:
        return UNKNOWN
    near = any(abs(a - b) <= NEAR_M for a in found for b in sizes_m)
    return FITS if near else OTHER

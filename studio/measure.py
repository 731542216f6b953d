"""Lengths as people write them, held in metres. Pure: the computing cores use it too.

One inch is 0.0254 m exactly (international yard and pound agreement, 1959).
"""

from __future__ import annotations

import math
import re
from decimal import Decimal
from typing import Literal

type Units = Literal["metric", "imperial"]

INCH_M = 0.0254
FOOT_M = 0.3048
LONGEST_M = 1000.0
FRACTIONS = ("", "¼", "½", "¾")

_MARKS = str.maketrans(
    {
        "’": "'",
        "′": "'",
        "‘": "'",
        "”": '"',
        "″": '"',
        "“": '"',
        "½": " 1/2",
        "¼": " 1/4",
        "¾": " 3/4",
    }
)
_NUMBER = r"(\d+(?:[.,]\d+)?|[.,]\d+)"
_INCHES = rf"(?:{_NUMBER}(?:\s+(\d+)/(\d+))?|(\d+)/(\d+))"
_FOOT = r"(?:'|ft\.?|feet|foot)"
_INCH = r"(?:\"|''|in\.?|inch|inches)"
_FEET_INCHES = re.compile(rf"{_NUMBER}\s*{_FOOT}(?:\s*{_INCHES}\s*{_INCH}?)?")
_ONLY_INCHES = re.compile(rf"{_INCHES}\s*{_INCH}")
_METRIC = re.compile(rf"{_NUMBER}\s*(mm|cm|m|metres?|meters?)")
_BARE = re.compile(_NUMBER)
_SCALE_M = {"mm": 0.001, "cm": 0.01, "m": 1.0}
EXAMPLES = {"metric": "2.28 m or 228 cm", "imperial": "7' 6\", 7.5 ft or 90 in"}


class LengthError(ValueError):
    """A length that cannot be read. Its text is a sentence: the field, what was expected, what came."""


def read_length(text: str, *, units: Units, what: str, at_most_m: float = LONGEST_M) -> float:
    """Read a length and return metres. A bare number is feet or metres, by `units`.

    Raises LengthError, naming the field `what`, for anything else than one length from 0 to `at_most_m`.

    >>> read_length("7' 6\\"", units="metric", what="Height")
    2.286
    >>> read_length("2,28 m", units="imperial", what="Height")
    2.28
    """
    plain = " ".join(text.translate(_MARKS).lower().split())
    length_m = _read(plain, units)
    if length_m is None or not math.isfinite(length_m):
        raise LengthError(
            f"{what}: expected a length such as {EXAMPLES[units]}, got “{text.strip()}”."
        )
    length_m = round(length_m, 7)  # 3 ft is 0.9144 m, and 3 × 0.3048 is a little more
    if length_m > at_most_m:
        raise LengthError(f"{what}: expected at most {at_most_m:.0f} m, got “{text.strip()}”.")
    return length_m


def _read(plain: str, units: Units) -> float | None:
    if found := _METRIC.fullmatch(plain):
        unit = found.group(2)
        return _number(found.group(1)) * _SCALE_M[unit if unit in _SCALE_M else "m"]
    if found := _FEET_INCHES.fullmatch(plain):
        return _number(found.group(1)) * FOOT_M + _inches(found.groups()[1:]) * INCH_M
    if found := _ONLY_INCHES.fullmatch(plain):
        return _inches(found.groups()) * INCH_M
    if found := _BARE.fullmatch(plain):
        return _number(found.group(1)) * (FOOT_M if units == "imperial" else 1.0)
    return None


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _inches(groups: tuple[str | None, ...]) -> float:
    """Whole or decimal inches, a fraction beside them, or a fraction alone."""
    whole, over, under, only_over, only_under = groups
    inches = _number(whole) if whole else 0.0
    for top, bottom in ((over, under), (only_over, only_under)):
        if top and bottom:
            inches += int(top) / int(bottom) if int(bottom) else math.nan
    return inches


def write_length(length_m: float, units: Units) -> str:
    """Write metres in the studio's units: feet and inches to the half inch, or metres to the centimetre.

    >>> write_length(2.286, "imperial"), write_length(2.286, "metric"), write_length(0.254, "imperial")
    ('7\\' 6"', '2.29 m', '10"')
    """
    if units == "metric":
        return f"{length_m:.2f} m"
    return _feet_inches(length_m, 2)


def write_cut(length_mm: int, units: Units) -> str:
    """A length to cut off: whole millimetres, or feet and inches to the quarter.

    >>> write_cut(2286, "metric"), write_cut(2286, "imperial"), write_cut(108, "imperial")
    ('2286 mm', '7\\' 6"', '4¼"')
    """
    return f"{length_mm} mm" if units == "metric" else _feet_inches(length_mm / 1000, 4)


def write_diameter(across_m: float, units: Units) -> str:
    """A balloon's diameter as the trade says it: inches to the quarter, never feet; or centimetres to the millimetre.

    >>> write_diameter(0.10795, "imperial"), write_diameter(0.381, "imperial"), write_diameter(0.115, "metric")
    ('4¼"', '15"', '11.5 cm')
    """
    if units == "metric":
        return f"{across_m * 100:.1f}".removesuffix(".0") + " cm"
    return _inches_to(round(across_m / INCH_M * 4), 4)


def write_amount(amount: Decimal, unit: str, units: Units) -> str:
    """So much of something in its unit, lengths and volumes in the studio's own. A bare number for single things.

    A cubic foot is 0.028316846592 m³ exactly: the cube of the foot of 1959.

    >>> write_amount(Decimal("5.400"), "m", "metric"), write_amount(Decimal("12"), "each", "metric")
    ('5.40 m', '12')
    >>> write_amount(Decimal("2.286"), "m", "imperial"), write_amount(Decimal("0.1"), "m³", "imperial")
    ('7\\' 6"', '3.5 ft³')
    """
    if unit == "m":
        return write_length(float(amount), units)
    if unit == "m³" and units == "imperial":
        return f"{float(amount) / FOOT_M**3:.1f} ft³"
    number = f"{amount.normalize():f}"
    return number if unit == "each" else f"{number} {unit}"


def _feet_inches(length_m: float, parts: int) -> str:
    """Rounded to so many parts of an inch: 2 or 4."""
    sign = "-" if length_m < 0 else ""
    feet, rest = divmod(round(abs(length_m) / INCH_M * parts), 12 * parts)
    if not feet:
        return sign + _inches_to(rest, parts)
    return f"{sign}{feet}' {_inches_to(rest, parts)}" if rest else f"{sign}{feet}'"


def _inches_to(count: int, parts: int) -> str:
    whole, rest = divmod(count, parts)
    return f"{whole or ''}{FRACTIONS[rest * 4 // parts]}" + '"' if count else '0"'


def write_exact(length_m: float, units: Units) -> str:
    """As `write_length`, or finer where that would lose half a millimetre.

    >>> write_exact(0.11, "imperial"), write_exact(2.0, "imperial"), write_exact(2.286, "metric")
    ('4.33 in', '6\\' 6.74"', '2.286 m')
    """
    text = write_length(length_m, units)
    if abs(read_length(text, units=units, what="length", at_most_m=1e9) - length_m) <= 0.0005:
        return text
    if units == "imperial":
        feet, inches = divmod(round(length_m / INCH_M, 2), 12)
        fine = f"{inches:.2f}".rstrip("0").rstrip(".")
        return f"{feet:.0f}' {fine}\"" if feet else f"{fine} in"
    return f"{length_m:.4f}".rstrip("0").rstrip(".") + " m"

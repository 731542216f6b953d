"""Places on a support: as people say them, as the document holds them, as lengths along the path."""

from __future__ import annotations

import re

from jobs.design.stretch import Stretch
from jobs.design.supports.base import NoSuchPlace, Support
from jobs.design.values import Place
from studio.measure import LengthError, Units, read_length, write_exact

EXAMPLES = {
    "metric": "“left 1.8 m”, “1.2 m along”, “40 %”, “start” or “end”",
    "imperial": "“left 6 ft”, “4 ft along”, “40 %”, “start” or “end”",
}


class PlaceError(ValueError):
    """A place that cannot be read: what was expected, what came."""


def read_place(text: str, units: Units) -> Place:
    """Read "left 6 ft", "40 %", "1.2 m along", "start" or "end". Raises PlaceError.

    >>> read_place("right 2' 6\\"", "imperial").height_m
    0.762
    """
    plain = " ".join(text.lower().split())
    if plain in ("start", "end"):
        return Place(share=0.0 if plain == "start" else 1.0)
    if found := re.fullmatch(r"(\d+(?:[.,]\d+)?) ?%", plain):
        percent = float(found.group(1).replace(",", "."))
        if percent <= 100:
            return Place(share=percent / 100)
    elif found := re.fullmatch(r"(.+) along", plain):
        return Place(length_m=_length(found.group(1), units, text))
    elif found := re.fullmatch(r"(left|right) (.+)|(.+) (left|right)", plain):
        side, height = found.group(1) or found.group(4), found.group(2) or found.group(3)
        return Place(
            height_m=_length(height, units, text), side="left" if side == "left" else "right"
        )
    raise PlaceError(f"expected a place such as {EXAMPLES[units]}, got “{text.strip()}”.")


def _length(part: str, units: Units, text: str) -> float:
    try:
        return read_length(part, units=units, what="place")
    except LengthError:
        raise PlaceError(
            f"expected a place such as {EXAMPLES[units]}, got “{text.strip()}”."
        ) from None


def write_place(place: Place, units: Units) -> str:
    """Write a place as `read_place` reads it."""
    if place.share is not None:
        words = {0.0: "start", 1.0: "end"}
        return words.get(place.share, f"{round(place.share * 100, 4):g} %")
    if place.length_m is not None:
        return f"{write_exact(place.length_m, units)} along"
    return f"{place.side} {write_exact(place.height_m or 0.0, units)}"


def s_of(support: Support, place: Place) -> float:
    """Length along the support's path. Raises NoSuchPlace, with what was expected and what came."""
    if place.share is not None:
        return place.share * support.length_m
    if place.length_m is not None:
        if place.length_m > support.length_m + 1e-9:
            raise NoSuchPlace(
                f"expected a length of at most {support.length_m:.2f} m, got {place.length_m:.2f} m"
            )
        return min(place.length_m, support.length_m)
    if place.height_m is None or place.side is None:
        raise NoSuchPlace("expected a length, a share, or a height with its side, got none of them")
    return support.s_at_height(place.height_m, place.side)


def stretch_of(support: Support, start: Place, end: Place) -> Stretch:
    """The stretch from start to end the way of the path; on a closed one it may pass the start.

    Raises NoSuchPlace when a place does not exist or the stretch has no length.
    """
    first, last = s_of(support, start), s_of(support, end)
    if support.closed and last <= first + 1e-9:
        last += support.length_m
    if last - first < 0.01:
        raise NoSuchPlace(
            f"expected an end beyond the start by at least 1 cm, got {first:.2f} m to {last:.2f} m"
        )
    if last - first > support.length_m + 1e-9:
        raise NoSuchPlace("expected a stretch no longer than the support, got one that laps itself")
    return Stretch(start_s_m=first, end_s_m=last)

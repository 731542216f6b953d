"""Minutes as counted beside minutes as they were: compared, shared over pieces, turned into rates. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from pricing.core.need import Labour
from pricing.core.shares import largest_remainder

PLACES = ("workshop", "site")

type Taken = Mapping[str, int]  # place: minutes of everybody together, as they were written down


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """Work at one place: what was counted, and what it took (None: nobody wrote it down)."""

    place: str
    counted: Decimal
    taken: int | None
    jobs: int = 1

    @property
    def where(self) -> str:
        """As people read it."""
        return "on site" if self.place == "site" else self.place

    @property
    def more(self) -> Decimal | None:
        """Minutes beyond those that were counted; below zero where it took fewer."""
        return None if self.taken is None else self.taken - self.counted

    @property
    def ratio(self) -> Decimal | None:
        """Taken over counted; None where either is missing."""
        return self.taken / self.counted if self.taken and self.counted else None


def minutes_at(labour: Iterable[Labour]) -> dict[str, Decimal]:
    """Counted minutes by place; a place without work is there with nothing."""
    found = dict.fromkeys(PLACES, Decimal(0))
    for work in labour:
        found[work.place] += work.minutes
    return found


def compare_minutes(counted: Mapping[str, Decimal], taken: Taken) -> tuple[Compared, ...]:
    """One job, place by place."""
    return tuple(
        Compared(place=place, counted=counted.get(place, Decimal(0)), taken=taken.get(place))
        for place in PLACES
    )


def total_minutes_taken(counted: Mapping[str, Decimal], taken: Taken) -> int | None:
    """Minutes of the whole job; None while a place that has counted work has none written down."""
    missing = [place for place, minutes in counted.items() if minutes and place not in taken]
    return None if missing or not taken else sum(taken.values())


def share_minutes(taken: int, counted: Sequence[Decimal]) -> list[int]:
    """Minutes of a job over its pieces, by those that each was counted at; they add up to the whole.

    >>> share_minutes(190, [Decimal(60), Decimal(120)])
    [63, 127]
    """
    weights = [Fraction(minutes) for minutes in counted]
    return largest_remainder(taken, weights if any(weights) else [1] * len(weights))


type Past = Sequence[
    tuple[Sequence[Labour], Taken]
]  # finished jobs, counted as we would count them today


def ratios_shown_by(past: Past) -> tuple[Compared, ...]:
    """All finished jobs together, place by place; a job speaks for the places it was written down for."""
    places = []
    for place in PLACES:
        told = [
            (minutes_at(labour)[place], taken[place]) for labour, taken in past if place in taken
        ]
        told = [(counted, taken) for counted, taken in told if counted]
        if told:
            counted, taken = sum(c for c, _ in told), sum(t for _, t in told)
            places.append(
                Compared(place=place, counted=Decimal(counted), taken=taken, jobs=len(told))
            )
    return tuple(places)


def corrected_minutes(minutes: Mapping[str, float], past: Past) -> dict[str, float]:
    """Minutes of each operation that finished jobs had, as those jobs show them; the others stand.

    An operation is stretched as all work of its place was: nobody times each by itself. Counting the same jobs
    anew with the answer gives what they took.

    >>> from pricing.core.need import Labour
    >>> bows = Labour(operation="tie a bow", place="workshop", times=Decimal(10), minutes=Decimal(30))
    >>> put_right({"tie a bow": 3.0, "load": 20.0}, [([bows], {"workshop": 36})])
    {'tie a bow': 3.6}
    """
    ratios = {c.place: c.ratio for c in ratios_shown_by(past)}
    seen = {
        (work.operation, work.place)
        for labour, taken in past for work in labour if work.place in taken
    }  # fmt: skip
    return {
        operation: round(minutes[operation] * float(ratio), 4)
        for operation, place in sorted(seen)
        if (ratio := ratios.get(place)) and operation in minutes
    }

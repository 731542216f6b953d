"""How much has to be bought by which day, beside what is there, what comes, and what others were promised."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class Short:
    """What a key is short of, and what stays for those to whom it is promised."""

    days: list[tuple[date, int]]  # so much more by then, the earliest first
    kept: int


def short_by_day(
    asked: Counter[date], elsewhere: Counter[date], shelf: int, arrivals: Counter[date]
) -> Short:
    """Until a day: what all need beyond what is there, less what those elsewhere lack without us.

    What is asked for first may have what is promised for later: then more is wanted by the later day.
    """
    needed = others = short = without = still = 0
    days = []
    for day in sorted(asked | elsewhere):
        there = shelf + sum(many for on, many in arrivals.items() if on <= day)
        needed += asked[day] + elsewhere[day]
        others += elsewhere[day]
        short, without = max(short, needed - there), max(without, others - there)
        if more := max(short - without - still, 0):
            days.append((day, more))
            still += more
    return Short(days=days, kept=others - without)

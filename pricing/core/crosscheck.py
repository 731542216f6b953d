"""What a practitioner looks at before a price goes out: so much a balloon, a metre, an hour, beside the last jobs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from statistics import median

from pricing.core.money import Money

METRE, FOOT = ("a metre", Decimal(1)), ("a foot", Decimal("0.3048"))  # exact since 1959
FAR = Decimal("0.35")  # a figure farther from the usual than this part of it is worth a look


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFigures:
    """A job as it was offered: the net price, and what it holds."""

    net: Decimal
    balls: int
    metres: Decimal
    minutes: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossCheck:
    what: str  # "a balloon"
    now: Money
    usual: Money | None  # the median of the last jobs; None where there are none
    far: bool


def cross_check(
    job: JobFigures, last: Sequence[JobFigures], currency: str, length: tuple[str, Decimal] = METRE
) -> tuple[CrossCheck, ...]:
    """The price by balloon, metre or foot, and hour; figures that cannot be worked out are left out."""
    name, metres = length

    def per_length(each: JobFigures) -> Decimal | None:
        return each.net * metres / each.metres if each.metres else None

    ways = (("a balloon", _per_ball), (name, per_length), ("an hour of work", _per_hour))
    checks = []
    for what, per in ways:
        now = per(job)
        if now is None:
            continue
        known = [value for each in last if (value := per(each)) is not None]
        usual = median(known) if known else None
        far = usual is not None and abs(now - usual) > FAR * usual
        checks.append(
            CrossCheck(
                what=what,
                now=Money(now, currency),
                usual=None if usual is None else Money(usual, currency),
                far=far,
            )
        )
    return tuple(checks)


def _per_ball(job: JobFigures) -> Decimal | None:
    return job.net / job.balls if job.balls else None


def _per_hour(job: JobFigures) -> Decimal | None:
    return job.net * 60 / job.minutes if job.minutes else None

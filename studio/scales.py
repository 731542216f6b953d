"""Scales as people type them, one step a line: "60 days: 25 %". Read into steps, and written back. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from itertools import pairwise

LONGEST_DAYS = 1000
MOST_STEPS = 12
STEP = re.compile(
    r"(\d{1,6})(?:\s*days?)?(?:\s*before)?(?:\s*[:=;]\s*|\s+)(\d{1,6}(?:[.,]\d{1,4})?)\s*%?",
    re.IGNORECASE,
)

type Steps = list[tuple[int, Decimal]]  # days before the event, percent of the total


class ScaleError(ValueError):
    """What is wrong with a scale as typed, as a sentence."""


def read_steps(text: str, what: str) -> Steps:
    """Steps in the order typed, days falling. Raises ScaleError, naming the line."""
    steps: Steps = []
    for n, line in enumerate((line.strip() for line in text.splitlines()), start=1):
        if line:
            steps.append(_step(line, f"{what}, line {n}"))
    if len(steps) > MOST_STEPS:
        raise ScaleError(f"{what}: expected at most {MOST_STEPS} steps, got {len(steps)}.")
    for (earlier, _), (later, _) in pairwise(steps):
        if later >= earlier:
            raise ScaleError(
                f"{what}: expected fewer days from line to line, got {later} days after {earlier}."
            )
    return steps


def _step(line: str, where: str) -> tuple[int, Decimal]:
    found = STEP.fullmatch(line)
    if not found:
        raise ScaleError(f"{where}: expected a step such as “60 days: 25 %”, got “{line[:60]}”.")
    days, percent = int(found[1]), Decimal(found[2].replace(",", "."))
    if days > LONGEST_DAYS:
        raise ScaleError(f"{where}: expected at most {LONGEST_DAYS} days, got {days}.")
    if percent > 100 or round(percent, 2) != percent:
        raise ScaleError(f"{where}: expected 0 to 100 % with two decimals at most, got {percent}.")
    return days, percent


def read_scale(text: str, what: str) -> list[list[str]]:
    """[[days, percent], …]: nearer to the event no less is kept, and the last step is the event's own day."""
    steps = read_steps(text, what)
    for (_, earlier), (days, later) in pairwise(steps):
        if later < earlier:
            raise ScaleError(
                f"{what}: expected no less to be kept nearer to the event, got {_plain(later)} % "
                f"at {days} days after {_plain(earlier)} %."
            )
    if steps and steps[-1][0] != 0:
        raise ScaleError(
            f"{what}: expected a last line for 0 days, the day of the event, got {steps[-1][0]} days."
        )
    return [[str(days), _plain(percent)] for days, percent in steps]


def read_stages(text: str, what: str) -> list[list[str]]:
    """[[percent, days], …]: parts of the total, together no more than the whole."""
    steps = read_steps(text, what)
    if any(not percent for _, percent in steps):
        raise ScaleError(f"{what}: expected more than 0 % in every line, got 0 %.")
    whole = sum((percent for _, percent in steps), Decimal(0))
    if whole > 100:
        raise ScaleError(f"{what}: expected 100 % at most in all, got {_plain(whole)} %.")
    return [[_plain(percent), str(days)] for days, percent in steps]


def write_scale(rows: Sequence[Sequence[str]]) -> str:
    """As it is typed.

    >>> write_call_off([["60", "25"], ["0", "100"]])
    '60 days: 25 %\\n0 days: 100 %'
    """
    return "\n".join(
        f"{days} day{'' if days == '1' else 's'}: {percent} %" for days, percent in rows
    )


def write_stages(rows: Sequence[Sequence[str]]) -> str:
    return write_scale([(days, percent) for percent, days in rows])


def _plain(percent: Decimal) -> str:
    return f"{percent.normalize():f}"

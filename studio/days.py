"""Days counted from a due date, as people type them: "-7, 2, 10" is a week ahead, two and ten days late. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence

from studio.scales import ScaleError

FARTHEST, MOST = 90, 6


def read_days(text: str, what: str) -> list[int]:
    """Days in rising order, none twice. Raises ScaleError with the part that is no day."""
    parts = [part for part in re.split(r"[,;\s]+", text.replace("−", "-").strip()) if part]
    for part in parts:
        if not re.fullmatch(r"[+-]?\d{1,3}", part) or abs(int(part)) > FARTHEST:
            raise ScaleError(
                f"{what}: expected whole days from -{FARTHEST} to {FARTHEST}, such as “-7, 2, 10”, got “{part}”."
            )
    days = sorted({int(part) for part in parts})
    if len(days) > MOST:
        raise ScaleError(f"{what}: expected at most {MOST} days, got {len(days)}.")
    return days


def write_days(days: Sequence[int]) -> str:
    return ", ".join(str(day) for day in days)

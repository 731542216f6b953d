"""What stands in an address or comes from a hidden field, read once, where it comes in. Pure.

>>> whole("17"), whole("9" * 30), whole("x"), whole("")
(17, None, None, None)
>>> moment("2026-05-01T10:00:00+02:00").isoformat(), moment("0001-01-01T00:00:00+14:00"), moment("May")
('2026-05-01T08:00:00+00:00', None, None)
"""

from __future__ import annotations

from datetime import UTC, date, datetime

FIRST, LAST = date(2000, 1, 1), date(2100, 12, 31)  # days that a studio plans and looks back on
DIGITS = 15  # more than anything here is counted to, and whole in every database


def whole_number_in(text: str) -> int | None:
    """A whole number of at most fifteen digits, or None."""
    return int(text) if text.isdecimal() and len(text) <= DIGITS else None


def day_in(text: str) -> date | None:
    """A day between FIRST and LAST (ISO 8601), or None."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return None
    return day if FIRST <= day <= LAST else None


def moment_in(text: str) -> datetime | None:
    """A moment with its offset (ISO 8601), in UTC, or None."""
    try:
        at = datetime.fromisoformat(text)
        return at.astimezone(UTC) if at.tzinfo else None
    except (ValueError, OverflowError):
        return None

"""What crew read: everything of a job but sums of money, also where somebody typed one into a sentence."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from typing import TYPE_CHECKING

from jobs.models import Job, LogEntry
from jobs.proposal.corrected import PRICE, correction_from
from studio.models import Person
from studio.permissions import Permission
from studio.sums import without_sums

if TYPE_CHECKING:
    from django.forms import BaseForm

    from studio.access import Access

SHOWN = 20
MONEY = ("payment", "invoice")  # a line that vouches for one of these is about money alone


@dataclass(frozen=True, slots=True, kw_only=True)
class LogLine:
    """One line of a job's log as it is read."""

    at: datetime
    what: str
    who: Person | None


def log_for(access: Access, job: Job) -> list[LogLine]:
    """The newest lines of a job's log: for crew without those about money, and without sums in the others."""
    rows = access.rows(LogEntry).filter(job=job).select_related("who").order_by("-pk")
    newest = list(rows[:SHOWN]) if access.may(Permission.SEE_MONEY) else _without_money(rows)
    return [LogLine(at=row.at, what=unpriced(access, row.what), who=row.who) for row in newest]


def _without_money(rows: Iterable[LogEntry]) -> list[LogEntry]:
    return list(islice((row for row in rows if not is_about_money(row)), SHOWN))


def is_about_money(row: LogEntry) -> bool:
    record = correction_from(row.data)
    return any(name in row.data for name in MONEY) or bool(record and record.what == PRICE)


def unpriced(access: Access, text: str) -> str:
    """Words that somebody typed, as this person reads them."""
    if access.may(Permission.SEE_MONEY):
        return text
    return without_sums(text, access.studio.currency, access.studio.language)


def hide_sums(access: Access, *forms: BaseForm) -> None:
    """Show forms that crew only read without the sums that somebody typed into their words."""
    for form in forms:
        for name, field in form.fields.items():
            value = form.get_initial_for_field(field, name)
            if isinstance(value, str):
                form.initial[name] = unpriced(access, value)

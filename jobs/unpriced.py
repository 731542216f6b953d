"""What crew read: everything of a job but sums of money, also where somebody typed one into a sentence."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from jobs.models import Happening, Job
from jobs.proposal.correcting import DESIGN
from studio.models import Person
from studio.sums import without_sums

if TYPE_CHECKING:
    from django.forms import BaseForm

    from studio.door import SeatAt

SHOWN = 20
MONEY = ("payment", "invoice")  # a line that vouches for one of these is about money alone


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of a job's log as it is read."""

    at: datetime
    what: str
    who: Person | None


def log_for(seat: SeatAt, job: Job) -> list[Line]:
    """The newest lines of a job's log: for crew without those about money, and without sums in the others."""
    rows = seat.rows(Happening).filter(job=job).select_related("who").order_by("-pk")
    if not seat.sees_prices:
        rows = [row for row in rows if not is_about_money(row)]
    return [Line(at=row.at, what=unpriced(seat, row.what), who=row.who) for row in rows[:SHOWN]]


def is_about_money(row: Happening) -> bool:
    return any(name in row.data for name in MONEY) or row.data.get("corrected", DESIGN) != DESIGN


def unpriced(seat: SeatAt, text: str) -> str:
    """Words that somebody typed, as this seat reads them."""
    if seat.sees_prices:
        return text
    return without_sums(text, seat.studio.currency, seat.studio.language)


def hide_sums(seat: SeatAt, *forms: BaseForm) -> None:
    """Show forms that crew only read without the sums that somebody typed into their words."""
    for form in forms:
        for name, field in form.fields.items():
            value = form.get_initial_for_field(field, name)
            if isinstance(value, str):
                form.initial[name] = unpriced(seat, value)

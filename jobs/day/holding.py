"""How long a job holds supplies and kit before its deposit: for some days, and then somebody says so again."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from django.db import transaction
from django.utils.timezone import localtime

from jobs.briefs import note
from jobs.day.reserving import let_go as release
from jobs.day.reserving import promise
from jobs.models import Job
from jobs.rows import HELD_FOR_DAYS, MAY_HOLD

if TYPE_CHECKING:
    from studio.door import SeatAt


class CannotHold(ValueError):
    """Why nothing is held for this job, or let go, as a sentence."""


def until(*, said_on: date, days: int, event_on: date, due_on: date | None = None) -> date:
    """The last day of holding: so many days from what was said, not before a deposit is due, not after the event.

    >>> until(said_on=date(2026, 5, 1), days=7, event_on=date(2026, 6, 1), due_on=date(2026, 5, 3))
    datetime.date(2026, 5, 8)
    """
    last = max(said_on + timedelta(days=days), due_on or said_on)
    return max(min(last, event_on), said_on)


def hold_from_yes(seat: SeatAt, job: Job, *, on: date, deposit_due: date | None) -> None:
    """What the yes promised is held for the days that the deposit has."""
    _set(seat, job, _last_day(seat, job, on, deposit_due))


def hold(seat: SeatAt, job: Job, *, on: date) -> str:
    """Reserve and book anew, and hold from today; answers what is lacking, or "". Raises CannotHold."""
    if job.stage not in MAY_HOLD:
        raise CannotHold(
            f"Supplies and kit are held for jobs from the proposal on; this one is {job.get_stage_display()}."
        )
    with transaction.atomic():
        lacking = promise(seat, job)
        if job.stage in HELD_FOR_DAYS:
            _keep(seat, job, on)
    return lacking


def keep_holding(seat: SeatAt, job: Job, *, on: date) -> None:
    """So many days more. Raises CannotHold where somebody let it go, or booked it, in between."""
    if job.stage not in HELD_FOR_DAYS or job.held_until is None:
        raise CannotHold("Nothing is held for some days only here. Look at the job again.")
    with transaction.atomic():
        _keep(seat, job, on)


def _keep(seat: SeatAt, job: Job, on: date) -> None:
    _set(seat, job, _last_day(seat, job, on, None))
    note(seat, job, f"Supplies and kit are held until {job.held_until:%d %B %Y}")


def let_go(seat: SeatAt, job: Job) -> None:
    """Others may have what was held. Raises CannotHold once a deposit is here: then a job is called off or moved."""
    if job.stage in MAY_HOLD and job.stage not in HELD_FOR_DAYS:
        raise CannotHold(
            f"A job that is {job.get_stage_display()} keeps what it has: call it off or move it."
        )
    with transaction.atomic():
        release(seat, job)
        _set(seat, job, None)
        note(seat, job, "Supplies and kit are let go")


def _last_day(seat: SeatAt, job: Job, on: date, due_on: date | None) -> date:
    event_on = localtime(job.event_start).date()
    return until(said_on=on, days=seat.studio.deposit_days, event_on=event_on, due_on=due_on)


def _set(seat: SeatAt, job: Job, day: date | None) -> None:
    seat.rows(Job).filter(pk=job.pk).update(held_until=day)
    job.held_until = day

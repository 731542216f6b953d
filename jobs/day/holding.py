"""How long a job holds supplies and kit before its deposit: for some days, and then somebody says so again."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from django.db import transaction
from django.utils.timezone import localtime

from jobs.day.reserving import promise_all
from jobs.day.reserving import release_all as release
from jobs.job_stage import HELD_FOR_DAYS, MAY_HOLD
from jobs.log import write_log
from jobs.models import Job

if TYPE_CHECKING:
    from studio.access import Access


class CannotHold(ValueError):
    """Why nothing is held for this job, or let go, as a sentence."""


def last_day_of_holding(
    *, said_on: date, days: int, event_on: date, due_on: date | None = None
) -> date:
    """The last day of holding: so many days from what was said, not before a deposit is due, not after the event.

    >>> until(said_on=date(2026, 5, 1), days=7, event_on=date(2026, 6, 1), due_on=date(2026, 5, 3))
    datetime.date(2026, 5, 8)
    """
    last = max(said_on + timedelta(days=days), due_on or said_on)
    return max(min(last, event_on), said_on)


def hold_from_yes(access: Access, job: Job, *, on: date, deposit_due: date | None) -> None:
    """What the yes promised is held for the days that the deposit has."""
    _set(access, job, _last_day(access, job, on, deposit_due))


def hold_anew(access: Access, job: Job, *, on: date) -> str:
    """Reserve and book anew, and hold from today; answers what is lacking, or "". Raises CannotHold."""
    if job.stage not in MAY_HOLD:
        raise CannotHold(
            f"Supplies and kit are held for jobs from the proposal on; this one is {job.get_stage_display()}."
        )
    with transaction.atomic():
        lacking = promise_all(access, job)
        if job.stage in HELD_FOR_DAYS:
            _keep(access, job, on)
    return lacking


def keep_holding(access: Access, job: Job, *, on: date) -> None:
    """So many days more. Raises CannotHold where somebody let it go, or booked it, in between."""
    if job.stage not in HELD_FOR_DAYS or job.held_until is None:
        raise CannotHold("Nothing is held for some days only here. Look at the job again.")
    with transaction.atomic():
        _keep(access, job, on)


def _keep(access: Access, job: Job, on: date) -> None:
    _set(access, job, _last_day(access, job, on, None))
    write_log(access, job, f"Supplies and kit are held until {job.held_until:%d %B %Y}")


def stop_holding(access: Access, job: Job) -> None:
    """Others may have what was held. Raises CannotHold once a deposit is here: then a job is called off or moved."""
    if job.stage in MAY_HOLD and job.stage not in HELD_FOR_DAYS:
        raise CannotHold(
            f"A job that is {job.get_stage_display()} keeps what it has: call it off or move it."
        )
    with transaction.atomic():
        release(access, job)
        _set(access, job, None)
        write_log(access, job, "Supplies and kit are let go")


def _last_day(access: Access, job: Job, on: date, due_on: date | None) -> date:
    event_on = localtime(job.event_start).date()
    return last_day_of_holding(
        said_on=on, days=access.studio.deposit_days, event_on=event_on, due_on=due_on
    )


def _set(access: Access, job: Job, day: date | None) -> None:
    access.rows(Job).filter(pk=job.pk).update(held_until=day)
    job.held_until = day

"""Today: what is late, what the next days bring, what jobs wait for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import localdate, now
from django.views.decorators.http import require_GET

from jobs.day.reserving import about
from jobs.models import Job, JobDesign, Offer
from jobs.proposal.signs import Signs, signs_of
from jobs.rows import LIVE, MAY_HOLD
from jobs.views.diary import days_of
from jobs.waiting import Wait
from jobs.waits import waits_of
from pricing.kit import late_kit
from pricing.kit_lacks import Lack, lacks
from studio.mail import held_back

if TYPE_CHECKING:
    from datetime import date

    from studio.door import SeatedRequest

AHEAD = timedelta(days=14)
SHOWN = 60  # jobs with nothing late; what is late is never left out


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A job and what it waits for."""

    job: Job
    waits: tuple[Wait, ...]
    last: tuple[Offer, Signs] | None

    @property
    def is_late(self) -> bool:
        return any(wait.late for wait in self.waits)


@require_GET
def today(request: SeatedRequest) -> HttpResponse:
    on = localdate()
    rows = rows_of(request, on)
    late = [row for row in rows if row.is_late]
    rest = [row for row in rows if not row.is_late]
    context = {
        "on": on,
        "days": days_of(request, on, on + AHEAD),
        "rows": late + rest[:SHOWN],
        "more": max(len(rest) - SHOWN, 0),
        "late_kit": late_kit(request.seat),
        "letters": held_back(request.seat, at=now()) if request.seat.sees_prices else None,
        "lacks": lacks_of(request, [row.job for row in rows]),
    }
    return render(request, "jobs/today.html", context)


def rows_of(request: SeatedRequest, on: date) -> list[Row]:
    """Every job that is open or owes money, by the day of its event. To find what is late all are asked."""
    seat = request.seat
    jobs = seat.rows(Job)
    jobs = jobs.wanting().with_money() if seat.sees_prices else jobs.live()
    designs = seat.rows(JobDesign).filter(job__in=seat.rows(Job).live().values("pk"))
    designed = set(designs.values_list("job_id", flat=True))
    rows = [
        Row(
            job=job,
            waits=waits_of(seat, job, on=on, designed=job.pk in designed),
            last=last_sent(request, job, on),
        )
        for job in jobs.with_people().order_by("event_start", "pk")
    ]
    return [row for row in rows if row.waits or row.job.stage in LIVE]


def last_sent(request: SeatedRequest, job: Job, on: date) -> tuple[Offer, Signs] | None:
    """The newest version of a `with_money` job and what is known of it, for those who see prices."""
    offers = list(job.offers.all()) if request.seat.sees_prices else []
    return (offers[-1], signs_of(offers[-1], on=on)) if offers else None


def lacks_of(request: SeatedRequest, jobs: list[Job]) -> list[tuple[Job, Lack]]:
    """Trouble with the kit of jobs that hold some, each beside its job."""
    named = {about(job): job for job in jobs if job.stage in MAY_HOLD}
    found = [lack for lack in lacks(request.seat, named) if lack.weight != "note"]
    return [(named[lack.about], lack) for lack in found]

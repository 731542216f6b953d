"""Today: what is late, what the next days bring, what jobs wait for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import localdate, now
from django.views.decorators.http import require_GET

from jobs.job_stage import LIVE, MAY_HOLD
from jobs.models import Job, JobDesign, Offer
from jobs.next_step_facts import next_steps_of
from jobs.next_steps import NextStep
from jobs.pages.day.diary import days_of
from jobs.proposal.client_activity import ClientActivity, activity_of
from jobs.rows import jobs_of
from pricing.stores.kit import late_kit
from pricing.stores.kit_lacks import KitLack, kit_lacks
from studio.mail import held_mail
from studio.permissions import Permission

if TYPE_CHECKING:
    from datetime import date

    from studio.access import AccessRequest

AHEAD = timedelta(days=14)
SHOWN = 60  # jobs with nothing late; what is late is never left out


@dataclass(frozen=True, slots=True, kw_only=True)
class TodayRow:
    """A job and what it waits for."""

    job: Job
    waits: tuple[NextStep, ...]
    last: tuple[Offer, ClientActivity] | None

    @property
    def is_late(self) -> bool:
        return any(wait.late for wait in self.waits)


@require_GET
def today_page(request: AccessRequest) -> HttpResponse:
    on = localdate()
    rows = today_rows(request, on)
    late = [row for row in rows if row.is_late]
    rest = [row for row in rows if not row.is_late]
    context = {
        "on": on,
        "days": days_of(request, on, on + AHEAD),
        "rows": late + rest[:SHOWN],
        "more": max(len(rest) - SHOWN, 0),
        "late_kit": late_kit(request.access),
        "letters": held_mail(request.access, at=now())
        if request.access.may(Permission.SEE_STUDIO)
        else None,
        "lacks": lacks_of(request, [row.job for row in rows]),
    }
    return render(request, "jobs/today.html", context)


def today_rows(request: AccessRequest, on: date) -> list[TodayRow]:
    """Every job that is open or owes money, by the day of its event. To find what is late all are asked."""
    access = request.access
    jobs = jobs_of(access)
    jobs = jobs.wanting().with_money() if access.may(Permission.SEE_MONEY) else jobs.live()
    designs = access.rows(JobDesign).filter(job__in=jobs_of(access).live().values("pk"))
    designed = set(designs.values_list("job_id", flat=True))
    rows = [
        TodayRow(
            job=job,
            waits=next_steps_of(access, job, on=on, designed=job.pk in designed),
            last=last_sent(request, job, on),
        )
        for job in jobs.with_people().order_by("event_start", "pk")
    ]
    return [row for row in rows if row.waits or row.job.stage in LIVE]


def last_sent(request: AccessRequest, job: Job, on: date) -> tuple[Offer, ClientActivity] | None:
    """The newest version of a `with_money` job and what is known of it, for those who see prices."""
    offers = list(job.offers.all()) if request.access.may(Permission.SEE_MONEY) else []
    return (offers[-1], activity_of(offers[-1], on=on)) if offers else None


def lacks_of(request: AccessRequest, jobs: list[Job]) -> list[tuple[Job, KitLack]]:
    """Trouble with the kit of jobs that hold some, each beside its job."""
    named = {job.holder_id: job for job in jobs if job.holder_id and job.stage in MAY_HOLD}
    found = [lack for lack in kit_lacks(request.access, named) if lack.weight != "note"]
    return [(named[lack.holder.pk], lack) for lack in found if lack.holder]

"""The diary by day, and Today."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import get_current_timezone, localdate, now
from django.views.decorators.http import require_GET

from jobs.day.agenda import by_day
from jobs.models import Job, JobDesign, Offer
from jobs.proposal.signs import Signs, signs_of
from jobs.waits import waits_of
from pricing.kit import late_kit
from studio.asked import FIRST, LAST, a_day
from studio.mail import held_back

if TYPE_CHECKING:
    from studio.door import SeatedRequest

STRETCH = timedelta(weeks=6)


@require_GET
def diary(request: SeatedRequest) -> HttpResponse:
    start = day_from(request)
    end = start + STRETCH
    context = {
        "days": days(request, start, end),
        "start": start,
        "earlier": start - STRETCH,
        "later": end,
    }
    return render(request, "jobs/diary.html", context)


@require_GET
def today(request: SeatedRequest) -> HttpResponse:
    on = localdate()
    jobs = request.seat.rows(Job).live().with_people()
    if request.seat.sees_prices:
        jobs = jobs.with_money()
    designed = set(request.seat.rows(JobDesign).values_list("job_id", flat=True))
    rows = [
        (
            job,
            waits_of(request.seat, job, on=on, designed=job.pk in designed),
            last_sent(request, job),
        )
        for job in jobs.order_by("event_start")[:60]
    ]
    rows.sort(key=lambda row: not any(w.late for w in row[1]))
    context = {
        "on": on,
        "days": days(request, on, on + timedelta(days=14)),
        "rows": rows,
        "late_kit": late_kit(request.seat),
        "letters": held_back(request.seat, at=now()) if request.seat.sees_prices else None,
    }
    return render(request, "jobs/today.html", context)


def last_sent(request: SeatedRequest, job: Job) -> tuple[Offer, Signs] | None:
    """The newest version of a `with_money` job and what is known of it, for those who see prices."""
    offers = list(job.offers.all()) if request.seat.sees_prices else []
    return (offers[-1], signs_of(offers[-1], on=localdate())) if offers else None


def day_from(request: SeatedRequest) -> date:
    """The day an address names; today where it names none, with a sentence where it names something else."""
    text = request.GET.get("from", "")
    day = a_day(text)
    if text and day is None:
        span = f"{FIRST.year} to {LAST.year}"
        told = f"From: expected a day from {span} such as 2026-03-01, got “{text[:20]}”."
        messages.error(request, told)
    return day or localdate()


def days(request: SeatedRequest, start: date, end: date) -> list[tuple[date, list[object]]]:
    zone = get_current_timezone()
    first, last = (datetime.combine(day, time.min, zone) for day in (start, end))
    jobs = request.seat.rows(Job).standing().between(first, last).with_people()
    return by_day(jobs, zone, start, end)  # type: ignore[return-value]

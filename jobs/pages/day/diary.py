"""The diary by day."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import get_current_timezone, localdate
from django.views.decorators.http import require_GET

from jobs.day.agenda import diary_by_day
from jobs.rows import jobs_of
from studio.query_values import FIRST, LAST, day_in

if TYPE_CHECKING:
    from studio.access import AccessRequest

STRETCH = timedelta(weeks=6)


@require_GET
def diary_page(request: AccessRequest) -> HttpResponse:
    start = day_from(request)
    end = start + STRETCH
    context = {
        "days": days_of(request, start, end),
        "start": start,
        "earlier": start - STRETCH,
        "later": end,
    }
    return render(request, "jobs/day/diary.html", context)


def day_from(request: AccessRequest) -> date:
    """The day an address names; today where it names none, with a sentence where it names something else."""
    text = request.GET.get("from", "")
    day = day_in(text)
    if text and day is None:
        span = f"{FIRST.year} to {LAST.year}"
        told = f"From: expected a day from {span} such as 2026-03-01, got “{text[:20]}”."
        messages.error(request, told)
    return day or localdate()


def days_of(request: AccessRequest, start: date, end: date) -> list[tuple[date, list[object]]]:
    zone = get_current_timezone()
    first, last = (datetime.combine(day, time.min, zone) for day in (start, end))
    jobs = jobs_of(request.access).standing().between(first, last).with_people()
    return diary_by_day(jobs, zone, start, end)  # type: ignore[return-value]

"""The diary by day, and Today."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import get_current_timezone, localdate, localtime
from django.views.decorators.http import require_GET

from jobs.agenda import by_day
from jobs.ledger import standing_of
from jobs.models import Job, JobDesign
from jobs.waiting import Facts, Wait, waits_for
from pricing.core.money import Money, write_money

if TYPE_CHECKING:
    from studio.door import SeatedRequest

STRETCH = timedelta(weeks=6)


@require_GET
def diary(request: SeatedRequest) -> HttpResponse:
    start = day_from(request.GET.get("from", ""))
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
        (job, waits(request, job, on, job.pk in designed))
        for job in jobs.order_by("event_start")[:60]
    ]
    rows.sort(key=lambda row: not any(w.late for w in row[1]))
    context = {"on": on, "days": days(request, on, on + timedelta(days=14)), "rows": rows}
    return render(request, "jobs/today.html", context)


def day_from(text: str) -> date:
    """The day an address names; today where it names none."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return localdate()


def days(request: SeatedRequest, start: date, end: date) -> list[tuple[date, list[object]]]:
    zone = get_current_timezone()
    first, last = (datetime.combine(day, time.min, zone) for day in (start, end))
    jobs = request.seat.rows(Job).standing().between(first, last).with_people()
    return by_day(jobs, zone, start, end)  # type: ignore[return-value]


def waits(request: SeatedRequest, job: Job, on: date, designed: bool) -> tuple[Wait, ...]:
    """What a job waits for; without what concerns money for those who see none."""
    studio, sees = request.seat.studio, request.seat.sees_prices
    offers = list(job.offers.all()) if sees else []
    facts = Facts(
        stage=job.stage, on=on, event_start=localtime(job.event_start), event_end=localtime(job.event_end),
        designed=designed, latex_asked=job.latex != Job.Latex.NOT_ASKED,
        answer_until=offers[-1].stands_until if offers else None,
        standing=standing_of(job, on=on, currency=studio.currency) if sees else None,
    )  # fmt: skip

    def write(money: Money) -> str:
        return write_money(money, studio.language)

    return waits_for(facts, write, lambda day: f"{day:%-d %B}")

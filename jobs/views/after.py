"""After: the minutes that a job took, beside those it was counted at; what that left."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate, localtime
from django.views.decorators.http import require_http_methods

from jobs.after.minutes import compare
from jobs.after.taken import (
    AlreadyBack,
    counted_for,
    standing_lines,
    take_back,
    taken_by,
    write_down,
)
from jobs.day.travelling import loading_for, minutes_on_site
from jobs.forms.after import TimeForm
from jobs.gather import worked_for
from jobs.models import Job, TimeTaken
from jobs.money.profits import Profit, profits_of
from jobs.proposal.accepting import is_accepted
from jobs.stages import by_hand
from jobs.views.brief import the_job
from studio.once import once, press_of
from studio.presses import press_only

if TYPE_CHECKING:
    from studio.door import SeatedRequest


@require_http_methods(["GET", "POST"])
def after(request: SeatedRequest, number: int) -> HttpResponse:
    """What a job took, and a line more of it."""
    job = the_job(request, number)
    on = min(localdate(), localtime(job.event_start).date())
    form = TimeForm(request.POST or None, initial={"on": on})
    if request.method == "GET" or not form.is_valid():
        return show(request, job, form)

    def make() -> str:
        write_down(request.seat, job, **form.cleaned_data)
        return reverse("jobs:after", args=[number])

    leads_to = once(request.seat, press_of(request), make)
    messages.success(request, "Written down.")
    return redirect(leads_to)


@press_only("jobs:after", "number")
def time_back(request: SeatedRequest, number: int, pk: int) -> HttpResponse:
    """Take one line back."""
    line = request.seat.row(TimeTaken, job=the_job(request, number), pk=pk)
    try:
        take_back(request.seat, line)
    except AlreadyBack as reason:
        messages.error(request, str(reason))
    return redirect("jobs:after", number)


def show(request: SeatedRequest, job: Job, form: TimeForm) -> HttpResponse:
    seat = request.seat
    accepted = is_accepted(seat, job)
    context: dict[str, Any] = {
        "job": job,
        "form": form,
        "compared": compare(counted_for(seat, job), taken_by(seat, [job]).get(job.pk, {})),
        "site_minutes": site_minutes(request, job),
        "lines": standing_lines(seat, job),
        "moves": by_hand(job.stage, accepted=accepted) if job.stage in ("up", "down") else (),
        "accepted": accepted,
        "profit": profit_for(request, job) if accepted and seat.sees_prices else None,
    }
    return render(request, "jobs/after.html", context, status=422 if form.errors else 200)


def site_minutes(request: SeatedRequest, job: Job) -> float:
    """What Build says too: counted minutes that fall on site the way the job travels."""
    worked = worked_for(request.seat, job)
    if worked is None:
        return 0.0
    return minutes_on_site(worked, loading_for(request.seat, job, worked).way.carried)


def profit_for(request: SeatedRequest, job: Job) -> Profit:
    (profit,) = profits_of(request.seat, [job])
    return profit

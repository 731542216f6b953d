"""After: the minutes that a job took, beside those it was counted at; what that left."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate, localtime
from django.views.decorators.http import require_http_methods

from jobs.after.minutes import compare_minutes
from jobs.after.time_taken import (
    AlreadyWithdrawn,
    counted_for,
    minutes_taken_by,
    record_time,
    standing_time_lines,
    withdraw_time,
)
from jobs.day.travelling import loading_for, minutes_on_site
from jobs.inputs import worked_for
from jobs.models import Job, TimeTaken
from jobs.money.profits import Profit, profits_of
from jobs.pages.after.time_form import TimeForm
from jobs.pages.common import job_of
from jobs.proposal.accepting import is_accepted
from jobs.stages import stages_by_hand
from studio.once import form_key_of, once
from studio.permissions import Permission
from studio.post_only import post_only

if TYPE_CHECKING:
    from studio.access import AccessRequest


@require_http_methods(["GET", "POST"])
def after_page(request: AccessRequest, number: int) -> HttpResponse:
    """What a job took, and a line more of it."""
    job = job_of(request, number)
    on = min(localdate(), localtime(job.event_start).date())
    form = TimeForm(request.POST or None, initial={"on": on})
    if request.method == "GET" or not form.is_valid():
        return show_after(request, job, form)

    def make() -> str:
        record_time(request.access, job, **form.cleaned_data)
        return reverse("jobs:after", args=[number])

    leads_to = once(request.access, form_key_of(request), make)
    messages.success(request, "Written down.")
    return redirect(leads_to)


@post_only("jobs:after", "number")
def time_back(request: AccessRequest, number: int, pk: int) -> HttpResponse:
    """Take one line back."""
    line = request.access.row(TimeTaken, job=job_of(request, number), pk=pk)
    try:
        withdraw_time(request.access, line)
    except AlreadyWithdrawn as reason:
        messages.error(request, str(reason))
    return redirect("jobs:after", number)


def show_after(request: AccessRequest, job: Job, form: TimeForm) -> HttpResponse:
    access = request.access
    accepted = is_accepted(access, job)
    context: dict[str, Any] = {
        "job": job,
        "form": form,
        "compared": compare_minutes(
            counted_for(access, job), minutes_taken_by(access, [job]).get(job.pk, {})
        ),
        "site_minutes": site_minutes(request, job),
        "lines": standing_time_lines(access, job),
        "moves": stages_by_hand(job.stage, accepted=accepted)
        if job.stage in (Job.Stage.UP, Job.Stage.DOWN)
        else (),
        "accepted": accepted,
        "profit": profit_for(request, job)
        if accepted and access.may(Permission.SEE_PRICES)
        else None,
    }
    return render(request, "jobs/after/after.html", context, status=422 if form.errors else 200)


def site_minutes(request: AccessRequest, job: Job) -> float:
    """What Build says too: counted minutes that fall on site the way the job travels."""
    worked = worked_for(request.access, job)
    if worked is None:
        return 0.0
    return minutes_on_site(worked, loading_for(request.access, job, worked).way.carried)


def profit_for(request: AccessRequest, job: Job) -> Profit:
    (profit,) = profits_of(request.access, [job])
    return profit

"""A job's brief: read it, correct it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_http_methods

from jobs.briefs import keep_brief
from jobs.forms.brief import Brief
from jobs.models import Job, JobDesign
from jobs.unpriced import hide_sums, log_for
from jobs.waits import waits_of
from studio.editing import Stale

if TYPE_CHECKING:
    from studio.door import SeatedRequest


def the_job(request: SeatedRequest, number: int) -> Job:
    """The job that an address names, with its client and venue."""
    found = request.seat.rows(Job).with_people()
    return request.seat.row(Job, among=found, number=number)


@require_http_methods(["GET", "POST"])
def brief(request: SeatedRequest, number: int) -> HttpResponse:
    job = the_job(request, number)
    form = Brief(request.seat, request.POST or None, job)
    if request.method == "GET":
        return show(request, number, form)
    request.seat.must_be_office()
    if not form.is_valid():
        return show(request, number, form, status=422)
    try:
        others = keep_brief(request.seat, job, form)
    except Stale as stale:
        return show(request, number, form, status=409, stale=stale)
    messages.success(request, "Brief saved.")
    if others:
        named = ", ".join(str(other) for other in others)
        messages.warning(
            request, f"The venue reads so for accepted jobs too: {named}. Tell their clients."
        )
    return redirect("jobs:brief", number)


def show(
    request: SeatedRequest,
    number: int,
    form: Brief,
    *,
    status: int = 200,
    stale: Stale | None = None,
) -> HttpResponse:
    """The brief with what the job waits for and its log. The job is read anew: typing must not show as kept."""
    seat = request.seat
    found = seat.rows(Job).with_people()
    job = seat.row(Job, among=found.with_money() if seat.sees_prices else found, number=number)
    if not seat.sees_prices:
        hide_sums(seat, form.client, form.venue, form.job)
    designed = seat.rows(JobDesign).filter(job=job).exists()
    context = {
        "job": job,
        "brief": form,
        "stale": stale,
        "waits": waits_of(seat, job, on=localdate(), designed=designed),
        "log": log_for(seat, job),
    }
    return render(request, "jobs/brief.html", context, status=status)

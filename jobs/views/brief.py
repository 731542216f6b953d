"""A job's brief: read it, correct it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from jobs.briefs import keep_brief
from jobs.forms.brief import Brief
from jobs.models import Happening, Job
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
    context = {
        "job": job,
        "brief": form,
        "log": request.seat.rows(Happening)
        .filter(job=job)
        .select_related("who")
        .order_by("-pk")[:20],
    }
    if request.method == "GET":
        return render(request, "jobs/brief.html", context)
    request.seat.must_be_office()
    if not form.is_valid():
        return render(request, "jobs/brief.html", context, status=422)
    try:
        keep_brief(request.seat, job, form)
    except Stale as stale:
        return render(request, "jobs/brief.html", {**context, "stale": stale}, status=409)
    messages.success(request, "Brief saved.")
    return redirect("jobs:brief", number)

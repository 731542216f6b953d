"""A job's brief: read it, correct it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_http_methods

from jobs.models import Job, JobDesign
from jobs.next_step_facts import next_steps_of
from jobs.pages.brief.brief_form import Brief
from jobs.pages.brief.saving import save_brief
from jobs.pages.common import job_of
from jobs.rows import jobs_of
from jobs.unpriced import hide_sums, log_for
from studio.editing import Stale
from studio.permissions import Permission

if TYPE_CHECKING:
    from studio.access import AccessRequest


@require_http_methods(["GET", "POST"])
def brief_page(request: AccessRequest, number: int) -> HttpResponse:
    job = job_of(request, number)
    form = Brief(request.access, request.POST or None, job)
    if request.method == "GET":
        return show_brief(request, number, form)
    request.access.require(Permission.EDIT_JOBS)
    if not form.is_valid():
        return show_brief(request, number, form, status=422)
    try:
        others = save_brief(request.access, job, form)
    except Stale as stale:
        return show_brief(request, number, form, status=409, stale=stale)
    messages.success(request, "Brief saved.")
    if others:
        named = ", ".join(str(other) for other in others)
        messages.warning(
            request, f"The venue reads so for accepted jobs too: {named}. Tell their clients."
        )
    return redirect("jobs:brief", number)


def show_brief(
    request: AccessRequest,
    number: int,
    form: Brief,
    *,
    status: int = 200,
    stale: Stale | None = None,
) -> HttpResponse:
    """The brief with what the job waits for and its log. The job is read anew: typing must not show as kept."""
    access = request.access
    found = jobs_of(access).with_people()
    job = access.row(
        Job, among=found.with_money() if access.may(Permission.SEE_MONEY) else found, number=number
    )
    if not access.may(Permission.SEE_MONEY):
        hide_sums(access, form.client, form.venue, form.job)
    designed = access.rows(JobDesign).filter(job=job).exists()
    context = {
        "job": job,
        "brief": form,
        "stale": stale,
        "waits": next_steps_of(access, job, on=localdate(), designed=designed),
        "log": log_for(access, job),
    }
    return render(request, "jobs/brief/brief.html", context, status=status)

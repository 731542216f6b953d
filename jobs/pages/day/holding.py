"""What a job holds from the stores: held, held longer, let go."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.timezone import localdate

from jobs.day.holding import CannotHold, hold_anew, keep_holding, stop_holding
from jobs.pages.common import job_of
from studio.permissions import Permission
from studio.post_only import post_only

if TYPE_CHECKING:
    from jobs.models import Job
    from studio.access import AccessRequest


@post_only("jobs:build", "number")
def holding_page(request: AccessRequest, number: int) -> HttpResponse:
    """Hold supplies and kit, hold them longer, or let them go, as a person says."""
    request.access.require(Permission.EDIT_JOBS)
    job = job_of(request, number)
    do = {"keep": hold_longer, "let-go": release_from_job}.get(
        request.POST.get("do", ""), reserve_for_job
    )
    try:
        do(request, job)
    except CannotHold as reason:
        messages.error(request, str(reason))
    if request.POST.get("back") == "today":
        return redirect("jobs:today")
    return redirect("jobs:build", number)


def reserve_for_job(request: AccessRequest, job: Job) -> None:
    if lacking := hold_anew(request.access, job, on=localdate()):
        messages.error(request, f"Supplies are reserved; not all of the kit is free. {lacking}")
    else:
        messages.success(request, "Supplies are reserved and kit is booked.")


def hold_longer(request: AccessRequest, job: Job) -> None:
    keep_holding(request.access, job, on=localdate())
    messages.success(request, f"{job}: held until {job.held_until:%d %B %Y}.")


def release_from_job(request: AccessRequest, job: Job) -> None:
    stop_holding(request.access, job)
    messages.success(request, f"{job}: let go. Other jobs may have it now.")

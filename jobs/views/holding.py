"""What a job holds from the stores: held, held longer, let go."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.timezone import localdate

from jobs.day.holding import CannotHold, hold, keep_holding, let_go
from jobs.views.brief import the_job
from studio.presses import press_only

if TYPE_CHECKING:
    from jobs.models import Job
    from studio.door import SeatedRequest


@press_only("jobs:build", "number")
def holding(request: SeatedRequest, number: int) -> HttpResponse:
    """Hold supplies and kit, hold them longer, or let them go, as a person says."""
    request.seat.must_be_office()
    job = the_job(request, number)
    do = {"keep": keep, "let-go": release}.get(request.POST.get("do", ""), reserve)
    try:
        do(request, job)
    except CannotHold as reason:
        messages.error(request, str(reason))
    if request.POST.get("back") == "today":
        return redirect("jobs:today")
    return redirect("jobs:build", number)


def reserve(request: SeatedRequest, job: Job) -> None:
    if lacking := hold(request.seat, job, on=localdate()):
        messages.error(request, f"Supplies are reserved; not all of the kit is free. {lacking}")
    else:
        messages.success(request, "Supplies are reserved and kit is booked.")


def keep(request: SeatedRequest, job: Job) -> None:
    keep_holding(request.seat, job, on=localdate())
    messages.success(request, f"{job}: held until {job.held_until:%d %B %Y}.")


def release(request: SeatedRequest, job: Job) -> None:
    let_go(request.seat, job)
    messages.success(request, f"{job}: let go. Other jobs may have it now.")

"""Reminders from the client's side: one press ends them. From the studio's: they may come again."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from jobs.money.reminding import allow_reminders, stop_reminders
from jobs.proposal.links import follow_stop
from jobs.views.brief import the_job
from studio.door import prices_only
from studio.presses import press_only

if TYPE_CHECKING:
    from studio.door import SeatedRequest

ONE_CLICK = ("List-Unsubscribe", "One-Click")  # RFC 8058, section 3.2


@csrf_exempt  # a mail program posts it, with no page and no cookie; the token is the key, and all it does is stop
@login_not_required
@never_cache
@require_http_methods(["GET", "POST"])
def stop(request: HttpRequest, token: str) -> HttpResponse:
    """A page with a button; a POST as mail programs and the button send it stops the reminders."""
    seat, client = follow_stop(token)
    status = 200
    if request.method == "POST":
        if request.POST.get(ONE_CLICK[0]) == ONE_CLICK[1]:
            stop_reminders(seat, client)
            client.refresh_from_db(fields=["reminders_stopped_at"])
        else:
            status = 422
    context = {"studio": seat.studio, "stopped": bool(client.reminders_stopped_at)}
    return render(request, "jobs/stop.html", context, status=status)


@prices_only
@press_only("jobs:brief", "number")
def allow(request: SeatedRequest, number: int) -> HttpResponse:
    job = the_job(request, number)
    allow_reminders(request.seat, job.client)
    messages.success(request, "Reminders may go to this client again.")
    return redirect("jobs:brief", number)

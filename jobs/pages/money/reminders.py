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
from jobs.pages.common import job_of
from jobs.proposal.links import follow_stop
from studio.access import requires
from studio.permissions import Permission
from studio.post_only import post_only

if TYPE_CHECKING:
    from studio.access import AccessRequest

ONE_CLICK = ("List-Unsubscribe", "One-Click")  # RFC 8058, section 3.2


@csrf_exempt  # a mail program posts it, with no page and no cookie; the token is the key, and all it does is stop
@login_not_required
@never_cache
@require_http_methods(["GET", "POST"])
def stop_page(request: HttpRequest, token: str) -> HttpResponse:
    """A page with a button; a POST as mail programs and the button send it stops the reminders."""
    access, client = follow_stop(token)
    status = 200
    if request.method == "POST":
        if request.POST.get(ONE_CLICK[0]) == ONE_CLICK[1]:
            stop_reminders(access, client)
            client.refresh_from_db(fields=["reminders_stopped_at"])
        else:
            status = 422
    context = {"studio": access.studio, "stopped": bool(client.reminders_stopped_at)}
    return render(request, "jobs/money/stop.html", context, status=status)


@requires(Permission.SELL)
@post_only("jobs:brief", "number")
def allow_reminders_again(request: AccessRequest, number: int) -> HttpResponse:
    job = job_of(request, number)
    allow_reminders(request.access, job.client)
    messages.success(request, "Reminders may go to this client again.")
    return redirect("jobs:brief", number)

"""An event goes to another day, hour or place: looked at first, then done."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from jobs.day import moving_event
from jobs.day.moving_event import CannotMoveEvent
from jobs.models import Job, Venue
from jobs.pages.common import job_of
from jobs.pages.day.move_event_form import MoveEventForm
from studio.access import requires
from studio.once import form_key_of, once
from studio.permissions import Permission

if TYPE_CHECKING:
    from studio.access import AccessRequest


@requires(Permission.EDIT_JOBS)
@require_http_methods(["GET", "POST"])
def move_event_page(request: AccessRequest, number: int) -> HttpResponse:
    job = job_of(request, number)
    venues = request.access.rows(Venue).exclude(pk=job.venue_id).order_by("name", "pk")
    form = MoveEventForm(request.POST or None, initial={"start": job.event_start}, venues=venues)
    if request.method == "GET" or not form.is_valid() or request.POST.get("do") != "move":
        return show_move_event(request, job, form)

    def make() -> str:
        moving_event.move_event(
            request.access, job, form.cleaned_data["start"], form.rest, why=form.cleaned_data["why"]
        )
        return reverse("jobs:brief", args=[number])

    try:
        leads_to = once(request.access, form_key_of(request), make)
    except CannotMoveEvent as reason:
        form.add_error(None, str(reason))
        return show_move_event(request, job_of(request, number), form)
    messages.success(request, "Moved: dates, place, kit and reservations.")
    return redirect(leads_to)


def show_move_event(request: AccessRequest, job: Job, form: MoveEventForm) -> HttpResponse:
    """What the start typed would bring."""
    context: dict[str, object] = {"job": job, "form": form}
    if form.is_bound and form.is_valid():
        try:
            context["shown"] = moving_event.preview_move(
                request.access, job, form.cleaned_data["start"], form.rest
            )
        except CannotMoveEvent as reason:
            form.add_error("start", str(reason))
    return render(request, "jobs/day/move_event.html", context, status=422 if form.errors else 200)

"""A job that is called off, or whose event is moved: looked at first, then done."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate
from django.views.decorators.http import require_http_methods

from jobs.day import postponing
from jobs.day.postponing import CannotPostpone
from jobs.forms.calling_off import CallOffForm, PostponeForm
from jobs.models import Job, Venue
from jobs.money import calling_off
from jobs.money.calling_off import CannotCallOff
from jobs.views.brief import the_job
from studio.door import prices_only
from studio.once import once, press_of

if TYPE_CHECKING:
    from studio.door import SeatedRequest


@prices_only
@require_http_methods(["GET", "POST"])
def call_off(request: SeatedRequest, number: int) -> HttpResponse:
    job = the_job(request, number)
    form = CallOffForm(request.POST or None, initial={"on": localdate()})
    if request.method == "GET" or not form.is_valid() or request.POST.get("do") != "call-off":
        return show_call_off(request, job, form)

    def make() -> str:
        off = calling_off.call_off(
            request.seat, job, **form.cleaned_data, seen=request.POST.get("seen", "")
        )
        return reverse("jobs:payment", args=[number]) + ("?refund=1" if off.refund else "")

    try:
        leads_to = once(request.seat, press_of(request), make)
    except CannotCallOff as reason:
        form.add_error(None, str(reason))
        return show_call_off(request, job, form)
    messages.success(request, "Called off. Kit and supplies are free again.")
    return redirect(leads_to)


def show_call_off(request: SeatedRequest, job: Job, form: CallOffForm) -> HttpResponse:
    """The figures for the day typed; for today where none is."""
    told = getattr(form, "cleaned_data", {})
    context: dict[str, object] = {
        "job": job,
        "form": form,
        "scale": calling_off.scale_of(request.seat, job),
    }
    try:
        context["shown"] = calling_off.look(
            request.seat, job, on=told.get("on", localdate()), percent=told.get("percent")
        )
    except CannotCallOff as reason:
        context["reason"] = "" if form.errors else str(reason)
    return render(request, "jobs/call_off.html", context, status=422 if form.errors else 200)


@prices_only
@require_http_methods(["GET", "POST"])
def postpone(request: SeatedRequest, number: int) -> HttpResponse:
    job = the_job(request, number)
    venues = request.seat.rows(Venue).exclude(pk=job.venue_id).order_by("name", "pk")
    form = PostponeForm(request.POST or None, initial={"start": job.event_start}, venues=venues)
    if request.method == "GET" or not form.is_valid() or request.POST.get("do") != "move":
        return show_postpone(request, job, form)

    def make() -> str:
        postponing.postpone(
            request.seat, job, form.cleaned_data["start"], form.rest, why=form.cleaned_data["why"]
        )
        return reverse("jobs:brief", args=[number])

    try:
        leads_to = once(request.seat, press_of(request), make)
    except CannotPostpone as reason:
        form.add_error(None, str(reason))
        return show_postpone(request, the_job(request, number), form)
    messages.success(request, "Moved: dates, place, kit and reservations.")
    return redirect(leads_to)


def show_postpone(request: SeatedRequest, job: Job, form: PostponeForm) -> HttpResponse:
    """What the start typed would bring."""
    context: dict[str, object] = {"job": job, "form": form}
    if form.is_bound and form.is_valid():
        try:
            context["shown"] = postponing.look(
                request.seat, job, form.cleaned_data["start"], form.rest
            )
        except CannotPostpone as reason:
            form.add_error("start", str(reason))
    return render(request, "jobs/postpone.html", context, status=422 if form.errors else 200)

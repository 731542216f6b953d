"""The price of a job: what it costs, what stays, what the client pays."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_http_methods

from jobs.forms.price import PriceForm
from jobs.gather import quote_for, worked_for
from jobs.models import Job
from jobs.stages import S, move_if_due
from jobs.views.brief import the_job
from pricing.shelf import NoRates
from studio.door import prices_only
from studio.editing import Stale, save_if_fresh

if TYPE_CHECKING:
    from studio.door import SeatedRequest


@prices_only
@require_http_methods(["GET", "POST"])
def price(request: SeatedRequest, number: int) -> HttpResponse:
    job = the_job(request, number)
    if request.method == "GET":
        return show(request, job, PriceForm(instance=job))
    form = PriceForm(request.POST, instance=the_job(request, number))
    if not form.is_valid():
        return show(request, job, form, status=422)
    if fault := quoted(request, form.instance).get("fault"):
        form.add_error("discount", fault)
        return show(request, job, form, status=422)
    if request.POST.get("do") == "look":
        return render(
            request, "jobs/price.html#buildup", {"job": job, **quoted(request, form.instance)}
        )
    try:
        save_if_fresh(form)
    except Stale as stale:
        return show(request, job, form, status=409, stale=stale)
    if job.stage == S.ENQUIRY and quoted(request, form.instance)["quote"]:
        move_if_due(request.seat, job, S.PRICED)
    messages.success(request, "Price saved.")
    return redirect("jobs:price", number)


def show(
    request: SeatedRequest,
    job: Job,
    form: PriceForm,
    *,
    status: int = 200,
    stale: Stale | None = None,
) -> HttpResponse:
    context = {"job": job, "form": form, "stale": stale, **quoted(request, job)}
    part = "jobs/price.html#page" if request.htmx else "jobs/price.html"
    return render(request, part, context, status=status)


def quoted(request: SeatedRequest, job: Job) -> dict[str, Any]:
    """The job's quote, or why there is none."""
    worked = worked_for(request.seat, job)
    if worked is None:
        return {"quote": None, "worked": None}
    try:
        quote = quote_for(request.seat, job, worked, on=localdate())
    except (NoRates, ValueError) as fault:
        return {"quote": None, "worked": worked, "fault": str(fault)}
    return {"quote": quote, "worked": worked}

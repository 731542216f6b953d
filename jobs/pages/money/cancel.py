"""A job that is called off: looked at first, then done."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate
from django.views.decorators.http import require_http_methods

from jobs.models import Job
from jobs.money import cancelling
from jobs.money.cancelling import CannotCancel
from jobs.pages.common import job_of
from jobs.pages.money.cancel_form import CancelForm
from studio.access import requires
from studio.once import form_key_of, once
from studio.permissions import Permission

if TYPE_CHECKING:
    from studio.access import AccessRequest


@requires(Permission.SELL)
@require_http_methods(["GET", "POST"])
def cancel_page(request: AccessRequest, number: int) -> HttpResponse:
    job = job_of(request, number)
    form = CancelForm(request.POST or None, initial={"on": localdate()})
    if request.method == "GET" or not form.is_valid() or request.POST.get("do") != "call-off":
        return show_cancel(request, job, form)

    def make() -> str:
        off = cancelling.cancel_job(
            request.access, job, **form.cleaned_data, seen=request.POST.get("seen", "")
        )
        return reverse("jobs:payment", args=[number]) + ("?refund=1" if off.refund else "")

    try:
        leads_to = once(request.access, form_key_of(request), make)
    except CannotCancel as reason:
        form.add_error(None, str(reason))
        return show_cancel(request, job, form)
    messages.success(request, "Called off. Kit and supplies are free again.")
    return redirect(leads_to)


def show_cancel(request: AccessRequest, job: Job, form: CancelForm) -> HttpResponse:
    """The figures for the day typed; for today where none is."""
    told = getattr(form, "cleaned_data", {})
    context: dict[str, object] = {
        "job": job,
        "form": form,
        "scale": cancelling.scale_of(request.access, job),
    }
    try:
        context["shown"] = cancelling.preview_cancellation(
            request.access, job, on=told.get("on", localdate()), percent=told.get("percent")
        )
    except CannotCancel as reason:
        context["reason"] = "" if form.errors else str(reason)
    return render(request, "jobs/money/call_off.html", context, status=422 if form.errors else 200)

"""Money: what is due and overdue over all jobs; writing payments down."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods

from jobs.forms.client import PaymentForm
from jobs.ledger import record_payment, standing_of
from jobs.models import Job, Payment
from jobs.views.brief import the_job
from studio.door import prices_only
from studio.once import once, press_of

if TYPE_CHECKING:
    from studio.door import SeatedRequest


@prices_only
@require_GET
def money(request: SeatedRequest) -> HttpResponse:
    on, currency = localdate(), request.seat.studio.currency
    jobs = request.seat.rows(Job).accepted().with_people().with_money()
    dues = [
        (due, job, due in now.overdue)
        for job in jobs
        if (now := standing_of(job, on=on, currency=currency))
        for due in now.due
    ]
    payments = (
        request.seat.rows(Payment).select_related("job", "entered_by").order_by("-on", "-pk")[:40]
    )
    context = {
        "overdue": sorted((d for d in dues if d[2]), key=lambda d: d[0].on),
        "coming": sorted((d for d in dues if not d[2]), key=lambda d: d[0].on),
        "payments": payments,
        "on": on,
    }
    return render(request, "jobs/money.html", context)


@prices_only
@require_http_methods(["GET", "POST"])
def payment(request: SeatedRequest, number: int) -> HttpResponse:
    """One job's payments, and a new one."""
    job, studio = the_job(request, number), request.seat.studio
    form = PaymentForm(request.POST or None, currency=studio.currency, initial={"on": localdate()})
    if request.method == "POST" and form.is_valid():

        def make() -> str:
            record_payment(request.seat, job, **form.cleaned_data)
            return reverse("jobs:payment", args=[number])

        leads_to = once(request.seat, press_of(request), make)
        messages.success(request, "Written down.")
        return redirect(leads_to)
    rich = request.seat.row(Job, among=request.seat.rows(Job).with_money(), pk=job.pk)
    context = {
        "job": job,
        "form": form,
        "payments": rich.payments.all(),
        "standing": standing_of(rich, on=localdate(), currency=studio.currency),
    }
    return render(request, "jobs/payment.html", context, status=422 if form.errors else 200)

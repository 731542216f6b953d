"""Money: what is due and overdue over all jobs; writing payments down."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from jobs.forms.client import CreditForm, PaymentForm
from jobs.invoicing import CannotInvoice, credit, issue, open_net
from jobs.ledger import record_payment, standing_of
from jobs.models import Invoice, Job, Payment
from jobs.views.brief import the_job
from jobs.views.proposal import pdf
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
        "invoices": request.seat.rows(Invoice)
        .filter(job=job)
        .defer("pdf", "xml")
        .order_by("number"),
        "invoiced": open_net(request.seat, job),
    }
    return render(request, "jobs/payment.html", context, status=422 if form.errors else 200)


@prices_only
@require_POST
def invoice(request: SeatedRequest, number: int) -> HttpResponse:
    """Issue the job's invoice, or credit one; each once, whatever is pressed how often."""
    job, do = the_job(request, number), request.POST.get("do", "issue")

    def make() -> str:
        if do == "credit":
            of = request.seat.row(Invoice, job=job, number=request.POST.get("of", "0"))
            net = form.cleaned_data["net"]
            credit(request.seat, of, net, form.cleaned_data["why"], on=localdate())
        else:
            issue(request.seat, job, on=localdate())
        return reverse("jobs:payment", args=[number])

    form = CreditForm(request.POST)
    if do == "credit" and not form.is_valid():
        messages.error(request, "; ".join(str(e[0]) for e in form.errors.values()))
        return redirect("jobs:payment", number)
    try:
        leads_to = once(request.seat, press_of(request), make)
    except CannotInvoice as reason:
        messages.error(request, str(reason))
        return redirect("jobs:payment", number)
    return redirect(leads_to)


@prices_only
@require_GET
def invoice_file(request: SeatedRequest, invoice: int, kind: str) -> HttpResponse:
    """The invoice as it went out: the paper, or the part for machines."""
    row = request.seat.row(Invoice, number=invoice)
    if kind == "pdf":
        return pdf(bytes(row.pdf), f"{row.kind}-{row.written}")
    if kind != "xml":
        raise Http404("No such paper.")
    headers = {
        "Content-Disposition": f'attachment; filename="{row.kind}-{row.written}.xml"',
        "Cache-Control": "no-store",
    }
    return HttpResponse(row.xml, content_type="application/xml", headers=headers)

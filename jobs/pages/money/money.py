"""Money: what is due and overdue over all jobs; writing payments down."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.db.models import Q
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods

from jobs.day.reserving import kit_trouble_of
from jobs.models import Invoice, Job, Payment
from jobs.money.einvoice import can_say
from jobs.money.invoicing import CannotInvoice, credit_invoice, issue_invoice, open_net
from jobs.money.ledger import (
    CannotRecord,
    cancellation_of,
    doubts_about,
    plan_of,
    record_payment,
    standing_of,
)
from jobs.money.papers import RECEIPTS, print_receipt, print_statement
from jobs.pages.common import job_of
from jobs.pages.fields import fit_amounts
from jobs.pages.money.payment_form import CreditForm, PaymentForm
from jobs.rows import jobs_of
from pricing.core.money import Money, add_up, write_money
from pricing.models import Holder, KitNote
from pricing.stores import kit
from pricing.stores.forms import ChargeForm
from studio.access import requires
from studio.downloads import file_to_take, pdf_to_read
from studio.once import form_key_of, once
from studio.permissions import Permission
from studio.post_only import post_only

if TYPE_CHECKING:
    from pricing.core.instalments import Standing
    from studio.access import AccessRequest


@requires(Permission.SEE_MONEY)
@require_GET
def money_page(request: AccessRequest) -> HttpResponse:
    on, currency = localdate(), request.access.studio.currency
    jobs = jobs_of(request.access).accepted().with_people().with_money()
    standings = [(job, now) for job in jobs if (now := standing_of(job, on=on, currency=currency))]
    dues = [(due, job, due in now.overdue) for job, now in standings for due in now.due]
    payments = (
        request.access.rows(Payment).select_related("job", "entered_by").order_by("-on", "-pk")[:40]
    )
    context = {
        "back": [(now.over, job) for job, now in standings if now.over],
        "overdue": sorted((d for d in dues if d[2]), key=lambda d: d[0].on),
        "coming": sorted((d for d in dues if not d[2]), key=lambda d: d[0].on),
        "payments": payments,
        "on": on,
    }
    return render(request, "jobs/money/money.html", context)


@requires(Permission.RECORD_MONEY)
@require_http_methods(["GET", "POST"])
def payment(request: AccessRequest, number: int) -> HttpResponse:
    """One job's payments, and a new one."""
    among = jobs_of(request.access).with_people().with_money()
    job = request.access.row(Job, among=among, number=number)
    now = standing_of(job, on=localdate(), currency=request.access.studio.currency)
    form = payment_form(request, job, now)
    if request.method == "GET" or not form.is_valid() or slips(request, job, form):
        return show_payments(request, job, form, now)

    def make() -> str:
        record_payment(request.access, job, **form.cleaned_data)
        return reverse("jobs:payment", args=[number])

    try:
        leads_to = once(request.access, form_key_of(request), make)
    except CannotRecord as reason:
        form.add_error(None, str(reason))
        return show_payments(request, job, form, now)
    messages.success(request, "Written down.")
    tell_of_kit(request, number)
    return redirect(leads_to)


def slips(request: AccessRequest, job: Job, form: PaymentForm) -> bool:
    """Whether a sound entry must be asked about first; then the form asks."""
    entry = {name: form.cleaned_data[name] for name in ("on", "amount", "kind")}
    doubts = doubts_about(request.access, job, **entry)
    if doubts and not form.is_sure(doubts):
        form.ask(doubts)
        return True
    return False


def tell_of_kit(request: AccessRequest, number: int) -> None:
    """With the deposit here the kit had better be: what is missing is said at once."""
    for lack in kit_trouble_of(request.access, job_of(request, number), None):
        if lack.is_stop:
            messages.error(request, lack.sentence)


def payment_form(request: AccessRequest, job: Job, now: Standing | None) -> PaymentForm:
    """The form for one more entry; filled in for what is to be given back, where that was asked for."""
    studio = request.access.studio
    initial: dict[str, object] = {"on": localdate()}
    if now and now.over and "refund" in request.GET:
        initial |= {"kind": Payment.Kind.REFUND, "amount": now.over.amount}
    entries = [
        (entry, f"{entry.on:%d %b %Y}, {write_money(Money(entry.amount, studio.currency), studio.language)}")
        for entry in job.payments.all() if entry.kind != Payment.Kind.PUT_RIGHT
    ]  # fmt: skip
    form = PaymentForm(
        request.POST or None, currency=studio.currency, entries=entries, initial=initial
    )
    return fit_amounts(form, studio)


def show_payments(
    request: AccessRequest, job: Job, form: PaymentForm, now: Standing | None
) -> HttpResponse:
    currency, off = request.access.studio.currency, cancellation_of(job)
    agreed = add_up((due.amount for due in plan_of(job, currency)), currency)
    context = {
        "job": job,
        "form": form,
        "kit_trouble": kit_trouble_of(request.access, job, None),
        "off": off,
        "payments": request.access.rows(Payment)
        .filter(job=job)
        .select_related("of")
        .order_by("on", "pk"),
        "standing": now,
        "agreed": agreed,
        "credited": agreed - now.total if now and not off else agreed * 0,
        "charges": kit.kit_charges(request.access, request.access.rows(Holder).filter(job=job)),
        "invoices": request.access.rows(Invoice)
        .filter(job=job)
        .defer("pdf", "xml")
        .annotate(for_machines=~Q(xml=""))
        .order_by("number"),
        "xml_fits": can_say(currency),
        "invoiced": open_net(request.access, job),
    }
    return render(request, "jobs/money/payment.html", context, status=422 if form.errors else 200)


@requires(Permission.RECORD_MONEY)
@post_only("jobs:payment", "number")
def charge_for_kit(request: AccessRequest, number: int, pk: int) -> HttpResponse:
    """How much the client pays for a thing that came back broken."""
    job = job_of(request, number)
    note = request.access.row(KitNote, pk=pk, holder__job=job, kind=KitNote.Kind.CHARGED)
    form = ChargeForm(request.POST, currency=request.access.studio.currency)
    if not form.is_valid() or form.cleaned_data["amount"] is None:
        told = form.errors.get("amount", ["To charge: expected an amount, got nothing."])
        messages.error(request, str(told[0]))
        return redirect("jobs:payment", number)

    def make() -> str:
        kit.charge_note(request.access, note, form.cleaned_data["amount"])
        return reverse("jobs:payment", args=[number])

    return redirect(once(request.access, form_key_of(request), make))


@requires(Permission.SEE_MONEY)
@require_GET
def receipt(request: AccessRequest, number: int, pk: int) -> HttpResponse:
    """A small paper for money that came or was given back."""
    entry = request.access.row(Payment, job__number=number, pk=pk)
    if entry.kind not in RECEIPTS:
        raise Http404("There is no receipt for this.")
    return pdf_to_read(print_receipt(request.access, entry), f"receipt-{number:04d}-{pk}")


@requires(Permission.SEE_MONEY)
@require_GET
def statement(request: AccessRequest, number: int) -> HttpResponse:
    """The job's whole account on a paper, as it stands today."""
    job = job_of(request, number)
    return pdf_to_read(
        print_statement(request.access, job, on=localdate()), f"statement-{number:04d}"
    )


@requires(Permission.RECORD_MONEY)
@post_only("jobs:payment", "number")
def invoice(request: AccessRequest, number: int) -> HttpResponse:
    """Issue the job's invoice, or credit one; each once, whatever is pressed how often."""
    job, do = job_of(request, number), request.POST.get("do", "issue")

    def make() -> str:
        if do == "credit":
            of = request.access.row(Invoice, job=job, number=request.POST.get("of", "0"))
            net = form.cleaned_data["net"]
            credit_invoice(request.access, of, net, form.cleaned_data["why"], on=localdate())
        else:
            issue_invoice(request.access, job, on=localdate())
        return reverse("jobs:payment", args=[number])

    form = fit_amounts(CreditForm(request.POST), request.access.studio)
    if do == "credit" and not form.is_valid():
        messages.error(request, "; ".join(str(e[0]) for e in form.errors.values()))
        return redirect("jobs:payment", number)
    try:
        leads_to = once(request.access, form_key_of(request), make)
    except CannotInvoice as reason:
        messages.error(request, str(reason))
        return redirect("jobs:payment", number)
    paper = "Credit note" if do == "credit" else "Invoice"
    messages.success(request, f"{paper} issued: it stands under Invoices, to be sent by you.")
    return redirect(leads_to)


@requires(Permission.SEE_MONEY)
@require_GET
def invoice_file(request: AccessRequest, invoice: int, kind: str) -> HttpResponse:
    """The invoice as it went out: the paper, or the part for machines."""
    wanted = request.access.rows(Invoice).only("kind", "number", "pdf" if kind == "pdf" else "xml")
    row = request.access.row(Invoice, among=wanted, number=invoice)
    if kind == "pdf":
        return pdf_to_read(bytes(row.pdf), f"{row.kind}-{row.written}")
    if kind != "xml":
        raise Http404("No such paper.")
    if not row.xml:
        raise Http404("EN 16931 has at most two decimals: this invoice is a paper alone.")
    return file_to_take(row.xml, f"{row.kind}-{row.written}.xml", "application/xml")

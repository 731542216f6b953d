"""Invoices and credit notes: from what the client said yes to, numbered without gaps, kept as they went out."""

from __future__ import annotations

import hashlib
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

import segno.helpers
from django.db import transaction
from django.db.models import Max, Sum
from django.template.loader import render_to_string

from jobs.log import write_log
from jobs.models import Invoice, Job, Payment
from jobs.money import einvoice
from jobs.money.ledger import accepted_offer, book_if_covered, cancellation_of, kept_of, plan_of
from jobs.money.parties import NoCountry, buyer_of, seller_of, sold_in
from jobs.records import vouch_invoice
from jobs.rows import jobs_of
from pricing.core import crediting
from pricing.core import invoice as core
from pricing.core.crediting import nearest_beside, net_of, set_apart
from pricing.core.instalments import standing_on
from pricing.core.money import Money, add_up, minor_places, write_money
from pricing.core.tax import (
    OUTSIDE,
    REVERSE_CHARGE,
    TaxGroup,
    TaxLine,
    tax_lines_data,
    tax_lines_from,
)
from studio.countries import country_named
from studio.models import Studio
from studio.paper import render_hybrid, render_paper

if TYPE_CHECKING:
    from studio.access import Access

Kind = Invoice.Kind


class CannotInvoice(ValueError):
    """Why there is nothing to invoice or to credit, as a sentence."""


@transaction.atomic
def issue_invoice(access: Access, job: Job, *, on: date) -> Invoice:
    """Invoice the whole of what was accepted, less what was paid. Raises CannotInvoice."""
    access.lock_studio()
    rich = jobs_of(access).with_money().get(pk=job.pk)
    offer = accepted_offer(rich)
    if offer is None:
        raise CannotInvoice("Nothing was accepted yet, so nothing can be invoiced.")
    if cancellation_of(rich):
        raise CannotInvoice("This event was called off: what is kept was settled then.")
    if open_net(access, job):
        raise CannotInvoice("This job is invoiced already. Credit that invoice first.")
    groups = offer.acceptance.agreed.figures.groups
    if not any(group.net for group in groups):
        raise CannotInvoice("The total that was accepted is nought, so nothing can be invoiced.")
    words = sold_in(offer.acceptance)
    return write_invoice(
        access, job, Kind.INVOICE, groups, words, on=on, paid=paid_so_far(access, job)
    )


@transaction.atomic
def credit_invoice(
    access: Access, invoice: Invoice, net: Decimal | None, why: str, *, on: date
) -> Invoice:
    """Give back an invoice, or so much of its net. Raises CannotInvoice."""
    access.lock_studio()
    left = left_of_invoice(access, invoice)
    if invoice.kind != Kind.INVOICE or not left:
        raise CannotInvoice("Nothing is left of this invoice to credit.")
    whole = net_of(left, access.studio.currency)
    wanted = whole if net is None else Money(net, whole.currency)
    if net is not None and wanted.amount != net:
        places = minor_places(whole.currency)
        raise CannotInvoice(f"Net to credit: expected at most {places} decimals, got {net}.")
    part = part_of(access, left, wanted)
    words = f"Credit to invoice {invoice.written}" + (f": {why}" if why else "")
    made = write_invoice(
        access, invoice.job, Kind.CREDIT, part, words, on=on, paid=Decimal(0), of=invoice, why=why
    )
    if open_net(access, invoice.job):  # less is asked: what was paid may cover the deposit now
        book_if_covered(access, invoice.job, on=on)
    return made


def part_of(access: Access, left: tuple[TaxLine, ...], net: Money) -> tuple[TaxLine, ...]:
    """So much net of what is left of an invoice. Raises CannotInvoice where that is no sound part."""

    def write(amount: Money) -> str:
        return write_money(amount, access.studio.language)

    whole = net_of(left, net.currency)
    if not net * 0 < net <= whole:
        raise CannotInvoice(
            f"Net to credit: expected above 0 and at most {write(whole)}, got {write(net)}."
        )
    if part := set_apart(left, net):
        return part
    near = " or ".join(write(amount) for amount in nearest_beside(left, net))
    raise CannotInvoice(
        f"Net to credit: expected {near}, where tax comes out exactly on this paper and on the rest, "
        f"got {write(net)}."
    )


def open_net(access: Access, job: Job) -> Decimal:
    """Invoiced net of a job less what was credited."""
    rows = access.rows(Invoice).filter(job=job).values("kind").annotate(sum=Sum("net"))
    sums = {row["kind"]: row["sum"] for row in rows}
    return Decimal(sums.get(Kind.INVOICE, 0)) - Decimal(sums.get(Kind.CREDIT, 0))


def left_of_invoice(access: Access, invoice: Invoice) -> tuple[TaxLine, ...]:
    """What is left of an invoice to credit, by tax group."""
    currency = access.studio.currency
    credits = access.rows(Invoice).filter(of=invoice).values_list("groups", flat=True)
    return crediting.left_after_credits(
        tax_lines_from(invoice.groups, currency),
        [tax_lines_from(rows, currency) for rows in credits],
    )


def paid_so_far(access: Access, job: Job) -> Decimal:
    return access.rows(Payment).filter(job=job).aggregate(sum=Sum("amount"))["sum"] or Decimal(0)


def write_invoice(
    access: Access, job: Job, kind: str, groups: tuple[TaxLine, ...], words: str, *, on: date,
    paid: Decimal, of: Invoice | None = None, why: str = "",
) -> Invoice:  # fmt: skip
    """Number it, print it, keep it, and vouch for it in the job's log."""
    number = (access.rows(Invoice).aggregate(last=Max("number"))["last"] or 0) + 1
    made = as_value(access, job, kind, number, groups, words, on=on, paid=paid, of=of)
    pdf, xml = print_invoice(access.studio, job, made, why)
    row = access.add(
        Invoice, job=job, kind=kind, number=number, of=of, why=why[:200], issued_on=on,
        due_on=made.due_on, net=made.net.amount, tax=made.tax.amount, total=made.total.amount, paid=paid,
        groups=tax_lines_data(groups),
        pdf=pdf, pdf_sha256=hashlib.sha256(pdf).hexdigest(), xml=xml, made_by=access.person,
    )  # fmt: skip
    write_log(
        access, job, f"{Kind(kind).label.capitalize()} {row.written} issued", vouch_invoice(row)
    )
    # What is asked anew of a closed job is owing again; whether it was paid meanwhile is seen on Today.
    access.as_system().rows(Job).filter(pk=job.pk, stage=Job.Stage.CLOSED).update(closed_owing=True)
    return row


def print_invoice(studio: Studio, job: Job, made: core.InvoiceValue, why: str) -> tuple[bytes, str]:
    """The paper with the part for machines inside, and that part by itself; "" where it cannot say the currency."""
    facts = {
        "studio": studio,
        "job": job,
        "invoice": made,
        "code": payment_code(made),
        "why": why,
        "reasons": dict.fromkeys(g.group.reason for g in made.groups if g.group.reason),
        "countries": {"seller": country_named(made.seller.country), "buyer": country_named(made.buyer.country)},
    }  # fmt: skip
    html = render_to_string("papers/invoice.html", facts)
    if not einvoice.can_say(made.currency):
        return render_paper(html, paper=studio.paper_size), ""
    xml = einvoice.write_xml(made)
    return render_hybrid(html, paper=studio.paper_size, xml=xml, on=made.issued_on), xml.decode()


def as_value(
    access: Access, job: Job, kind: str, number: int, groups: tuple[TaxLine, ...], words: str, *, on: date,
    paid: Decimal, of: Invoice | None,
) -> core.InvoiceValue:  # fmt: skip
    """The invoice as EN 16931 has it. Without a tax number everything is "not subject to tax"."""
    studio, currency = access.studio, access.studio.currency
    taxed = [group for group in groups if group.net]
    if not studio.tax_number:
        if any(group.tax for group in taxed):
            raise CannotInvoice(
                "Tax is asked, but the studio has no tax number. Enter it under Studio."
            )
        whole = add_up((g.net for g in taxed), currency)
        outside = TaxGroup(
            code=OUTSIDE, name="not subject to tax", percent=Decimal(0), reason="Not subject to tax"
        )
        taxed = [TaxLine(group=outside, net=whole, tax=Money(Decimal(0), currency))]
    if any(g.group.code == REVERSE_CHARGE for g in taxed) and not job.client.tax_number:
        raise CannotInvoice(
            "Reverse charge: expected the client’s tax number, got none. Enter it in the brief."
        )
    try:
        seller = seller_of(studio)
    except NoCountry as reason:
        raise CannotInvoice(str(reason)) from None
    delivered = studio.day_of(job.event_start)
    return core.InvoiceValue(
        kind="credit" if kind == Kind.CREDIT else "invoice", number=f"{number:05d}",
        of=of.written if of else "", issued_on=on, due_on=due_day(access, job, on), delivered_on=delivered,
        seller=seller, buyer=buyer_of(job.client, seller),
        lines=tuple(core.InvoiceLine(what=line_words(words, g.group), net=g.net, group=g.group) for g in taxed),
        groups=tuple(taxed), paid=Money(paid, currency), reference=f"{number:05d}", iban=studio.iban,
        bic=studio.bic,
    )  # fmt: skip


def line_words(words: str, group: TaxGroup) -> str:
    """What a line is: what was sold, which part of it where work is taxed otherwise, and its tax."""
    return ", ".join(filter(None, [words, group.covers, group.words]))


def due_day(access: Access, job: Job, on: date) -> date:
    """The last open instalment's day; today where all is paid or it has passed.

    What earlier papers left is no matter: this one asks for the whole, or for what is kept.
    """
    rich, currency = jobs_of(access).with_money().get(pk=job.pk), access.studio.currency
    off = cancellation_of(rich)
    plan = kept_of(off, currency) if off else plan_of(rich, currency)
    paid = [Money(entry.amount, currency) for entry in rich.payments.all()]
    now = standing_on(plan, paid, on=on, currency=currency)
    return max([on, *(due.on for due in now.due)])


def payment_code(made: core.InvoiceValue) -> str:
    """A SEPA payment code (EPC069-12) as SVG where currency, IBAN and amount fit; "" otherwise."""
    if made.currency != "EUR" or not made.iban or made.due.amount <= 0 or made.kind == "credit":
        return ""
    code = segno.helpers.make_epc_qr(
        name=made.seller.name[:70], iban=made.iban, amount=made.due.amount, text=made.reference,
        bic=made.bic or None, encoding="utf-8",
    )  # fmt: skip
    words = "Payment code for a banking app: account, amount and reference as written here"
    return str(
        code.svg_inline(
            scale=3, border=2, title=words, svgclass=None, lineclass=None, omitsize=True
        )
    )

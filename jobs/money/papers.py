"""Receipts and statements of account: small papers made of what the books hold."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from django.template.loader import render_to_string

from jobs.models import Invoice, Job, Payment
from jobs.money.ledger import accepted_offer, cancellation_of, day_of, plan_of, standing_of
from jobs.rows import jobs_of
from pricing.core.money import Money, add_up
from studio.paper import render_paper

if TYPE_CHECKING:
    from studio.access import Access

RECEIPTS = (Payment.Kind.CAME, Payment.Kind.REFUND)
WORDS = {
    Payment.Kind.CAME: "Payment",
    Payment.Kind.REFUND: "Given back",
    Payment.Kind.BOUNCED: "Payment bounced",
    Payment.Kind.PUT_RIGHT: "An entry put right",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StatementLine:
    """One line of an account: asked above zero, paid or credited below it."""

    on: date
    what: str
    amount: Money
    balance: Money  # after it: above zero, the client owes; below, the studio does


def print_receipt(access: Access, entry: Payment) -> bytes:
    """A receipt for one entry, numbered in its job, with how the job stood after it; what bounced or was put right
    since stands on it.
    """
    among = jobs_of(access).with_people().with_money()
    job, currency = access.row(Job, among=among, pk=entry.job_id), access.studio.currency
    entries = sorted(job.payments.all(), key=lambda e: e.pk)
    known = [e for e in entries if e.pk <= entry.pk]
    righted = [e for e in entries if e.of_id == entry.pk]
    stands = add_up((Money(e.amount, currency) for e in [entry, *righted]), currency)
    facts = {
        "studio": access.studio, "job": job, "entry": entry, "number": f"R-{job.number:04d}-{len(known)}",
        "amount": max(Money(entry.amount, currency), -Money(entry.amount, currency)),
        "standing": standing_of(job, on=entry.on, currency=currency, after=entry),
        "paid": add_up((Money(e.amount, currency) for e in known), currency),
        "righted": [(WORDS[Payment.Kind(e.kind)], e) for e in righted], "stands": stands,
        "back": entry.kind == Payment.Kind.REFUND,
    }  # fmt: skip
    html = render_to_string("papers/receipt.html", facts)
    return render_paper(html, paper=access.studio.paper_size)


def print_statement(access: Access, job: Job, *, on: date) -> bytes:
    """What is asked and what was paid of a job with a running balance, and what is due when. Both halves come to one
    figure: before there is an invoice, what was agreed stands in its place.
    """
    currency = access.studio.currency
    rich = access.row(Job, among=jobs_of(access).with_people().with_money(), pk=job.pk)
    lines = account_of(rich, currency)
    owing = lines[-1].balance if lines else add_up((), currency)
    facts = {
        "studio": access.studio, "job": rich, "on": on, "lines": lines, "off": cancellation_of(rich), "owing": owing,
        "standing": standing_of(rich, on=on, currency=currency), "favour": max(-owing, owing * 0),
    }  # fmt: skip
    html = render_to_string("papers/statement.html", facts)
    return render_paper(html, paper=access.studio.paper_size)


def account_of(job: Job, currency: str) -> tuple[StatementLine, ...]:
    """The account of a `with_money` job."""
    papers, offer = job.invoices.all(), accepted_offer(job)
    if papers or offer is None or cancellation_of(job):
        return account_lines(papers, job.payments.all(), currency)
    what = f"Agreed with proposal {offer.number}, the invoice is still to come"
    asked = add_up((due.amount for due in plan_of(job, currency)), currency)
    return account_lines(
        (), job.payments.all(), currency, agreed=(day_of(offer.acceptance.at), what, asked)
    )


def account_lines(
    invoices: Iterable[Invoice], payments: Iterable[Payment], currency: str,
    agreed: tuple[date, str, Money] | None = None,
) -> tuple[StatementLine, ...]:  # fmt: skip
    """Everything by day, papers before money, each with the balance after it. `agreed` stands for papers to come."""
    moves: list[tuple[date, int, int, str, Money]] = []
    if agreed:
        moves.append((agreed[0], 0, 0, *agreed[1:]))
    for row in invoices:
        total, credit = Money(row.total, currency), row.kind == Invoice.Kind.CREDIT
        to = f" to invoice {row.of.written}" if row.of else ""
        what = f"{Invoice.Kind(row.kind).label.capitalize()} {row.written}{to}"
        moves.append((row.issued_on, 0, row.number, what, -total if credit else total))
    for entry in payments:
        words = WORDS[Payment.Kind(entry.kind)]
        what = f"{words}, {entry.get_how_display()}" + (
            f", {entry.reference}" if entry.reference else ""
        )
        moves.append((entry.on, 1, entry.pk, what, -Money(entry.amount, currency)))
    lines: list[StatementLine] = []
    for day, _, _, what, amount in sorted(moves, key=lambda move: move[:3]):
        before = lines[-1].balance if lines else amount * 0
        lines.append(StatementLine(on=day, what=what, amount=amount, balance=before + amount))
    return tuple(lines)

"""Receipts and statements of account: small papers made of what the books hold."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from django.template.loader import render_to_string

from jobs.models import Invoice, Job, Payment
from jobs.money.ledger import called_off, plan_of, standing_of
from pricing.core.money import Money, add_up
from studio.paper import render_paper

if TYPE_CHECKING:
    from studio.door import SeatAt

RECEIPTS = (Payment.Kind.CAME, Payment.Kind.REFUND)
WORDS = {
    Payment.Kind.CAME: "Payment",
    Payment.Kind.REFUND: "Given back",
    Payment.Kind.BOUNCED: "Payment bounced",
    Payment.Kind.PUT_RIGHT: "An entry put right",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of an account: asked above zero, paid or credited below it."""

    on: date
    what: str
    amount: Money
    balance: Money  # after it: above zero, the client owes; below, the studio does


def print_receipt(seat: SeatAt, entry: Payment) -> bytes:
    """A receipt for one entry, numbered in its job; what bounced or was put right since stands on it."""
    among = seat.rows(Job).with_people().with_money()
    job, currency = seat.row(Job, among=among, pk=entry.job_id), seat.studio.currency
    entries = sorted(job.payments.all(), key=lambda e: e.pk)
    known = [e for e in entries if e.pk <= entry.pk]
    total, paid = (
        total_at(job, entry, currency),
        add_up((Money(e.amount, currency) for e in known), currency),
    )
    righted = [e for e in entries if e.of_id == entry.pk]
    stands = add_up((Money(e.amount, currency) for e in [entry, *righted]), currency)
    facts = {
        "studio": seat.studio, "job": job, "entry": entry, "number": f"R-{job.number:04d}-{len(known)}",
        "amount": max(Money(entry.amount, currency), -Money(entry.amount, currency)), "total": total, "paid": paid,
        "left": max(total - paid, total * 0), "over": max(paid - total, total * 0),
        "righted": [(WORDS[Payment.Kind(e.kind)], e) for e in righted], "stands": stands,
        "back": entry.kind == Payment.Kind.REFUND,
    }  # fmt: skip
    html = render_to_string("papers/receipt.html", facts)
    return render_paper(html, paper=seat.studio.paper)  # type: ignore[arg-type]


def total_at(job: Job, entry: Payment, currency: str) -> Money:
    """What was to be paid in all when an entry was written down; what is kept, once it was called off."""
    off = called_off(job)
    if off and off.at <= entry.entered_at:
        return Money(off.kept, currency)
    return add_up((due.amount for due in plan_of(job, currency)), currency)


def print_statement(seat: SeatAt, job: Job, *, on: date) -> bytes:
    """Invoices, credits and payments of a job with a running balance, and what is due when."""
    currency = seat.studio.currency
    rich = seat.row(Job, among=seat.rows(Job).with_people().with_money(), pk=job.pk)
    invoices = (
        seat.rows(Invoice)
        .filter(job=job)
        .defer("pdf", "xml")
        .select_related("of")
        .order_by("number")
    )
    lines = account(invoices, rich.payments.all(), currency)
    standing = standing_of(rich, on=on, currency=currency)
    owing = lines[-1].balance if lines else add_up((), currency)
    facts = {
        "studio": seat.studio, "job": rich, "on": on, "lines": lines, "standing": standing,
        "off": called_off(rich), "owing": owing, "favour": max(-owing, owing * 0),
        "invoiced": invoices.exists(),
    }  # fmt: skip
    html = render_to_string("papers/statement.html", facts)
    return render_paper(html, paper=seat.studio.paper)  # type: ignore[arg-type]


def account(
    invoices: Iterable[Invoice], payments: Iterable[Payment], currency: str
) -> tuple[Line, ...]:
    """Everything by day, papers before money, each with the balance after it."""
    moves: list[tuple[date, int, int, str, Money]] = []
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
    lines: list[Line] = []
    for day, _, _, what, amount in sorted(moves, key=lambda move: move[:3]):
        before = lines[-1].balance if lines else amount * 0
        lines.append(Line(on=day, what=what, amount=amount, balance=before + amount))
    return tuple(lines)

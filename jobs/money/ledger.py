"""A job's money: what is due on a date, what came."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import transaction
from django.db.models import Sum
from django.utils.timezone import localtime

from jobs.briefs import note
from jobs.models import Acceptance, CallOff, Job, Offer, Payment
from jobs.records import vouch_payment
from jobs.stages import S, move_if_due
from pricing.core.instalments import (
    Due,
    Moved,
    Standing,
    move_with_event,
    plan_from_data,
    standing,
)
from pricing.core.money import Money, write_money

if TYPE_CHECKING:
    from studio.door import SeatAt

Kind = Payment.Kind
KEPT_DUE_AFTER = timedelta(days=7)  # common practice, no source
SAID = {
    Kind.CAME: "Payment of",
    Kind.REFUND: "Money given back:",
    Kind.BOUNCED: "Bounced payment:",
    Kind.PUT_RIGHT: "An entry put right by",
}


def accepted_offer(job: Job) -> Offer | None:
    """The offer that the client said yes to; from `with_money` rows this asks nothing more."""
    for offer in job.offers.all():
        try:
            offer.acceptance  # noqa: B018  the reverse one-to-one raises when there is none
        except Acceptance.DoesNotExist:
            continue
        return offer
    return None


def plan_of(job: Job, currency: str) -> tuple[Due, ...]:
    """The accepted plan of a `with_money` job as its event was moved since; nothing before the yes.

    What was frozen stays as it was: instalments that were not due yet when the event was moved go along.
    """
    offer = accepted_offer(job)
    if offer is None:
        return ()
    plan = plan_from_data(offer.choice(offer.acceptance.choice)["schedule"], currency)
    moved = sorted(job.postponements.all(), key=lambda move: move.pk)
    return move_with_event(plan, [
        Moved(
            on=localtime(move.at).date(),
            days=(localtime(move.to_start).date() - localtime(move.from_start).date()).days,
        )
        for move in moved if move.at > offer.acceptance.at
    ])  # fmt: skip


def called_off(job: Job) -> CallOff | None:
    """How a job was called off after its yes; from `with_money` rows this asks nothing more."""
    try:
        return job.call_off
    except CallOff.DoesNotExist:
        return None


def standing_of(job: Job, *, on: date, currency: str) -> Standing | None:
    """Where a `with_money` job stands, or None before the client's yes.

    After a call-off only what is kept is due, whatever the plan said.
    """
    paid = [Money(p.amount, currency) for p in job.payments.all()]
    if off := called_off(job):
        kept = Money(off.kept, currency)
        rest = Due(what="what is kept after the call-off", on=off.on + KEPT_DUE_AFTER, amount=kept)
        return standing([rest] if kept else [], paid, on=on, currency=currency)
    if accepted_offer(job) is None:
        return None
    return standing(plan_of(job, currency), paid, on=on, currency=currency)


class CannotRecord(ValueError):
    """Why an entry cannot stand, as a sentence."""


@transaction.atomic
def record_payment(
    seat: SeatAt, job: Job, *, on: date, amount: Decimal, how: str, reference: str,
    kind: str = Kind.CAME, of: Payment | None = None,
) -> Payment:  # fmt: skip
    """Write down money that came, or (negative) went back or puts the entry `of` right. Raises CannotRecord."""
    seat.for_errand().rows(Job).select_for_update().get(
        pk=job.pk
    )  # two entries wait for one another
    if reason := why_not(seat, job, kind, amount, of):
        raise CannotRecord(reason)
    payment = seat.add(
        Payment, job=job, on=on, amount=amount, how=how, reference=reference, kind=kind, of=of,
        entered_by=seat.person,
    )  # fmt: skip
    words = write_money(Money(amount, seat.studio.currency), seat.studio.language)
    note(seat, job, f"{SAID[Kind(kind)]} {words} written down", vouch_payment(payment))
    book_if_covered(seat, job, on=on)
    return payment


def why_not(seat: SeatAt, job: Job, kind: str, amount: Decimal, of: Payment | None) -> str:
    """Why an entry cannot stand beside those of its job; empty when it can."""
    currency, language = seat.studio.currency, seat.studio.language

    def write(figure: Decimal) -> str:
        return write_money(Money(figure, currency), language)

    if kind == Kind.REFUND:
        there = seat.rows(Payment).filter(job=job).aggregate(sum=Sum("amount"))["sum"] or Decimal(0)
        if -amount > there:
            return (
                f"Given back: expected at most the {write(there)} that came, got {write(-amount)}."
            )
    if kind in (Kind.BOUNCED, Kind.PUT_RIGHT):
        if of is None or of.job_id != job.pk:
            return "Which entry: expected one of this job, got none."
        left = left_of(seat, of)
        if kind == Kind.BOUNCED and of.kind != Kind.CAME:
            return "Which entry: expected money that came in, got another entry."
        if (left + amount) * of.amount < 0:
            return (
                f"Amount: expected no more than the {write(abs(left))} that stands of that entry."
            )
    return ""


def left_of(seat: SeatAt, entry: Payment) -> Decimal:
    """What stands of an entry after everything that bounced or put it right."""
    righted = seat.rows(Payment).filter(of=entry).aggregate(sum=Sum("amount"))["sum"] or Decimal(0)
    return entry.amount + righted


def book_if_covered(seat: SeatAt, job: Job, *, on: date) -> None:
    """An accepted job whose deposit is covered is booked."""
    fresh = seat.row(Job, among=seat.rows(Job).with_money(), pk=job.pk)
    now = standing_of(fresh, on=on, currency=seat.studio.currency)
    if now and now.deposit_covered:
        move_if_due(seat, fresh, S.BOOKED)

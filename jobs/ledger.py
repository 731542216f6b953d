"""A job's money: what is due on a date, what came."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import transaction

from jobs.briefs import note
from jobs.models import Acceptance, Job, Offer, Payment
from jobs.records import vouch_payment
from jobs.stages import S, move_if_due
from pricing.core.instalments import Standing, plan_from_data, standing
from pricing.core.money import Money, write_money

if TYPE_CHECKING:
    from studio.door import SeatAt


def accepted_offer(job: Job) -> Offer | None:
    """The offer that the client said yes to; from `with_money` rows this asks nothing more."""
    for offer in job.offers.all():
        try:
            offer.acceptance  # noqa: B018  the reverse one-to-one raises when there is none
        except Acceptance.DoesNotExist:
            continue
        return offer
    return None


def standing_of(job: Job, *, on: date, currency: str) -> Standing | None:
    """Where a `with_money` job stands, or None before the client's yes."""
    offer = accepted_offer(job)
    if offer is None:
        return None
    paid = [Money(p.amount, currency) for p in job.payments.all()]
    schedule = offer.choice(offer.acceptance.choice)["schedule"]
    return standing(plan_from_data(schedule, currency), paid, on=on, currency=currency)


@transaction.atomic
def record_payment(
    seat: SeatAt, job: Job, *, on: date, amount: Decimal, how: str, reference: str
) -> Payment:
    """Write down money that came, or (negative) went back or puts an entry right."""
    payment = seat.add(
        Payment, job=job, on=on, amount=amount, how=how, reference=reference, entered_by=seat.person
    )
    words = write_money(Money(amount, seat.studio.currency), seat.studio.language)
    note(seat, job, f"Payment of {words} written down", vouch_payment(payment))
    book_if_covered(seat, job, on=on)
    return payment


def book_if_covered(seat: SeatAt, job: Job, *, on: date) -> None:
    """An accepted job whose deposit is covered is booked."""
    fresh = seat.row(Job, among=seat.rows(Job).with_money(), pk=job.pk)
    now = standing_of(fresh, on=on, currency=seat.studio.currency)
    if now and now.deposit_covered:
        move_if_due(seat, fresh, S.BOOKED)

"""What can happen to an accepted job’s money and day, each by one name, for tests that let anything happen.

`do(seat, job, what, n, clock)` does one of `WHAT`; `n` from 1 to 100 says how much, how many percent or how many days.
What the house refuses raises one of `REFUSED`, and has changed nothing. Time goes by the clock of `time_machine`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from decimal import Decimal
from typing import Any

import time_machine
from django.db import transaction
from django.utils import timezone
from hypothesis import strategies as st

from jobs.day.postponing import CannotPostpone, postpone
from jobs.models import Job, Offer
from jobs.money import calling_off
from jobs.money.calling_off import CannotCallOff
from jobs.money.invoicing import CannotInvoice, credit, issue, left_of
from jobs.money.ledger import CannotRecord, record_payment
from jobs.proposal.accepting import Yes, accept
from jobs.proposal.offering import Words, send_offer
from pricing.core.crediting import apart, net_of
from pricing.core.money import Money
from studio.door import SeatAt
from tests.surfaces import fresh


def sent(seat: SeatAt, job: Job) -> Offer:
    words = Words(greeting="Dear you,", note="")
    return send_offer(seat, job, words, at=timezone.now(), link_for=lambda token: f"/o/{token}/")


def said_yes(seat: SeatAt, offer: Offer) -> Job:
    yes = Yes(name="R", wording="I accept.", address=None, agent="")
    accept(seat, offer, yes, at=timezone.now())
    return fresh(seat, offer.job)


def pay(seat: SeatAt, job: Job, amount: str | Decimal, **facts: Any) -> None:
    on = timezone.localdate()
    record_payment(seat, job, on=on, amount=Decimal(amount), how="transfer", reference="", **facts)


REFUSED = (CannotRecord, CannotInvoice, CannotPostpone, CannotCallOff)


def pennies(share: int, of: Decimal) -> Decimal:
    """A share of an amount in hundredths, never nothing."""
    return max((of * share / 100).quantize(Decimal("0.01")), Decimal("0.01"))


def righted(seat: SeatAt, job: Job, kind: str, n: int) -> None:
    """So many percent of the newest payment bounce, or are put right."""
    if entry := job.payments.filter(kind="came").order_by("-pk").first():
        pay(seat, job, -pennies(n, entry.amount), kind=kind, of=entry)


def credited(seat: SeatAt, job: Job, n: int) -> None:
    """So many percent of what is left of the newest invoice, or the next amount that makes a sound part."""
    bill = job.invoices.filter(kind="invoice").order_by("-number").first()
    if bill and (left := left_of(seat, bill)):
        currency = seat.studio.currency
        net = Money(pennies(n, net_of(left, currency).amount), currency)
        while not apart(left, net):
            net = net + Money.of_minor(1, currency)
        credit(seat, bill, net.amount, "", on=timezone.localdate())


def called_off(seat: SeatAt, job: Job, n: int) -> None:
    """So many percent of what the scale keeps are kept."""
    on = timezone.localdate()
    percent = calling_off.look(seat, job, on=on).scale_percent * n / 100
    shown = calling_off.look(seat, job, on=on, percent=percent)
    calling_off.call_off(seat, job, on=on, percent=percent, why="", seen=shown.seen)


WHAT: dict[str, Callable[[SeatAt, Job, int], object]] = {
    "pay": lambda seat, job, n: pay(seat, job, pennies(n, Decimal(500))),
    "refund": lambda seat, job, n: pay(seat, job, -pennies(n, Decimal(300)), kind="refund"),
    "bounce": lambda seat, job, n: righted(seat, job, "bounced", n),
    "put right": lambda seat, job, n: righted(seat, job, "put_right", n),
    "invoice": lambda seat, job, n: issue(seat, job, on=timezone.localdate()),
    "credit": credited,
    "credit all": lambda seat, job, n: credited(seat, job, 100),
    "move": lambda seat, job, n: postpone(seat, job, timezone.now() + timedelta(days=n), why=""),
    "call off": called_off,
}
STEPS = st.lists(
    st.tuples(
        st.sampled_from([*WHAT, "pay", "invoice", "move", "wait"]),  # some are wanted more often
        st.integers(1, 100),
    ),
    max_size=9,
)


def do(seat: SeatAt, job: Job, what: str, n: int, clock: time_machine.Traveller) -> None:
    """One of `WHAT`, or so many days go by. Raises one of `REFUSED` where it cannot be."""
    clock.shift(timedelta(days=n if what == "wait" else 0, seconds=1))
    if what in WHAT:
        WHAT[what](seat, fresh(seat, job), n)


@contextmanager
def undone() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)

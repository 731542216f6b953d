"""What can happen to an accepted job’s money and day, each by one name, for tests that let anything happen.

`do(access, job, what, n, clock)` does one of `WHAT`; `n` from 1 to 100 says how much, how many percent or how many days.
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

from jobs.day.moving_event import CannotMoveEvent, move_event
from jobs.models import Job, Offer
from jobs.money import cancelling
from jobs.money.cancelling import CannotCancel
from jobs.money.invoicing import CannotInvoice, credit_invoice, issue_invoice, left_of_invoice
from jobs.money.ledger import CannotRecord, record_payment
from jobs.proposal.accepting import ClientYes, accept_offer
from jobs.proposal.offering import Words, send_offer
from pricing.core.crediting import net_of, set_apart
from pricing.core.money import Money
from studio.access import Access
from tests.surfaces import fresh


def sent(access: Access, job: Job) -> Offer:
    words = Words(greeting="Dear you,", note="")
    return send_offer(access, job, words, at=timezone.now(), link_for=lambda token: f"/o/{token}/")


def said_yes(access: Access, offer: Offer) -> Job:
    yes = ClientYes(name="R", wording="I accept.", address=None, agent="")
    accept_offer(access, offer, yes, at=timezone.now())
    return fresh(access, offer.job)


def pay(access: Access, job: Job, amount: str | Decimal, **facts: Any) -> None:
    on = timezone.localdate()
    record_payment(
        access, job, on=on, amount=Decimal(amount), how="transfer", reference="", **facts
    )


REFUSED = (CannotRecord, CannotInvoice, CannotMoveEvent, CannotCancel)


def pennies(share: int, of: Decimal) -> Decimal:
    """A share of an amount in hundredths, never nothing."""
    return max((of * share / 100).quantize(Decimal("0.01")), Decimal("0.01"))


def righted(access: Access, job: Job, kind: str, n: int) -> None:
    """So many percent of the newest payment bounce, or are put right."""
    if entry := job.payments.filter(kind="came").order_by("-pk").first():
        pay(access, job, -pennies(n, entry.amount), kind=kind, of=entry)


def credited(access: Access, job: Job, n: int) -> None:
    """So many percent of what is left of the newest invoice, or the next amount that makes a sound part."""
    bill = job.invoices.filter(kind="invoice").order_by("-number").first()
    if bill and (left := left_of_invoice(access, bill)):
        currency = access.studio.currency
        net = Money(pennies(n, net_of(left, currency).amount), currency)
        while not set_apart(left, net):
            net = net + Money.of_minor(1, currency)
        credit_invoice(access, bill, net.amount, "", on=timezone.localdate())


def cancellation_of(access: Access, job: Job, n: int) -> None:
    """So many percent of what the scale keeps are kept."""
    on = timezone.localdate()
    percent = cancelling.preview_cancellation(access, job, on=on).scale_percent * n / 100
    shown = cancelling.preview_cancellation(access, job, on=on, percent=percent)
    cancelling.cancel_job(access, job, on=on, percent=percent, why="", seen=shown.seen)


WHAT: dict[str, Callable[[Access, Job, int], object]] = {
    "pay": lambda access, job, n: pay(access, job, pennies(n, Decimal(500))),
    "refund": lambda access, job, n: pay(access, job, -pennies(n, Decimal(300)), kind="refund"),
    "bounce": lambda access, job, n: righted(access, job, "bounced", n),
    "put right": lambda access, job, n: righted(access, job, "put_right", n),
    "invoice": lambda access, job, n: issue_invoice(access, job, on=timezone.localdate()),
    "credit": credited,
    "credit all": lambda access, job, n: credited(access, job, 100),
    "move": lambda access, job, n: move_event(
        access, job, timezone.now() + timedelta(days=n), why=""
    ),
    "call off": cancellation_of,
}
STEPS = st.lists(
    st.tuples(
        st.sampled_from([*WHAT, "pay", "invoice", "move", "wait"]),  # some are wanted more often
        st.integers(1, 100),
    ),
    max_size=9,
)


def do(access: Access, job: Job, what: str, n: int, clock: time_machine.Traveller) -> None:
    """One of `WHAT`, or so many days go by. Raises one of `REFUSED` where it cannot be."""
    clock.shift(timedelta(days=n if what == "wait" else 0, seconds=1))
    if what in WHAT:
        WHAT[what](access, fresh(access, job), n)


@contextmanager
def undone() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)

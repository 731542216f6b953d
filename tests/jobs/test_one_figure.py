"""What a client owes is one figure, wherever it is said: worked examples, and a law over anything that can happen."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.db import transaction
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jobs.day.postponing import CannotPostpone, postpone
from jobs.gather import quote_for, worked_for
from jobs.models import Job, Offer, Payment
from jobs.money import calling_off
from jobs.money.calling_off import CannotCallOff
from jobs.money.invoicing import CannotInvoice, credit, issue, left_of
from jobs.money.ledger import CannotRecord, record_payment
from jobs.proposal.accepting import Yes, accept
from jobs.proposal.offering import Words, send_offer
from pricing.core.crediting import apart, net_of
from pricing.core.money import Money
from studio.door import SeatAt
from tests.factories import a_designed_job, a_stocked_seat
from tests.surfaces import (
    disagreements_of_all,
    fresh,
    papers_as_html,
    said_everywhere,
)

NET = Decimal("338.35")  # 406.02 with 20 % on it; 30 % of that is a deposit of 121.81


def sent(seat: SeatAt, job: Job) -> Offer:
    words = Words(greeting="Dear you,", note="")
    return send_offer(seat, job, words, at=timezone.now(), link_for=lambda token: f"/o/{token}/")


def said_yes(seat: SeatAt, offer: Offer) -> Job:
    yes = Yes(name="R", wording="I accept.", address=None, agent="")
    accept(seat, offer, yes, at=timezone.now())
    return fresh(seat, offer.job)


def a_job_of(seat: SeatAt, net: Decimal = NET, **facts: Any) -> Job:
    """An accepted job of that net price."""
    start = timezone.now() + timedelta(days=60)
    job = a_designed_job(seat, event_start=start, event_end=start + timedelta(hours=5), **facts)
    worked = worked_for(seat, job)
    assert worked
    whole = quote_for(seat, job, worked, on=timezone.localdate()).net.amount
    job.discount, job.strike_fee = max(whole - net, Decimal(0)), max(net - whole, Decimal(0))
    job.save()
    return said_yes(seat, sent(seat, job))


def pay(seat: SeatAt, job: Job, amount: str | Decimal, **facts: Any) -> None:
    on = timezone.localdate()
    record_payment(seat, job, on=on, amount=Decimal(amount), how="transfer", reference="", **facts)


def owing(seat: SeatAt, job: Job) -> set[Decimal]:
    """Every figure that any surface says."""
    assert disagreements_of_all(seat) == []
    return {s.owing for s in said_everywhere(seat, job).values() if s.owing is not None}


@pytest.fixture
def taxed(seat: SeatAt) -> SeatAt:
    seat.studio.tax_number = "GB 123456789"
    seat.studio.save()
    return seat


@pytest.fixture
def job(taxed: SeatAt) -> Job:
    return a_job_of(taxed)


# --- worked by hand ---


def test_a_credit_note_lowers_what_is_due_everywhere_at_once(taxed: SeatAt, job: Job) -> None:
    on = timezone.localdate()
    pay(taxed, job, "121.81")
    bill = issue(taxed, job, on=on)
    assert bill.total == Decimal("406.02")
    assert owing(taxed, job) == {Decimal("284.21")}
    credit(taxed, bill, Decimal(50), "two minis fewer", on=on)
    assert owing(taxed, job) == {Decimal("224.21")}
    told = said_everywhere(taxed, job)
    assert len(told) >= 10
    assert told["reminders"].some == {"balance": Decimal("224.21")}
    assert told["Today"].dues == {"balance": Decimal("224.21")}
    pay(taxed, job, "224.21")
    assert "receipt" in said_everywhere(taxed, job)
    assert owing(taxed, job) == {Decimal(0)}


def test_a_credit_after_everything_was_paid_goes_back_everywhere(taxed: SeatAt, job: Job) -> None:
    bill = issue(taxed, job, on=timezone.localdate())
    pay(taxed, job, "406.02")
    credit(taxed, bill, Decimal(50), "", on=timezone.localdate())
    assert owing(taxed, job) == {Decimal(-60)}
    pay(taxed, job, "-60", kind=Payment.Kind.REFUND)
    assert owing(taxed, job) == {Decimal(0)}


def test_a_credit_beyond_the_balance_takes_from_the_deposit_last(taxed: SeatAt, job: Job) -> None:
    bill = issue(taxed, job, on=timezone.localdate())
    credit(taxed, bill, Decimal(250), "", on=timezone.localdate())  # 300 of it is 20 % dearer
    assert said_everywhere(taxed, job)["Today"].dues == {"deposit": Decimal("106.02")}
    assert owing(taxed, job) == {Decimal("106.02")}


def test_an_invoice_that_was_credited_whole_and_issued_anew_asks_once(
    taxed: SeatAt, job: Job
) -> None:
    on = timezone.localdate()
    pay(taxed, job, "121.81")
    first = issue(taxed, job, on=on)
    credit(taxed, first, None, "a wrong name", on=on)
    assert owing(taxed, job) == {Decimal("-121.81")}
    again = issue(taxed, job, on=on)
    assert owing(taxed, job) == {Decimal("284.21")}
    assert again.due_on == first.due_on


def test_an_invoice_of_less_than_was_paid_says_a_credit(taxed: SeatAt, job: Job) -> None:
    pay(taxed, job, "500")
    issue(taxed, job, on=timezone.localdate())
    assert said_everywhere(taxed, job)["invoice"].owing == Decimal("-93.98")
    assert owing(taxed, job) == {Decimal("-93.98")}


def test_the_scale_is_of_the_total_that_credit_notes_left(taxed: SeatAt, job: Job) -> None:
    on = timezone.localdate()
    credit(taxed, issue(taxed, job, on=on), Decimal(50), "", on=on)
    shown = calling_off.look(taxed, job, on=on, percent=Decimal(10))
    assert shown.total == Money(Decimal("346.02"), "GBP")
    assert Decimal("34.60") - shown.settled.kept.amount <= Decimal("0.02")
    calling_off.call_off(taxed, job, on=on, percent=Decimal(10), why="", seen=shown.seen)
    assert owing(taxed, job) == {shown.settled.kept.amount}


def test_a_credit_that_leaves_the_deposit_covered_books_the_job(taxed: SeatAt, job: Job) -> None:
    on = timezone.localdate()
    bill = issue(taxed, job, on=on)
    pay(taxed, job, "100")
    credit(taxed, bill, Decimal(250), "", on=on)  # leaves 106.02, all of it deposit
    job.refresh_from_db()
    assert job.stage == "accepted"
    credit(taxed, bill, Decimal("5.02"), "", on=on)  # 6.02 with its tax
    job.refresh_from_db()
    assert job.stage == "booked"
    assert owing(taxed, job) == {Decimal(0)}


def test_a_whole_credit_books_nothing(taxed: SeatAt, job: Job) -> None:
    credit(taxed, issue(taxed, job, on=timezone.localdate()), None, "", on=timezone.localdate())
    job.refresh_from_db()
    assert job.stage == "accepted"


def test_two_jobs_keep_to_themselves(taxed: SeatAt, job: Job) -> None:
    other = a_job_of(taxed, Decimal(200))
    credit(
        taxed, issue(taxed, job, on=timezone.localdate()), Decimal(50), "", on=timezone.localdate()
    )
    pay(taxed, other, "300")
    assert owing(taxed, job) == {Decimal("346.02")}
    assert owing(taxed, other) == {Decimal(-60)}


# --- anything that can happen ---


type Step = tuple[str, int]

STEPS = st.lists(
    st.tuples(
        st.sampled_from(["pay", "pay", "refund", "bounce", "put right", "invoice", "invoice", "credit", "credit all",
                         "move", "move", "call off", "wait"]),
        st.integers(1, 100),
    ),
    max_size=9,
)  # fmt: skip
REFUSED = (CannotRecord, CannotInvoice, CannotPostpone, CannotCallOff)


def pennies(share: int, of: Decimal) -> Decimal:
    """A share of an amount in hundredths, never nothing."""
    return max((of * share / 100).quantize(Decimal("0.01")), Decimal("0.01"))


def do(seat: SeatAt, job: Job, what: str, n: int, clock: time_machine.Coordinates) -> None:
    """One thing that can happen to a job's money or day. Raises one of REFUSED where it cannot."""
    on, bills = timezone.localdate(), job.invoices.filter(kind="invoice").order_by("-number")
    entry = job.payments.filter(kind="came").order_by("-pk").first()
    if what == "pay":
        pay(seat, job, pennies(n, Decimal(500)))
    elif what == "refund":
        pay(seat, job, -pennies(n, Decimal(300)), kind="refund")
    elif what in ("bounce", "put right") and entry:
        kind = "bounced" if what == "bounce" else "put_right"
        pay(seat, job, -pennies(n, entry.amount), kind=kind, of=entry)
    elif what == "invoice":
        issue(seat, job, on=on)
    elif what == "credit" and (bill := bills.first()) and (left := left_of(seat, bill)):
        net = Money(pennies(n, net_of(left, "GBP").amount), "GBP")
        while not apart(left, net):
            net = net + Money.of_minor(1, "GBP")
        credit(seat, bill, net.amount, "", on=on)
    elif what == "credit all" and (bill := bills.first()):
        credit(seat, bill, None, "", on=on)
    elif what == "move":
        postpone(seat, job, timezone.now() + timedelta(days=n), why="")
    elif what == "call off":
        percent = calling_off.look(seat, job, on=on).scale_percent * n / 100
        shown = calling_off.look(seat, job, on=on, percent=percent)
        calling_off.call_off(seat, job, on=on, percent=percent, why="", seen=shown.seen)
    elif what == "wait":
        clock.shift(timedelta(days=n))


@contextmanager
def undone() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@pytest.mark.django_db
def test_after_anything_that_happens_all_surfaces_say_one_figure() -> None:
    """Every beginning of a sequence is a sequence too, so that one look at the end is enough."""
    begin = timezone.now().replace(hour=12)
    with papers_as_html(), time_machine.travel(begin) as clock:
        seat = a_stocked_seat(tax_number="GB 123456789")
        plain, staged = (a_designed_job(seat, **at(begin, days)) for days in (50, 90))
        offers = [sent(seat, plain)]
        seat.studio.stages = [["20", "60"], ["25", "30"]]
        offers += [sent(seat, staged), sent(seat, staged)][1:]

        @settings(max_examples=40, suppress_health_check=list(HealthCheck))
        @given(st.sampled_from(offers), STEPS)
        def law(offer: Offer, steps: list[Step]) -> None:
            clock.move_to(begin + timedelta(hours=1))
            with undone():
                job = said_yes(seat, offer)
                for what, n in steps:
                    clock.shift(timedelta(seconds=1))
                    with suppress(*REFUSED):
                        do(seat, fresh(seat, job), what, n, clock)
                assert disagreements_of_all(seat) == []

        law()


def at(begin: datetime, days: int) -> dict[str, datetime]:
    start = begin + timedelta(days=days)
    return {"event_start": start, "event_end": start + timedelta(hours=5)}

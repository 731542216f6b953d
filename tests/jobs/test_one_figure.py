"""What a client owes is one figure, wherever it is said: worked examples, and a law over anything that can happen."""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jobs.inputs import quote_for, worked_for
from jobs.models import Job, Offer, Payment
from jobs.money import cancelling
from jobs.money.invoicing import credit_invoice, issue_invoice
from pricing.core.money import Money
from studio.access import Access
from tests.conftest import signed_in
from tests.depth import examples
from tests.factories import a_designed_job, a_stocked_access
from tests.happenings import REFUSED, STEPS, do, pay, said_yes, sent, undone
from tests.surfaces import (
    disagreements_of_all,
    papers_as_html,
    said_everywhere,
    text_of,
)

NET = Decimal("338.35")  # 406.02 with 20 % on it; 30 % of that is a deposit of 121.81


def a_job_of(access: Access, net: Decimal = NET, **facts: Any) -> Job:
    """An accepted job of that net price."""
    start = timezone.now() + timedelta(days=60)
    job = a_designed_job(access, event_start=start, event_end=start + timedelta(hours=5), **facts)
    worked = worked_for(access, job)
    assert worked
    whole = quote_for(access, job, worked, on=timezone.localdate()).net.amount
    job.discount, job.strike_fee = max(whole - net, Decimal(0)), max(net - whole, Decimal(0))
    job.save()
    return said_yes(access, sent(access, job))


def owing(access: Access, job: Job) -> set[Decimal]:
    """Every figure that any surface says."""
    assert disagreements_of_all(access) == []
    return {s.owing for s in said_everywhere(access, job).values() if s.owing is not None}


@pytest.fixture
def taxed(access: Access) -> Access:
    access.studio.tax_number = "GB 123456789"
    access.studio.save()
    return access


@pytest.fixture
def job(taxed: Access) -> Job:
    return a_job_of(taxed)


# --- worked by hand ---


def test_a_credit_note_lowers_what_is_due_everywhere_at_once(taxed: Access, job: Job) -> None:
    on = timezone.localdate()
    pay(taxed, job, "121.81")
    bill = issue_invoice(taxed, job, on=on)
    assert bill.total == Decimal("406.02")
    assert owing(taxed, job) == {Decimal("284.21")}
    credit_invoice(taxed, bill, Decimal(50), "two minis fewer", on=on)
    assert owing(taxed, job) == {Decimal("224.21")}
    page = signed_in(taxed).get(reverse("jobs:payment", args=[job.number])).content.decode()
    assert "£406.02 was agreed; credit notes took £60.00 off it" in page
    told = said_everywhere(taxed, job)
    assert len(told) >= 10
    assert told["reminders"].some == {"balance": Decimal("224.21")}
    assert told["Today"].dues == {"balance": Decimal("224.21")}
    pay(taxed, job, "224.21")
    assert "receipt" in said_everywhere(taxed, job)
    assert owing(taxed, job) == {Decimal(0)}


def test_a_credit_after_everything_was_paid_goes_back_everywhere(taxed: Access, job: Job) -> None:
    bill = issue_invoice(taxed, job, on=timezone.localdate())
    pay(taxed, job, "406.02")
    credit_invoice(taxed, bill, Decimal(50), "", on=timezone.localdate())
    assert owing(taxed, job) == {Decimal(-60)}
    pay(taxed, job, "-60", kind=Payment.Kind.REFUND)
    assert owing(taxed, job) == {Decimal(0)}


def test_a_credit_beyond_the_balance_takes_from_the_deposit_last(taxed: Access, job: Job) -> None:
    bill = issue_invoice(taxed, job, on=timezone.localdate())
    credit_invoice(
        taxed, bill, Decimal(250), "", on=timezone.localdate()
    )  # 300 of it is 20 % dearer
    assert said_everywhere(taxed, job)["Today"].dues == {"deposit": Decimal("106.02")}
    assert owing(taxed, job) == {Decimal("106.02")}


def test_an_invoice_that_was_credited_whole_and_issued_anew_asks_once(
    taxed: Access, job: Job
) -> None:
    on = timezone.localdate()
    pay(taxed, job, "121.81")
    first = issue_invoice(taxed, job, on=on)
    credit_invoice(taxed, first, None, "a wrong name", on=on)
    assert owing(taxed, job) == {Decimal("-121.81")}
    again = issue_invoice(taxed, job, on=on)
    assert owing(taxed, job) == {Decimal("284.21")}
    assert again.due_on == first.due_on


def test_an_invoice_of_less_than_was_paid_says_a_credit(taxed: Access, job: Job) -> None:
    pay(taxed, job, "500")
    issue_invoice(taxed, job, on=timezone.localdate())
    assert said_everywhere(taxed, job)["invoice"].owing == Decimal("-93.98")
    assert owing(taxed, job) == {Decimal("-93.98")}


def test_the_scale_is_of_the_total_that_credit_notes_left(taxed: Access, job: Job) -> None:
    on = timezone.localdate()
    credit_invoice(taxed, issue_invoice(taxed, job, on=on), Decimal(50), "", on=on)
    shown = cancelling.preview_cancellation(taxed, job, on=on, percent=Decimal(10))
    assert shown.total == Money(Decimal("346.02"), "GBP")
    assert Decimal("34.60") - shown.settled.kept.amount <= Decimal("0.02")
    cancelling.cancel_job(taxed, job, on=on, percent=Decimal(10), why="", seen=shown.seen)
    assert owing(taxed, job) == {shown.settled.kept.amount}


def test_a_credit_that_leaves_the_deposit_covered_books_the_job(taxed: Access, job: Job) -> None:
    on = timezone.localdate()
    bill = issue_invoice(taxed, job, on=on)
    pay(taxed, job, "100")
    credit_invoice(taxed, bill, Decimal(250), "", on=on)  # leaves 106.02, all of it deposit
    job.refresh_from_db()
    assert job.stage == "accepted"
    credit_invoice(taxed, bill, Decimal("5.02"), "", on=on)  # 6.02 with its tax
    job.refresh_from_db()
    assert job.stage == "booked"
    assert owing(taxed, job) == {Decimal(0)}


def test_a_whole_credit_books_nothing(taxed: Access, job: Job) -> None:
    credit_invoice(
        taxed, issue_invoice(taxed, job, on=timezone.localdate()), None, "", on=timezone.localdate()
    )
    job.refresh_from_db()
    assert job.stage == "accepted"


def test_money_that_went_back_and_never_came_is_asked_everywhere(taxed: Access, job: Job) -> None:
    pay(taxed, job, "100")
    pay(taxed, job, "-100", kind=Payment.Kind.REFUND)
    pay(taxed, job, "-100", kind=Payment.Kind.BOUNCED, of=job.payments.get(kind="came"))
    assert owing(taxed, job) == {Decimal("506.02")}
    assert said_everywhere(taxed, job)["Today"].dues == {
        "money given back beyond what came": Decimal(100),
        "deposit": Decimal("121.81"), "balance": Decimal("284.21"),
    }  # fmt: skip
    bill = issue_invoice(taxed, job, on=timezone.localdate())
    assert "Given back beyond what came £100.00" in text_of(bytes(bill.pdf))
    assert owing(taxed, job) == {Decimal("506.02")}


def test_two_jobs_keep_to_themselves(taxed: Access, job: Job) -> None:
    other = a_job_of(taxed, Decimal(200))
    credit_invoice(
        taxed,
        issue_invoice(taxed, job, on=timezone.localdate()),
        Decimal(50),
        "",
        on=timezone.localdate(),
    )
    pay(taxed, other, "300")
    assert owing(taxed, job) == {Decimal("346.02")}
    assert owing(taxed, other) == {Decimal(-60)}


# --- anything that can happen ---


@pytest.mark.django_db
def test_after_anything_that_happens_all_surfaces_say_one_figure() -> None:
    """Every beginning of a sequence is a sequence too, so that one look at the end is enough."""
    begin = timezone.now().replace(hour=12)
    with papers_as_html(), time_machine.travel(begin) as clock:
        access = a_stocked_access(tax_number="GB 123456789")
        plain, staged = (a_designed_job(access, **at(begin, days)) for days in (50, 90))
        offers = [sent(access, plain)]
        access.studio.stages = [["20", "60"], ["25", "30"]]
        offers += [sent(access, staged), sent(access, staged)][1:]

        @settings(max_examples=examples(40), suppress_health_check=list(HealthCheck))
        @given(st.sampled_from(offers), STEPS)
        def law(offer: Offer, steps: list[tuple[str, int]]) -> None:
            clock.move_to(begin + timedelta(hours=1))
            with undone():
                job = said_yes(access, offer)
                for what, n in steps:
                    with suppress(*REFUSED):
                        do(access, job, what, n, clock)
                assert disagreements_of_all(access) == []

        law()


def at(begin: datetime, days: int) -> dict[str, datetime]:
    start = begin + timedelta(days=days)
    return {"event_start": start, "event_end": start + timedelta(hours=5)}

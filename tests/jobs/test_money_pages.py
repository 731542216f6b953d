"""Payments and what is due."""

from __future__ import annotations

import uuid
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from jobs.models import Job, Offer, Payment
from jobs.proposal.accepting import Yes, accept
from jobs.proposal.offering import Words, send_offer
from pricing.kit import Span, book, check_in
from pricing.models import KitItem
from studio.door import SeatAt
from tests.conftest import signed_in
from tests.factories import a_designed_job


def an_accepted_job(seat: SeatAt, *, on: date | None = None, **facts: Any) -> Job:
    job = a_designed_job(seat, **facts)
    at = timezone.now() if on is None else timezone.now() - (timezone.localdate() - on)
    offer = send_offer(
        seat, job, Words(greeting="Dear you,", note=""), at=at, link_for=lambda t: f"https://x/{t}"
    )
    accept(seat, offer, Yes(name="Rufus", wording="I do", address=None, agent=""), at=at)
    return job


@pytest.fixture
def job(seat: SeatAt) -> Job:
    return an_accepted_job(seat)


def at(job: Job) -> str:
    return reverse("jobs:payment", args=[job.number])


def pay(browser: Browser, job: Job, amount: object, /, **changes: str) -> Any:
    told = {"on": timezone.localdate().isoformat(), "amount": str(amount), "how": "transfer", "reference": "R1",
            "press": str(uuid.uuid4()), **changes}  # fmt: skip
    return browser.post(at(job), told)


def test_a_yes_and_its_deposit_book_the_job(browser: Browser, job: Job) -> None:
    deposit = Decimal(Offer.objects.get().figures["deposit"])
    pay(browser, job, deposit - 1)
    job.refresh_from_db()
    assert job.stage == "accepted"
    pay(browser, job, 1)
    job.refresh_from_db()
    assert job.stage == "booked"


def test_one_press_is_one_payment(browser: Browser, job: Job) -> None:
    press = str(uuid.uuid4())
    for _ in range(3):
        pay(browser, job, 50, press=press)
    assert Payment.objects.count() == 1


def test_a_mistake_is_put_right_by_another_entry(browser: Browser, job: Job) -> None:
    pay(browser, job, "500")
    pay(browser, job, "-450", kind="put_right", of=str(Payment.objects.get().pk))
    assert browser.get(at(job)).context["standing"].paid.amount == 50


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [("amount", "0", "other than zero"), ("amount", "12.345", "at most 2 decimals"), ("amount", "a tenner", "got “a tenner”"),
     ("on", "yesterday", "Enter a valid date")],
)  # fmt: skip
def test_garbage_gets_a_sentence(
    browser: Browser, job: Job, field: str, typed: str, says: str
) -> None:
    answer = pay(browser, job, 5, **{field: typed})
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert typed in answer.content.decode()


def test_what_is_due_and_overdue_on_a_date(browser: Browser, seat: SeatAt) -> None:
    late = an_accepted_job(seat, on=timezone.localdate() - timedelta(days=10), title="Late one")
    fresh = an_accepted_job(seat, title="Fresh one")
    page = browser.get(reverse("jobs:money")).context
    assert [(job, due.what) for due, job, _ in page["overdue"]] == [(late, "deposit")]
    assert {(job.pk, due.what) for due, job, _ in page["coming"]} == {
        (late.pk, "balance"), (fresh.pk, "deposit"), (fresh.pk, "balance"),
    }  # fmt: skip


def test_crew_see_no_money(crew: SeatAt, job: Job) -> None:
    for page in (at(job), reverse("jobs:money")):
        assert signed_in(crew).get(page).status_code == 403


def queries(browser: Browser, page: str) -> int:
    with CaptureQueriesContext(connection) as seen:
        assert browser.get(page).status_code == 200
    return len(seen)


LISTS = [
    "jobs:today",
    "jobs:jobs",
    "jobs:diary",
    "jobs:money",
    "pricing:stores",
    "pricing:rates",
    "studio:facts",
]


@pytest.mark.parametrize("name", LISTS)
def test_a_list_asks_the_database_as_often_for_many_rows_as_for_few(
    browser: Browser, seat: SeatAt, name: str
) -> None:
    start = timezone.now() + timedelta(days=5)
    an_accepted_job(seat, event_start=start)
    few = queries(browser, reverse(name))
    for n in range(4):
        job = an_accepted_job(seat, event_start=start + timedelta(days=n))
        pay(browser, job, 10)
    assert queries(browser, reverse(name)) == few


def test_what_came_back_broken_stands_on_the_payments_page_and_in_the_reports(
    browser: Browser, crew: SeatAt, seat: SeatAt, job: Job
) -> None:
    ring = seat.add(KitItem, key="frame/ring", name="ring frame")
    span = Span(out_from=timezone.now(), back_until=timezone.now() + timedelta(days=1))
    (booking,) = book(seat, f"job:{job.number}", job.title, [("frame/ring", 1)], span)
    assert "To charge for kit" not in browser.get(at(job)).content.decode()
    check_in(seat, booking, at=timezone.now(), kind="charged", what="bent at a joint")
    page = browser.get(at(job)).content.decode()
    assert "ring frame: bent at a joint" in page
    assert "no amount yet" in page
    note = ring.notes.get()
    told, url = {"press": str(uuid.uuid4())}, reverse("jobs:charge", args=[job.number, note.pk])
    for wrong in ("", "-3", "1.001"):
        browser.post(url, {**told, "amount": wrong})
    assert ring.notes.count() == 1
    for _ in range(2):  # twice pressed is once
        browser.post(url, {**told, "amount": "42.50"})
    assert ring.notes.count() == 2
    assert "£42.50" in browser.get(at(job)).content.decode()
    sheet = browser.get(reverse("jobs:report-sheet", args=["charged"])).content.decode()
    assert sheet.splitlines()[1].endswith("ring frame,bent at a joint,42.50")
    assert "£42.50" in browser.get(reverse("jobs:reports")).content.decode()
    assert signed_in(crew).post(url, {**told, "amount": "1"}).status_code == 403
    other = a_designed_job(seat)
    astray = reverse("jobs:charge", args=[other.number, note.pk])
    assert browser.post(astray, {**told, "amount": "1"}).status_code == 404

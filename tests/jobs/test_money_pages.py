"""Payments and what is due."""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from jobs.day.reserving import holder_of
from jobs.models import Job, Offer, Payment
from jobs.money.ledger import CannotRecord, record_payment
from jobs.proposal.accepting import ClientYes, accept_offer
from jobs.proposal.offering import Words, send_offer
from pricing.models import KitItem
from pricing.stores.kit import KitSpan, book_items, check_in
from studio.access import Access
from tests.conftest import signed_in
from tests.factories import a_designed_job


def an_accepted_job(access: Access, *, on: date | None = None, **facts: Any) -> Job:
    job = a_designed_job(access, **facts)
    at = timezone.now() if on is None else timezone.now() - (timezone.localdate() - on)
    offer = send_offer(
        access,
        job,
        Words(greeting="Dear you,", note=""),
        at=at,
        link_for=lambda t: f"https://x/{t}",
    )
    accept_offer(
        access, offer, ClientYes(name="Rufus", wording="I do", address=None, agent=""), at=at
    )
    return job


@pytest.fixture
def job(access: Access) -> Job:
    return an_accepted_job(access)


def at(job: Job) -> str:
    return reverse("jobs:payment", args=[job.number])


def pay(browser: Browser, job: Job, amount: object, /, **changes: str) -> Any:
    told = {"on": timezone.localdate().isoformat(), "amount": str(amount), "how": "transfer", "reference": "R1",
            "form_key": str(uuid.uuid4()), **changes}  # fmt: skip
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
        pay(browser, job, 50, form_key=press)
    assert Payment.objects.count() == 1


def test_a_mistake_is_put_right_by_another_entry(browser: Browser, job: Job) -> None:
    pay(browser, job, "200")
    pay(browser, job, "-150", kind="put_right", of=str(Payment.objects.get().pk))
    assert browser.get(at(job)).context["standing"].paid.amount == 50


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [("amount", "0", "other than zero"), ("amount", "0.345", "at most 2 decimals"), ("amount", "a tenner", "got “a tenner”"),
     ("on", "yesterday", "Enter a valid date")],
)  # fmt: skip
def test_garbage_gets_a_sentence(
    browser: Browser, job: Job, field: str, typed: str, says: str
) -> None:
    answer = pay(browser, job, 5, **{field: typed})
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert typed in answer.content.decode()


def day(days: int) -> str:
    return (timezone.localdate() + timedelta(days=days)).isoformat()


def test_a_payment_of_a_day_to_come_is_refused(browser: Browser, job: Job) -> None:
    answer = pay(browser, job, 50, on=day(1))
    assert answer.status_code == 422
    assert "Date: expected today or a day before" in answer.content.decode()
    assert f'value="{day(1)}"' in answer.content.decode()
    assert pay(browser, job, 50, on=day(0)).status_code == 302
    assert Payment.objects.get().on == timezone.localdate()


@pytest.mark.parametrize(
    ("now", "there"),
    [
        # Auckland is 13 hours ahead of UTC in January, New York five behind (IANA tz database).
        (datetime(2027, 1, 4, 12, tzinfo=UTC), {"Pacific/Auckland": 5, "America/New_York": 4}),
        (datetime(2027, 1, 4, 3, tzinfo=UTC), {"Pacific/Auckland": 4, "America/New_York": 3}),
    ],
)
def test_today_is_the_studios_own(
    access: Access, job: Job, now: datetime, there: dict[str, int]
) -> None:
    with time_machine.travel(now):
        for name, number in there.items():
            access.studio.timezone = name
            on = date(2027, 1, number)
            record_payment(access, job, on=on, amount=Decimal(1), how="cash", reference=name)
            with pytest.raises(CannotRecord, match="expected today or a day before"):
                record_payment(
                    access,
                    job,
                    on=on + timedelta(days=1),
                    amount=Decimal(1),
                    how="cash",
                    reference="",
                )


def total_of(job: Job) -> Decimal:
    return Decimal(Offer.objects.get(job=job).figures["total"])


@pytest.mark.parametrize(
    ("more", "on", "says"),
    [
        ("0", 0, ""),
        ("0.01", 0, "is more than the"),
        ("-1", -366, ""),
        ("-1", -367, "is more than a year ago."),
    ],
)
def test_a_payment_that_is_most_likely_a_slip_is_asked_about(
    browser: Browser, job: Job, more: str, on: int, says: str
) -> None:
    amount = total_of(job) + Decimal(more)
    answer = pay(browser, job, amount, on=day(on))
    if not says:
        assert answer.status_code == 302
        return
    page = answer.content.decode()
    assert answer.status_code == 422
    assert says in page
    assert f'value="{amount}"' in page
    assert f'value="{day(on)}"' in page
    assert not Payment.objects.exists()
    tick = answer.context["form"]["sure"]
    assert not tick.value()
    sure = tick.field.widget.attrs["value"]
    assert pay(browser, job, amount, on=day(on), sure=sure).status_code == 302
    assert Payment.objects.get().amount == amount


def test_the_same_entry_twice_is_asked_about(browser: Browser, job: Job) -> None:
    pay(browser, job, 20)
    answer = pay(browser, job, 20)
    assert "£20.00 of that day is written down already." in answer.content.decode()
    assert pay(browser, job, 21).status_code == 302
    assert pay(browser, job, 20, on=day(-1)).status_code == 302
    assert Payment.objects.count() == 3


def test_a_tick_is_good_for_what_it_stood_beside(browser: Browser, job: Job) -> None:
    over = total_of(job) + 100
    sure = pay(browser, job, over).context["form"]["sure"].field.widget.attrs["value"]
    answer = pay(browser, job, over * 10, sure=sure)
    assert answer.status_code == 422
    assert not answer.context["form"]["sure"].value()
    assert not Payment.objects.exists()


def test_an_issued_paper_is_told(browser: Browser, access: Access, job: Job) -> None:
    """The press that cannot be taken back says what it did."""
    access.studio.tax_number = "GB 123456789"
    access.studio.save()
    issue = {"form_key": str(uuid.uuid4())}
    told = browser.post(reverse("jobs:invoice", args=[job.number]), issue, follow=True)
    assert "Invoice issued" in told.content.decode()
    credit = {"form_key": str(uuid.uuid4()), "do": "credit", "of": "1", "net": "5"}
    told = browser.post(reverse("jobs:invoice", args=[job.number]), credit, follow=True)
    assert "Credit note issued" in told.content.decode()


def test_what_is_due_and_overdue_on_a_date(browser: Browser, access: Access) -> None:
    late = an_accepted_job(access, on=timezone.localdate() - timedelta(days=10), title="Late one")
    fresh = an_accepted_job(access, title="Fresh one")
    page = browser.get(reverse("jobs:money")).context
    assert [(job, due.what) for due, job, _ in page["overdue"]] == [(late, "deposit")]
    assert {(job.pk, due.what) for due, job, _ in page["coming"]} == {
        (late.pk, "balance"), (fresh.pk, "deposit"), (fresh.pk, "balance"),
    }  # fmt: skip


def test_crew_see_no_money(crew: Access, job: Job) -> None:
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
    browser: Browser, access: Access, name: str
) -> None:
    start = timezone.now() + timedelta(days=5)
    an_accepted_job(access, event_start=start)
    few = queries(browser, reverse(name))
    for n in range(4):
        job = an_accepted_job(access, event_start=start + timedelta(days=n))
        pay(browser, job, 10)
    assert queries(browser, reverse(name)) == few


def test_what_came_back_broken_stands_on_the_payments_page_and_in_the_reports(
    browser: Browser, crew: Access, access: Access, job: Job
) -> None:
    ring = access.add(KitItem, key="frame/ring", name="ring frame")
    span = KitSpan(out_from=timezone.now(), back_until=timezone.now() + timedelta(days=1))
    (booking,) = book_items(access, holder_of(access, job), [("frame/ring", 1)], span)
    assert "To charge for kit" not in browser.get(at(job)).content.decode()
    check_in(access, booking, at=timezone.now(), kind="charged", what="bent at a joint")
    page = browser.get(at(job)).content.decode()
    assert "ring frame: bent at a joint" in page
    assert "no amount yet" in page
    note = ring.notes.get()
    told, url = {"form_key": str(uuid.uuid4())}, reverse("jobs:charge", args=[job.number, note.pk])
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
    other = a_designed_job(access)
    astray = reverse("jobs:charge", args=[other.number, note.pk])
    assert browser.post(astray, {**told, "amount": "1"}).status_code == 404

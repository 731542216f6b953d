"""Today: nothing that is late is left out, and what is due this morning stands there."""

from __future__ import annotations

import zoneinfo
from datetime import datetime, time, timedelta
from decimal import Decimal
from importlib import import_module
from typing import Any

import pytest
from django.apps import apps
from django.db import connection
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from jobs.day.agenda import diary_by_day
from jobs.models import Job, PackTick
from jobs.money.cancelling import cancel_job, preview_cancellation
from jobs.money.invoicing import credit_invoice, issue_invoice
from jobs.money.ledger import standing_of
from jobs.pages import today as today_page
from jobs.proposal.questions import ask_question
from studio.access import Access
from tests.conftest import signed_in
from tests.factories import JobFactory, a_designed_job
from tests.jobs.test_cancelling import an_accepted_job, pay

LONDON = zoneinfo.ZoneInfo("Europe/London")
OWING: Any = import_module("jobs.migrations.0015_closed_owing")


def today(browser: Browser) -> str:
    return browser.get(reverse("jobs:today")).content.decode()


def test_what_is_late_is_shown_however_far_its_event_and_however_many_jobs_come_first(
    browser: Browser, access: Access, monkeypatch: Any
) -> None:
    monkeypatch.setattr(today_page, "SHOWN", 5)
    for n in range(8):
        JobFactory.create(studio=access.studio, title=f"Soon-{n}", latex="none")
    an_accepted_job(access, days=200, title="Overdue deposit")
    # As of a day when the deposit is late.
    monkeypatch.setattr(today_page, "localdate", lambda: timezone.localdate() + timedelta(days=60))
    asked = an_accepted_job(access, days=300, title="Open question")
    ask_question(access, asked.offers.get(), "May the ring be plum?", tab="https://x.example/")
    page = today(browser)
    assert page.index("Overdue deposit") < page.index("Soon-0")
    assert page.index("Open question") < page.index("Soon-0")
    assert "Soon-4" in page
    assert "Soon-5" not in page
    assert "3 more with nothing late" in page


def test_a_take_down_due_this_morning_is_there_though_the_event_ended_last_night(
    browser: Browser, access: Access
) -> None:
    day = timezone.localdate(timezone=LONDON)
    last_night = datetime.combine(day - timedelta(days=1), time(19), LONDON)
    job = JobFactory.create(
        studio=access.studio, title="Ended last night", stage="up", event_start=last_night,
        event_end=last_night + timedelta(hours=4), clear_by=datetime.combine(day, time(9), LONDON),
    )  # fmt: skip
    ((_, found),) = diary_by_day([job], LONDON, day, day + timedelta(days=1))
    assert [(entry.kind, entry.at.hour) for entry in found] == [("clear by", 9)]
    for page in (today(browser), browser.get(reverse("jobs:diary")).content.decode()):
        agenda = page.partition('<ol class="agenda">')[2].partition("</ol>")[0]
        assert "Ended last night" in agenda
        assert "clear by" in agenda


# --- before it is packed or closed ---


def press(browser: Browser, job: Job, to: str, **more: str) -> Any:
    return browser.post(reverse("jobs:stage", args=[job.number]), {"to": to, **more})


def stage(job: Job) -> str:
    return Job.objects.get(pk=job.pk).stage


def test_packed_with_lines_unticked_asks_and_is_said_again(
    browser: Browser, access: Access, crew: Access
) -> None:
    job = a_designed_job(access, stage="booked")
    for person in (browser, signed_in(crew)):
        shown = press(person, job, "ready").content.decode()
        assert "bin bags" in shown
        assert "not ticked" in shown
        assert stage(job) == "booked"
    assert press(browser, job, "ready", sure="1").status_code == 302
    assert stage(job) == "ready"


def test_packed_with_everything_ticked_asks_nothing(browser: Browser, access: Access) -> None:
    job = a_designed_job(access, stage="booked")
    page = browser.get(reverse("jobs:packing", args=[job.number]))
    for thing in page.context["missing"]:
        PackTick.objects.create(studio=access.studio, job=job, key=thing.key)
    press(browser, job, "ready")
    assert stage(job) == "ready"


@pytest.mark.parametrize(
    ("ends_in_hours", "says"), [(5, "The event is not over: it ends on"), (-5, "")]
)
def test_closing_before_the_event_is_over_asks(
    browser: Browser, access: Access, ends_in_hours: int, says: str
) -> None:
    end = timezone.now() + timedelta(hours=ends_in_hours)
    job = a_designed_job(access, stage="down", event_start=end - timedelta(hours=4), event_end=end)
    answer = press(browser, job, "closed", back="after")
    assert (stage(job) == "closed") == (not says)
    if says:
        assert says in answer.content.decode()
        assert press(browser, job, "closed", sure="1", back="after").url.endswith("/after/")
        assert stage(job) == "closed"


def test_a_job_closed_with_money_owing_asks_and_stays_on_today_until_it_is_paid(
    browser: Browser, access: Access, crew: Access
) -> None:
    job = an_accepted_job(access, title="Lantern feast")
    deposit = Decimal(job.offers.get().figures["deposit"])
    pay(access, job, deposit)
    over = timezone.now() - timedelta(days=1)
    Job.objects.filter(pk=job.pk).update(
        stage="down", event_start=over, event_end=over + timedelta(hours=3)
    )
    rich = access.rows(Job).with_money().get(pk=job.pk)
    now = standing_of(rich, on=timezone.localdate(), currency="GBP")
    assert now
    shown = press(browser, job, "closed").content.decode()
    assert f"£{now.left.amount:.2f} is still to be paid." in shown
    assert stage(job) == "down"
    press(browser, job, "closed", sure="1")
    assert stage(job) == "closed"
    assert "Lantern feast" in today(browser)
    assert "balance of £" in today(browser)
    assert "Lantern feast" not in today(signed_in(crew))  # who see no sums
    pay(access, job, now.left.amount)
    assert "Lantern feast" not in today(browser)
    bounced = job.payments.latest("pk")
    pay(access, job, -bounced.amount, kind="bounced", of=bounced)
    assert "Lantern feast" in today(browser)


def test_a_job_that_was_paid_closes_without_a_word(browser: Browser, access: Access) -> None:
    job = an_accepted_job(access, title="Lantern feast")
    pay(access, job, job.offers.get().figures["total"])
    over = timezone.now() - timedelta(days=1)
    Job.objects.filter(pk=job.pk).update(
        stage="down", event_start=over, event_end=over + timedelta(hours=3)
    )
    press(browser, job, "closed")
    assert stage(job) == "closed"
    assert "Lantern feast" not in today(browser)


def test_jobs_that_were_closed_before_are_looked_through_once(access: Access) -> None:
    class Editor:
        pass

    Editor.connection = connection  # type: ignore[attr-defined]
    paid, owing = an_accepted_job(access), an_accepted_job(access)
    pay(access, paid, paid.offers.get().figures["total"])
    Job.objects.update(stage="closed")
    OWING.see_what_is_owing(apps, Editor)
    flags = dict(Job.objects.values_list("pk", "closed_owing"))
    assert flags == {paid.pk: False, owing.pk: True}


@pytest.fixture
def taxed(access: Access) -> Access:
    access.studio.tax_number = "GB 999 9999 73"
    access.studio.save()
    return access


def over(access: Access, **facts: Any) -> Job:
    """An accepted job whose event was yesterday and which is down."""
    job = an_accepted_job(access, **facts)
    start = timezone.now() - timedelta(days=1)
    Job.objects.filter(pk=job.pk).update(
        stage="down", event_start=start, event_end=start + timedelta(hours=3)
    )
    return job


def test_what_is_kept_after_a_call_off_stays_on_today_until_it_is_paid(
    browser: Browser, taxed: Access, crew: Access
) -> None:
    job = an_accepted_job(taxed, days=3, title="Lantern feast")
    shown = preview_cancellation(taxed, job, on=timezone.localdate())
    off = cancel_job(taxed, job, on=shown.on, percent=None, why="", seen=shown.seen)
    assert off.kept
    said = f"amount kept after the call-off of £{off.kept:,.2f}, due"
    assert said in today(browser)
    assert said in browser.get(reverse("jobs:brief", args=[job.number])).content.decode()
    assert "Lantern feast" not in today(signed_in(crew))
    pay(taxed, job, off.kept)
    assert "Lantern feast" not in today(browser)
    pay(taxed, job, -10, kind="refund")
    assert "call-off of £10.00" in today(browser)


def test_a_call_off_that_keeps_nothing_is_not_on_today(browser: Browser, taxed: Access) -> None:
    job = an_accepted_job(taxed, days=3, title="Lantern feast")
    shown = preview_cancellation(taxed, job, on=timezone.localdate(), percent=Decimal(0))
    cancel_job(taxed, job, on=shown.on, percent=Decimal(0), why="", seen=shown.seen)
    assert "Lantern feast" not in today(browser)


def test_a_closed_job_that_is_invoiced_anew_is_on_today(browser: Browser, taxed: Access) -> None:
    job = over(taxed, title="Lantern feast")
    first = issue_invoice(taxed, job, on=timezone.localdate())
    credit_invoice(taxed, first, None, "wrong name", on=timezone.localdate())
    press(browser, job, "closed")
    assert "Lantern feast" not in today(browser)
    issue_invoice(taxed, Job.objects.get(pk=job.pk), on=timezone.localdate())
    assert "Lantern feast" in today(browser)


def test_a_job_that_was_paid_and_closed_is_there_again_when_its_payment_bounces(
    browser: Browser, taxed: Access
) -> None:
    job = over(taxed, title="Lantern feast")
    pay(taxed, job, job.offers.get().figures["total"])
    Job.objects.filter(pk=job.pk).update(stage="down")
    press(browser, job, "closed")
    assert not Job.objects.get(pk=job.pk).closed_owing
    bounced = job.payments.get()
    pay(taxed, job, -bounced.amount, kind="bounced", of=bounced)
    assert "Lantern feast" in today(browser)

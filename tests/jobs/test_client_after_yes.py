"""What a client reads after the yes, when something changed since, and the day that is read before it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from jobs.day.moving_event import move_event
from jobs.models import Job, Offer
from jobs.money.cancelling import cancel_job, preview_cancellation
from jobs.money.invoicing import credit_invoice, issue_invoice
from jobs.proposal.links import live_token
from studio.access import Access
from studio.models import Studio
from tests.factories import a_designed_job
from tests.happenings import said_yes, sent
from tests.surfaces import facts, fresh, page, words

YEAR = timezone.now().year + 1


@pytest.fixture
def job(access: Access) -> Job:
    access.studio.tax_number = "GB 123456789"
    access.studio.save()
    start = datetime(YEAR, 6, 12, 13, tzinfo=UTC)
    job = a_designed_job(access, event_start=start, event_end=start + timedelta(hours=5))
    return said_yes(access, sent(access, job))


def address_of(access: Access, job: Job) -> str:
    return reverse("jobs:offer-page", args=[live_token(access, Offer.objects.get(job=job))])


def top_of(access: Access, job: Job) -> Any:
    node = page(Browser(), address_of(access, job))
    (top,) = node.xpath("//section[@role='status']")
    return top


def test_a_moved_event_has_its_new_day_above_the_old_proposal(access: Access, job: Job) -> None:
    assert "is now" not in words(top_of(access, job))
    move_event(access, fresh(access, job), job.event_start + timedelta(days=14), why="")
    said = words(top_of(access, job))
    assert f"The event is now on 26 June {YEAR}, 14:00 to 19:00" in said  # London, in summer
    assert job.venue.name in said


def test_a_called_off_event_has_no_new_day(access: Access, job: Job) -> None:
    move_event(access, fresh(access, job), job.event_start + timedelta(days=14), why="")
    on = timezone.localdate()
    shown = preview_cancellation(access, fresh(access, job), on=on)
    cancel_job(
        access, fresh(access, job), on=on, percent=shown.scale_percent, why="", seen=shown.seen
    )  # fmt: skip
    assert "is now" not in words(top_of(access, job))


def test_what_was_credited_stands_between_what_was_agreed_and_the_total(
    access: Access, job: Job
) -> None:
    before = facts(top_of(access, job))
    assert "Credited" not in before
    credit_invoice(access, issue_invoice(access, fresh(access, job), on=timezone.localdate()), Decimal("10.00"), "", on=timezone.localdate())  # fmt: skip
    after = facts(top_of(access, job))
    agreed, credited, total = (
        Decimal(after[name].strip("−-").lstrip("£").replace(",", ""))
        for name in ("Agreed", "Credited", "Total")
    )
    assert after["Agreed"] == before["Total"]
    assert credited >= 10
    assert agreed - credited == total


def test_the_day_before_the_yes_is_the_one_of_the_studios_clocks(access: Access) -> None:
    """Eight in the evening in Los Angeles is three in the morning of the next day in UTC."""
    Studio.objects.filter(pk=access.studio.pk).update(timezone="America/Los_Angeles")
    access.studio.refresh_from_db()
    start = datetime(YEAR, 6, 13, 3, tzinfo=UTC)
    job = a_designed_job(access, event_start=start, event_end=start + timedelta(hours=2))
    sent(access, job)
    said = Browser().post(address_of(access, job), {"name": "R", "agreed": "on"})
    text = said.content.decode()
    assert "Once more" in text
    assert f"12 June {YEAR}" in text
    assert f"13 June {YEAR}" not in text

"""The studio's own day rules what it sends, prices and stocks, wherever the machine stands."""

from __future__ import annotations

import ast
import io
import json
import zoneinfo
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.models import Offer
from jobs.proposal.accepting import ClientYes, accept_offer
from jobs.proposal.offering import Words, send_offer
from pricing.book.price_book import book_for
from pricing.book.starter import stock_starter
from pricing.models import Price, RateCard
from studio.access import access_of
from studio.models import Person, Studio
from tests.factories import DATA, StudioFactory, a_designed_job, an_access
from tests.studio.test_pages import FIRST
from tests.test_house import HOME, SOURCES

# A quarter past nine in the evening of 3 March in New York is the 4th in London (IANA tz database: UTC−5 until 8 March).
EVENING = datetime(2026, 3, 4, 2, 15, tzinfo=UTC)
THERE = date(2026, 3, 3)
NEW_YORK = {"timezone": "America/New_York", "currency": "USD", "language": "en-US"}


@pytest.fixture
def evening(monkeypatch: Any) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: EVENING)


def test_a_studio_knows_its_own_day(evening: None) -> None:
    assert Studio(timezone="America/New_York").today() == THERE
    assert Studio(timezone="Europe/London").today() == date(2026, 3, 4)
    # Kiritimati is 14 hours ahead (IANA tz database).
    assert Studio(timezone="Pacific/Kiritimati").today() == date(2026, 3, 4)
    assert Studio(timezone="Pacific/Honolulu").day_of(EVENING) == THERE


def test_a_studio_opened_in_the_evening_has_prices_that_evening(db: None, evening: None) -> None:
    browser = Client()
    assert browser.post(reverse("studio:first"), {**FIRST, **NEW_YORK}).status_code == 302
    access = access_of(Person.objects.get())
    assert access
    assert {p.valid_from for p in Price.objects.all()} == {THERE}
    assert RateCard.objects.get().valid_from == THERE
    assert book_for(access, THERE).prices
    job = a_designed_job(access)
    page = browser.get(reverse("jobs:price", args=[job.number]))
    assert page.context["quote"] is not None


def test_a_proposal_is_sent_on_the_studios_day(db: None, evening: None) -> None:
    """Whoever calls: here no request has set a time zone."""
    access = an_access(studio=StudioFactory.create(**NEW_YORK))
    stock_starter(access, tax_name="Sales tax", tax_percent=Decimal(0))
    local = zoneinfo.ZoneInfo("America/New_York")
    job = a_designed_job(access, event_start=datetime(2026, 4, 18, 20, 0, tzinfo=local))
    offer = send_offer(
        access,
        job,
        Words(greeting="Dear you,", note=""),
        at=timezone.now(),
        link_for=lambda t: f"/{t}",
    )
    assert offer.stands_until == date(2026, 3, 24)  # 21 days after the 3rd
    assert "3 March 2026" in offer.article or "March 3, 2026" in offer.article
    assert "20:00" in offer.article
    assert offer.owner_figures["event"]["starts"].startswith("2026-04-18T20:00")
    accept_offer(
        access,
        offer,
        ClientYes(name="R", wording="I accept.", address=None, agent=""),
        at=timezone.now(),
    )
    assert (
        Offer.objects.get().schedule[0]["on"] == "2026-03-10"
    )  # the deposit, 7 days after the 3rd


def test_the_quote_command_prices_with_the_studios_day(db: None, evening: None) -> None:
    access = an_access(studio=StudioFactory.create(**NEW_YORK))
    stock_starter(access, tax_name="Sales tax", tax_percent=Decimal(0))
    out = io.StringIO()
    call_command("quote", str(DATA / "shop-tenth.json"), stdout=out)
    assert Decimal(json.loads(out.getvalue())["price"]["client"]["total"]) > 0


# Within a request the middleware has set the studio's zone; what a person presses may ask for "today" plainly.
IN_REQUESTS = ("pages", "views", "forms", "prices", "price_forms", "examples")
ASKED = {"jobs/day/moving_event.py"}  # by a view alone


def test_outside_requests_nothing_asks_the_machine_for_today() -> None:
    loose = [
        f"{path.relative_to(HOME)}:{node.lineno}"
        for path in SOURCES
        if not set(IN_REQUESTS) & {*path.parts, path.stem}
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Call) and not node.args and not node.keywords
        and (name := getattr(node.func, "attr", getattr(node.func, "id", ""))) in ("localdate", "today")
        and not (name == "today" and "studio" in ast.unparse(node.func))
        and str(path.relative_to(HOME)) not in ASKED
    ]  # fmt: skip
    assert loose == []

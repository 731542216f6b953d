"""The price of a job."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client as Browser
from django.urls import reverse

from jobs.models import Job
from pricing.models import RateCard, Supply
from studio.access import Access
from tests.conftest import signed_in
from tests.factories import JobFactory, a_designed_job

TERMS = {"travel_km": "12", "trips": "2", "crew": "1", "tax_treatment": "usual", "margin_percent": "", "extra_label": "Parking", "extra_cost": "8.50",
         "discount": "0", "version": "1"}  # fmt: skip


@pytest.fixture
def job(access: Access) -> Job:
    return a_designed_job(access)


def at(job: Job) -> str:
    return reverse("jobs:price", args=[job.number])


def test_the_build_up_is_shown_and_adds_up(browser: Browser, job: Job) -> None:
    quote = browser.get(at(job)).context["quote"]
    assert sum(line.cost.amount for line in quote.lines) == quote.cost.amount
    assert round(quote.margin_percent) == 45


def test_saving_moves_an_enquiry_on(browser: Browser, job: Job) -> None:
    assert browser.post(at(job), TERMS).status_code == 302
    job.refresh_from_db()
    assert (job.stage, job.travel_km, job.extra_cost) == ("priced", Decimal(12), Decimal("8.500"))


def test_a_change_is_looked_at_without_being_saved(browser: Browser, job: Job) -> None:
    before = browser.get(at(job)).context["quote"]
    part = browser.post(
        at(job), {**TERMS, "do": "look", "margin_percent": "60"}, headers={"HX-Request": "true"}
    )
    assert b"<html" not in part.content
    assert part.context["quote"].net > before.net
    job.refresh_from_db()
    assert job.margin_percent is None


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("margin_percent", "100", "Margin: expected below 100 %, got 100 %"),
        ("extra_cost", "lots", "Extra cost: expected an amount such as 1250 or 120.50, got “lots”"),
        ("tolls", "0.005", "Tolls and parking: expected at most 2 decimals, got 0.005"),
        ("discount", "90000", "Discount: expected at most the price"),
        ("trips", "", "Trips there and back: expected a value (0 for none), got nothing"),
        ("trips", "two", "expected a whole number from 0 to 20, got “two”"),
    ],
)
def test_garbage_gets_a_sentence(
    browser: Browser, job: Job, field: str, typed: str, says: str
) -> None:
    answer = browser.post(at(job), {**TERMS, field: typed})
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert b"Parking" in answer.content


def test_a_stale_price_answers_409(browser: Browser, job: Job) -> None:
    browser.post(at(job), TERMS)
    answer = browser.post(at(job), {**TERMS, "travel_km": "99"})
    assert answer.status_code == 409
    assert b"Way to the venue" in answer.content


def test_what_has_no_price_is_told(browser: Browser, job: Job, access: Access) -> None:
    ring = Supply.objects.get(studio=access.studio, key="frame/ring")
    Supply.objects.filter(pk=ring.pk).update(key="frame/other")
    assert b"no price for: ring-shaped frame" in browser.get(at(job)).content


def test_without_rates_the_page_says_where_to_enter_them(browser: Browser, job: Job) -> None:
    RateCard.objects.all().delete()
    assert b"Enter them under Stores" in browser.get(at(job)).content


def test_without_a_design_there_is_nothing_to_price(browser: Browser, access: Access) -> None:
    assert (
        b"Nothing to price yet" in browser.get(at(JobFactory.create(studio=access.studio))).content
    )


def test_crew_see_no_price(crew: Access, job: Job) -> None:
    assert signed_in(crew).get(at(job)).status_code == 403


def test_an_amount_may_be_written_with_a_comma(browser: Browser, job: Job) -> None:
    for typed, amount in (("12,50", "12.5"), ("1,250.00", "1250"), ("1,250", "1250")):
        job.refresh_from_db()
        browser.post(at(job), {**TERMS, "version": str(job.version), "extra_cost": typed})
        job.refresh_from_db()
        assert job.extra_cost == Decimal(amount)


def test_a_german_studio_types_and_reads_its_own_figures(
    browser: Browser, access: Access, job: Job
) -> None:
    access.studio.language = "de-DE"
    access.studio.save()
    for typed, amount in (("12,50", "12.5"), ("1.234,56", "1234.56"), ("1.250", "1250")):
        job.refresh_from_db()
        browser.post(at(job), {**TERMS, "version": str(job.version), "extra_cost": typed})
        job.refresh_from_db()
        assert job.extra_cost == Decimal(amount)
    assert 'value="1250,00"' in browser.get(at(job)).content.decode()
    answer = browser.post(at(job), {**TERMS, "version": str(job.version), "extra_cost": "1,250"})
    assert answer.status_code == 422  # type: ignore[attr-defined]
    page = answer.content.decode()
    assert "Extra cost: expected an amount such as 1250 or 120,50, got “1,250”." in page


def test_a_job_may_be_taxed_otherwise(browser: Browser, job: Job) -> None:
    told = {**TERMS, "version": str(job.version), "tax_treatment": "exempt"}
    answer = browser.post(at(job), told)
    assert "Why exempt: expected the reason, got nothing." in answer.content.decode()
    browser.post(at(job), {**told, "tax_reason": "Article 132"})
    page = browser.get(at(job))
    assert [(g.group.code, g.tax.amount) for g in page.context["quote"].totals.groups] == [("E", 0)]
    job.refresh_from_db()
    browser.post(at(job), {**told, "version": str(job.version), "tax_treatment": "reverse"})
    page = browser.get(at(job))
    assert page.context["quote"].totals.tax.amount == 0
    assert "reverse charge" in page.content.decode()


HTMX = {"HX-Request": "true"}


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_a_typed_total_shows_the_margin_it_leaves(
    browser: Browser, job: Job, headers: dict[str, str]
) -> None:
    """By hand: the total without its 20 % of VAT, less the cost, over that net."""
    told = {**TERMS, "do": "ask", "asked": "300"}
    page = browser.post(at(job), told, headers=headers)
    cost = page.context["quote"].cost.amount
    left = (250 - cost) / 250 * 100
    assert f"a margin of {left:.1f} % of the price" in page.content.decode()
    assert (b"<html" in page.content) is not bool(headers)
    job.refresh_from_db()
    assert job.discount == 0


@pytest.mark.parametrize("how", ["discount", "margin"])
def test_a_typed_total_is_taken_over(browser: Browser, job: Job, how: str) -> None:
    before = browser.get(at(job)).context["quote"].totals.total.amount
    wanted = (before * Decimal("0.9")).quantize(Decimal("0.01"))
    told = {
        **TERMS,
        "extra_cost": "0",
        "travel_km": str(job.travel_km),
        "trips": str(job.trips),
        "asked": str(wanted),
    }
    assert browser.post(at(job), {**told, "do": how}).status_code == 302
    job.refresh_from_db()
    after = browser.get(at(job)).context["quote"].totals.total.amount
    assert wanted <= after <= wanted + Decimal("0.10")
    if how == "discount":
        assert after == wanted
        assert (job.discount > 0, job.margin_percent) == (True, None)
    else:
        assert (job.discount, job.margin_percent is not None) == (0, True)
    assert job.stage == "priced"


@pytest.mark.parametrize(
    ("asked", "says"),
    [("lots", "expected an amount such as 1250 or 120.50"), ("-5", "expected more than 0, got -5")],
)
def test_a_total_that_is_none_gets_a_sentence(
    browser: Browser, job: Job, asked: str, says: str
) -> None:
    page = browser.post(at(job), {**TERMS, "do": "ask", "asked": asked})
    assert says in page.content.decode()
    taken = browser.post(at(job), {**TERMS, "do": "discount", "asked": asked})
    assert taken.status_code == 422
    assert says in taken.content.decode()


def test_a_stale_take_over_answers_409(browser: Browser, job: Job) -> None:
    browser.post(at(job), TERMS)
    answer = browser.post(at(job), {**TERMS, "do": "discount", "asked": "100"})
    assert answer.status_code == 409

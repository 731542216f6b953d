"""Meeting a budget by the least visible cuts."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client as Browser
from django.urls import reverse

from jobs.design.budget import meet_budget
from jobs.design.compose import compose
from jobs.design.document import Design
from jobs.design.parts.greenery import strands_of
from jobs.design.practice import PRACTICE
from jobs.design.reading import design_from, read_design
from jobs.design.working import work_out
from jobs.models import JobDesign
from studio.access import Access
from tests.factories import DATA, a_designed_job


def balls(design: Design) -> Decimal:
    """A price that counts balloons and greenery."""
    made = compose(design, PRACTICE)
    return Decimal(
        sum(len(c.balls) for c in made.clusters) + 5 * sum(s.strands for s in strands_of(made))
    )


@pytest.fixture
def design() -> Design:
    return read_design((DATA / "shop-tenth.json").read_bytes())


def test_nothing_is_cut_where_nothing_must_be(design: Design) -> None:
    assert meet_budget(design, balls(design), balls) == ()


def test_cuts_go_on_until_the_budget_is_met_and_no_further(design: Design) -> None:
    budget = balls(design) - 20
    cuts = meet_budget(design, budget, balls)
    assert cuts[-1].total <= budget
    assert all(cut.total > budget for cut in cuts[:-1])
    assert [c.total for c in cuts] == sorted((c.total for c in cuts), reverse=True)
    assert cuts[0].words == "one strand of greenery fewer beside another"
    assert balls(cuts[-1].design) == cuts[-1].total


def test_what_is_left_is_still_a_sound_design_without_gaps(design: Design) -> None:
    cuts = meet_budget(design, Decimal(1), balls)
    assert cuts[-1].total > 1  # not met, and said so by its total
    last = cuts[-1].design
    assert design_from(last.model_dump()) == last
    assert "thin" not in {f.code for f in work_out(last).takeoff.findings}


def test_the_price_page_says_what_it_would_take_and_makes_an_alternative(
    browser: Browser, access: Access
) -> None:
    job = a_designed_job(access)
    at = reverse("jobs:budget", args=[job.number])
    price = browser.get(reverse("jobs:price", args=[job.number])).context["quote"].totals.total
    wanted = price.amount - 20
    page = browser.post(at, {"budget": str(wanted), "do": "look"})
    assert page.context["cuts"][-1].total <= wanted
    assert "greenery" in page.content.decode()
    assert JobDesign.objects.count() == 1
    browser.post(at, {"budget": str(wanted), "do": "take"})
    assert JobDesign.objects.get(letter="B").name == f"for £{wanted}"
    compared = browser.get(reverse("jobs:alternatives", args=[job.number])).context["alternatives"]
    assert compared[1].look.quote.totals.total.amount <= wanted
    assert "expected an amount" in browser.post(at, {"budget": "", "do": "look"}).content.decode()

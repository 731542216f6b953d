"""Extras that the client may tick: each way is priced whole, frozen, and what is ticked is what is built."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from jobs.design.options import LOOSE
from jobs.inputs import design_of, worked_for
from jobs.models import Acceptance, ClientLink, Job, JobDesign, Offer
from jobs.money.ledger import standing_of
from jobs.proposal.links import shown_again
from studio.access import Access
from tests.factories import a_designed_job


@pytest.fixture
def job(access: Access) -> Job:
    return a_designed_job(access, venue__ceiling_m=3.5)


def options_at(job: Job) -> str:
    return reverse("jobs:options", args=[job.number, "A"])


def part(browser: Browser, job: Job, what: str) -> str:
    """The field of one part."""
    return next(n for n in browser.get(options_at(job)).context["form"].parts if n.endswith(what))


@pytest.fixture
def offer(browser: Browser, job: Job) -> Offer:
    told = {part(browser, job, "greenery"): "With greenery", part(browser, job, "accents"): "Minis"}
    assert browser.post(options_at(job), told).status_code == 302
    words = {"greeting": "Dear Rufus,", "do": "send", "form_key": str(uuid.uuid4())}
    answer = browser.post(reverse("jobs:proposal", args=[job.number]), words)
    assert answer.status_code == 302, answer.content.decode()
    return Offer.objects.get()


def page(offer: Offer) -> str:
    return reverse("jobs:offer-page", args=[shown_again(ClientLink.objects.get(offer=offer))])


YES: dict[str, Any] = {"name": "Rufus Amadi", "agreed": "on"}


def total(offer: Offer, key: str) -> Decimal:
    return offer.choice(key).figures.total.amount


def test_every_way_is_frozen_with_its_own_figures(offer: Offer) -> None:
    assert [c["letter"] for c in offer.choices] == ["A", "A1", "A2", "A12"]
    assert offer.figures == offer.choices[0]["figures"]
    assert total(offer, "A") < min(total(offer, "A1"), total(offer, "A2"))
    assert total(offer, "A12") > max(total(offer, "A1"), total(offer, "A2"))
    bare, full = (offer.design_of(key).pieces[0] for key in ("A", "A12"))
    assert (bare.greenery, bare.accents) == ((), None)
    assert full.greenery
    assert full.accents


def test_the_papers_tell_what_each_extra_adds(offer: Offer) -> None:
    for key in ("A1", "A2"):
        assert f"£{total(offer, key) - total(offer, 'A'):,.2f}" in offer.article
    assert "Extras you may add" in offer.article
    assert str(offer.owner_figures["cost"]) not in offer.article


def test_nothing_is_ticked_beforehand(client: Browser, offer: Offer) -> None:
    """Directive 2011/83/EU, article 22: extra payments need express consent, no boxes ticked by default."""
    content = client.get(page(offer)).content.decode()
    assert content.count('name="extras_A"') == 2
    assert "checked" not in content


def test_a_tick_tells_what_it_comes_to_at_once(client: Browser, offer: Offer) -> None:
    answer = client.post(
        page(offer), {"extras_A": ["Minis"]}, headers={"HX-Request": "true"}
    ).content.decode()
    names = [option["name"] for option in offer.choices[0]["options"]]
    key = f"A{names.index('Minis') + 1}"
    assert f"£{total(offer, key):,.2f}" in answer
    assert "<h1" not in answer


def test_what_is_ticked_is_accepted_paid_and_built(
    client: Browser, access: Access, job: Job, offer: Offer
) -> None:
    ticked = {**YES, "extras_A": ["With greenery"]}
    names = [option["name"] for option in offer.choices[0]["options"]]
    key = f"A{names.index('With greenery') + 1}"
    review = client.post(page(offer), ticked).content.decode()
    assert f"with “With greenery” for a total of £{total(offer, key):,.2f}" in review
    assert 'name="extras_A" value="With greenery"' in review
    client.post(page(offer), {**ticked, "do": "confirm"})
    accepted = Acceptance.objects.get()
    assert accepted.choice == key
    assert f"£{total(offer, key):,.2f}" in accepted.wording
    built = design_of(access, job)
    assert built
    assert built.pieces[0].greenery
    assert built.pieces[0].accents is None
    worked = worked_for(access, job)
    assert worked
    assert not any(c.part == "accent" for c in worked.composition.clusters)
    fresh = access.rows(Job).with_money().get(pk=job.pk)
    standing = standing_of(fresh, on=timezone.localdate(), currency="GBP")
    assert standing
    assert standing.total.amount == total(offer, key)
    assert access.rows(JobDesign).get().options == []


def test_going_back_loses_nothing_that_was_typed(client: Browser, offer: Offer) -> None:
    ticked = {**YES, "extras_A": ["With greenery"], "do": "back"}
    content = client.post(page(offer), ticked).content.decode()
    assert 'value="Rufus Amadi"' in content
    assert content.count(" checked") == 2  # the extra and the yes
    assert "with With greenery" in " ".join(content.split())
    assert not Acceptance.objects.exists()


def test_an_extra_that_was_not_offered_is_refused(client: Browser, offer: Offer) -> None:
    answer = client.post(page(offer), {**YES, "extras_A": ["A unicorn"], "do": "confirm"})
    assert answer.status_code == 422
    assert not Acceptance.objects.exists()


def test_rules_hold_on_the_clients_page(browser: Browser, client: Browser, job: Job) -> None:
    told = {part(browser, job, "greenery"): "With greenery", part(browser, job, "accents"): "Minis"}
    browser.post(options_at(job), told)
    names = [o["name"] for o in JobDesign.objects.get().options]
    browser.post(options_at(job), {**told, f"only_with-{names.index('Minis')}": "With greenery"})
    words = {"greeting": "Dear Rufus,", "do": "send", "form_key": str(uuid.uuid4())}
    browser.post(reverse("jobs:proposal", args=[job.number]), words)
    offer = Offer.objects.get()
    assert len(offer.choices) == 3
    assert "only with “With greenery”" in offer.article
    answer = client.post(page(offer), {**YES, "extras_A": ["Minis"]})
    assert "tick both, or neither" in answer.content.decode()
    assert answer.status_code == 422


def test_the_owner_sees_cost_and_margin_of_every_way(browser: Browser, job: Job) -> None:
    told = {part(browser, job, "greenery"): "With greenery"}
    browser.post(options_at(job), told)
    content = browser.get(options_at(job)).content.decode()
    assert "no extras" in content
    assert "With greenery" in content
    ways = browser.get(options_at(job)).context["ways"]
    assert [f"{w.quote.margin_percent:.1f} %" in content for w in ways] == [True, True]


def test_an_option_whose_part_is_gone_stops_the_offer(
    browser: Browser, access: Access, job: Job
) -> None:
    browser.post(options_at(job), {part(browser, job, "greenery"): "With greenery"})
    row = access.rows(JobDesign).get()
    row.document["pieces"][0]["greenery"] = []
    row.save()
    content = browser.get(reverse("jobs:proposal", args=[job.number])).content.decode()
    assert "no longer has" in content


def test_every_loose_part_has_words() -> None:
    assert all(words and words[0].islower() for words in LOOSE.values())


# --- side by side ---


def named(browser: Browser, job: Job) -> dict[str, str]:
    return {part(browser, job, "greenery"): "With greenery", part(browser, job, "accents"): "Minis"}


def make_half(browser: Browser, job: Job) -> None:
    address = reverse("jobs:change-alternative", args=[job.number, "A"])
    browser.post(address, {"do": "duplicate", "layout": "one side"})


def draft_of(browser: Browser, job: Job) -> Any:
    told = {"greeting": "Dear you,", "do": "look", "letters": "B"}
    answer = browser.post(reverse("jobs:proposal", args=[job.number]), told)
    assert answer.context["reason"] == ""
    return answer


def test_half_of_a_garland_costs_no_more_than_the_whole(browser: Browser, job: Job) -> None:
    browser.post(options_at(job), named(browser, job))
    make_half(browser, job)
    rows = {row.letter: row for row in JobDesign.objects.all()}
    assert rows["B"].options == rows["A"].options != []
    draft = draft_of(browser, job).context["draft"]
    whole, half = (offered.base.figures.total for offered in draft.offered)
    assert half.amount < whole.amount
    assert draft.uneven == ()


def test_what_one_may_leave_and_the_other_always_has_is_told_before_sending(
    browser: Browser, job: Job
) -> None:
    make_half(browser, job)
    browser.post(options_at(job), named(browser, job))  # after the copy was made
    answer = draft_of(browser, job)
    whole, half = (offered.base.figures.total for offered in answer.context["draft"].offered)
    assert half.amount > whole.amount  # it is this that would puzzle a client
    content = answer.content.decode()
    assert "Before you send" in content
    assert "can be left out of A but are always in B" in content
    told = {"greeting": "Dear you,", "do": "look"}
    alone = browser.post(reverse("jobs:proposal", args=[job.number]), told)
    assert "Before you send" not in alone.content.decode()


def test_what_meets_a_budget_keeps_what_may_be_left(browser: Browser, job: Job) -> None:
    browser.post(options_at(job), named(browser, job))
    browser.post(reverse("jobs:budget", args=[job.number]), {"budget": "250", "do": "take"})
    made = JobDesign.objects.get(letter="B")
    assert {o["name"] for o in made.options} >= {"Minis"}


def test_what_was_drawn_after_the_proposal_keeps_what_may_be_left_too(
    client: Browser, browser: Browser, job: Job, offer: Offer
) -> None:
    row = JobDesign.objects.get()
    row.document["pieces"][0]["support"]["diameter_m"] = 2.0
    row.save()
    client.post(page(offer), {**YES, "do": "confirm"})
    kept = JobDesign.objects.get(chosen=False)
    assert {o["name"] for o in kept.options} == {"Minis", "With greenery"}

"""Alternatives: made from one another, compared, chosen, offered as choices; pieces kept; what fits the room."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from jobs.alternatives import MOST, choose_alternative, duplicate_alternative
from jobs.design.document import Room
from jobs.design.fitting import fit_to_room
from jobs.design.layouts import LAYOUTS, laid_out
from jobs.design.starters import sketch
from jobs.inputs import chosen_row, worked_for
from jobs.models import Acceptance, ClientLink, Job, JobDesign, Offer, SavedPiece
from jobs.money.ledger import standing_of
from jobs.proposal.links import shown_again
from studio.access import Access
from tests.conftest import signed_in
from tests.factories import JobFactory, a_designed_job


@pytest.fixture
def job(access: Access) -> Job:
    return a_designed_job(access)


def at(job: Job, name: str = "alternatives", *more: object) -> str:
    return reverse(f"jobs:{name}", args=[job.number, *more])


@pytest.mark.parametrize("layout", sorted(LAYOUTS))
@pytest.mark.parametrize("kind", ["ring", "ellipse-arch", "panel", "column", "wall-line"])
def test_every_layout_covers_every_kind(layout: str, kind: str) -> None:
    design = laid_out(sketch(kind, Room(ceiling_m=3)), layout)
    assert design.pieces[0].support.kind == kind
    assert len(design.pieces[0].runs) == 1


def test_one_side_takes_fewer_balloons_than_all_of_it(access: Access, job: Job) -> None:
    full = duplicate_alternative(access, job, "A", "full")
    side = duplicate_alternative(access, job, "A", "one side")
    counts = {
        row.letter: worked_for(access, job, row.letter).takeoff.ball_count  # type: ignore[union-attr]
        for row in (full, side)
    }
    assert counts[side.letter] < counts[full.letter]
    assert (full.letter, side.letter) == ("B", "C")


def test_alternatives_stand_side_by_side_with_price_minutes_and_margin(
    browser: Browser, access: Access, job: Job
) -> None:
    browser.post(at(job, "change-alternative", "A"), {"layout": "garland only"})
    page = browser.get(at(job)).content.decode()
    assert page.count("<figure") == 2
    assert page.count("the client pays") == page.count("margin an hour") == 2
    assert "B: garland only" in page


def test_choosing_makes_the_other_one_priced_and_built(
    browser: Browser, access: Access, job: Job
) -> None:
    duplicate_alternative(access, job, "A", "one side")
    before = worked_for(access, job).takeoff.ball_count  # type: ignore[union-attr]
    browser.post(at(job, "change-alternative", "B"), {"do": "choose"})
    assert chosen_row(access, job).letter == "B"  # type: ignore[union-attr]
    assert worked_for(access, job).takeoff.ball_count < before  # type: ignore[union-attr]
    assert access.rows(JobDesign).filter(job=job, chosen=True).count() == 1


def test_choosing_what_is_chosen_changes_nothing_and_says_nothing(access: Access, job: Job) -> None:
    lines = job.log_entries.count()
    assert choose_alternative(access, job, "A") == ""
    assert job.log_entries.count() == lines
    duplicate_alternative(access, job, "A", "full")
    assert (
        choose_alternative(access, job, "B") == ""
    )  # nothing was agreed that would have to follow
    assert chosen_row(access, job).letter == "B"  # type: ignore[union-attr]


def test_the_chosen_one_cannot_be_dropped(browser: Browser, access: Access, job: Job) -> None:
    duplicate_alternative(access, job, "A", "full")
    page = browser.post(at(job, "change-alternative", "A"), {"do": "drop"}, follow=True)
    assert "expected an alternative that is not the chosen one" in page.content.decode()
    browser.post(at(job, "change-alternative", "B"), {"do": "drop"})
    assert [row.letter for row in access.rows(JobDesign)] == ["A"]


def test_there_are_as_many_as_fit_on_a_page(browser: Browser, access: Access, job: Job) -> None:
    for _ in range(MOST):
        page = browser.post(at(job, "change-alternative", "A"), {"layout": "same"}, follow=True)
    assert f"expected at most {MOST}" in page.content.decode()
    assert access.rows(JobDesign).count() == MOST


def test_an_alternative_is_edited_on_its_own_page(
    browser: Browser, access: Access, job: Job
) -> None:
    from tests.jobs.test_design_page import typed

    duplicate_alternative(access, job, "A", "same")
    data = {**typed(browser.get(at(job, "alternative", "B")).context["sheet"]), "version": "1"}
    browser.post(at(job, "alternative", "B"), {**data, "p0-accents-count": "2"})
    counts = {
        row.letter: row.document["pieces"][0]["accents"]["count"] for row in access.rows(JobDesign)
    }
    assert counts["B"] == 2 != counts["A"]
    assert browser.get(at(job, "alternative", "Q")).status_code == 404


# --- choices of the client ---


@pytest.fixture
def offer(browser: Browser, access: Access, job: Job) -> Offer:
    duplicate_alternative(access, job, "A", "garland only")
    page = browser.get(reverse("jobs:proposal", args=[job.number]))
    assert "The client may also choose" in page.content.decode()
    press = page.content.decode().partition('name="form_key" value="')[2].partition('"')[0]
    words = {"greeting": "Dear Rufus,", "letters": "B", "do": "send", "form_key": press}
    answer = browser.post(reverse("jobs:proposal", args=[job.number]), words)
    assert answer.status_code == 302
    return Offer.objects.get()


def client_page(offer: Offer) -> str:
    return reverse("jobs:offer-page", args=[shown_again(ClientLink.objects.get(offer=offer))])


def test_both_choices_are_frozen_with_their_figures(offer: Offer) -> None:
    assert [c["letter"] for c in offer.choices] == ["A", "B"]
    totals = [Decimal(c["figures"]["total"]) for c in offer.choices]
    assert totals[0] > totals[1] > 0
    assert offer.figures == offer.choices[0]["figures"]
    assert offer.article.count('class="ball"') > 250
    assert "Choice B: garland only" in offer.article


def test_the_client_chooses_and_pays_what_was_chosen(
    client: Browser, access: Access, job: Job, offer: Offer
) -> None:
    address = client_page(offer)
    yes = {"name": "Rufus Amadi", "agreed": "on"}
    assert "Your choice: expected one of them" in client.post(address, yes).content.decode()
    review = client.post(address, {**yes, "choice": "B"}).content.decode()
    total = f"{float(offer.choices[1]['figures']['total']):,.2f}"
    assert f"choice B, for a total of £{total}" in review
    client.post(address, {**yes, "choice": "B", "do": "confirm"})
    accepted = Acceptance.objects.get()
    assert (accepted.choice, total in accepted.wording) == ("B", True)
    assert chosen_row(access, job).letter == "B"  # type: ignore[union-attr]
    fresh = access.rows(Job).with_money().get(pk=job.pk)
    standing = standing_of(fresh, on=timezone.localdate(), currency="GBP")
    assert standing
    plan = offer.choices[1]["schedule"]
    assert sum(Decimal(due["amount"]) for due in plan) == Decimal(
        offer.choices[1]["figures"]["total"]
    )
    assert [due.amount.amount for due in standing.due] == [Decimal(due["amount"]) for due in plan]


def test_a_choice_that_was_not_offered_is_refused(client: Browser, offer: Offer) -> None:
    yes = {"name": "Rufus Amadi", "agreed": "on", "choice": "C", "do": "confirm"}
    assert client.post(client_page(offer), yes).status_code == 422
    assert not Acceptance.objects.exists()


def test_a_choice_that_does_not_fit_is_not_offered(
    browser: Browser, access: Access, job: Job
) -> None:
    duplicate_alternative(
        access, job, "A", "full"
    )  # a ring of 7.5 ft covered over its top under 8 ft
    page = browser.post(
        reverse("jobs:proposal", args=[job.number]), {"greeting": "x", "letters": "B", "do": "look"}
    )
    assert "Alternative B: The design does not fit" in page.content.decode()


# --- kept pieces ---


def test_a_kept_piece_begins_the_next_design_and_tells_what_it_took(
    browser: Browser, access: Access, job: Job
) -> None:
    browser.post(at(job, "change-alternative", "A"), {"do": "keep", "true_minutes": "190"})
    kept = SavedPiece.objects.get()
    assert (kept.name, kept.true_minutes) == ("Ringed backdrop", 190)
    other = JobFactory.create(studio=access.studio)
    page = browser.get(at(other, "design")).content.decode()
    assert "Ringed backdrop, took 190 min" in page
    begun = browser.post(at(other, "design"), {"do": "begin", "kind": f"kept-{kept.pk}"})
    assert begun.context["sheet"].pieces[0].own["name"].value() == "Ringed backdrop"
    browser.post(at(job, "change-alternative", "A"), {"do": "keep", "true_minutes": "170"})
    assert SavedPiece.objects.get().true_minutes == 170


def test_a_kept_piece_of_another_studio_is_not_found(
    browser: Browser, job: Job, stranger: Access
) -> None:
    theirs = stranger.add(SavedPiece, name="Theirs", document={})
    begun = browser.post(at(job, "design"), {"do": "begin", "kind": f"kept-{theirs.pk}"})
    assert begun.status_code == 404


def test_a_kept_piece_is_taken_off_where_designs_begin(
    browser: Browser, access: Access, job: Job, stranger: Access
) -> None:
    browser.post(at(job, "change-alternative", "A"), {"do": "keep"})
    kept, other = SavedPiece.objects.get(), JobFactory.create(studio=access.studio)
    page = browser.get(at(other, "design")).content.decode()
    (off,) = re.findall(r'action="([^"]+/forget/)"', page)
    assert "Take off Ringed backdrop</button>" in page
    assert signed_in(stranger).post(off).status_code == 404
    theirs = stranger.add(SavedPiece, name="Theirs", document={})
    assert browser.post(off.replace(f"/{kept.pk}/", f"/{theirs.pk}/")).status_code == 404
    after = browser.post(off, follow=True)
    assert after.redirect_chain == [(at(other, "design"), 302)]
    assert "“Ringed backdrop” is taken off what you kept." in after.content.decode()
    assert "/forget/" not in after.content.decode()
    assert list(SavedPiece.objects.values_list("name", flat=True)) == ["Theirs"]


def test_crew_see_no_comparison(crew: Access, job: Job) -> None:
    assert signed_in(crew).get(at(job)).status_code == 403


# --- fit to room ---


def test_what_is_proposed_fits_the_room_the_width_and_the_budget() -> None:
    room = Room(ceiling_m=2.44, door_width_m=0.84, door_height_m=2.03)

    def price_of(worked: object) -> Decimal:
        return Decimal(worked.takeoff.ball_count) * 2  # type: ignore[attr-defined]

    found = fit_to_room(room, span_m=3.0, budget=Decimal(350), price_of=price_of, units="metric")
    assert 1 <= len(found) <= 3
    assert len({f.design.pieces[0].support.kind for f in found}) == len(found)
    assert [f.score for f in found] == sorted((f.score for f in found), reverse=True)
    for each in found:
        assert not [x for x in each.worked.takeoff.findings if x.weight == "stop"]
        assert each.price <= 350
        rest = each.worked.settled
        wide = (rest.centres_m[:, 0] + rest.radii_m).max() - (
            rest.centres_m[:, 0] - rest.radii_m
        ).min()
        assert wide <= 3.0 + 1e-6
        assert (rest.free_z_m + rest.radii_m).max() <= 2.44 + 1e-6


def test_nothing_is_proposed_where_nothing_fits() -> None:
    room = Room(ceiling_m=2.4)
    assert (
        fit_to_room(
            room, span_m=3, budget=Decimal(1), price_of=lambda _: Decimal(200), units="metric"
        )
        == ()
    )
    with pytest.raises(ValueError, match="span_m: expected above 0"):
        fit_to_room(room, span_m=0, budget=None, price_of=lambda _: Decimal(1), units="metric")


def test_the_fit_page_shows_three_and_begins_with_one(browser: Browser, access: Access) -> None:
    job = JobFactory.create(studio=access.studio, event_start=timezone.now() + timedelta(days=30))
    asked = {"span_m": "10 ft", "budget": "600"}
    page = browser.post(at(job, "fit"), asked)
    assert page.content.decode().count("Begin with this") == len(page.context["found"]) >= 1
    begun = browser.post(at(job, "fit"), {**asked, "take": "0"})
    assert begun.context["sheet"].design == page.context["found"][0][0].design
    refused = browser.post(at(job, "fit"), {"span_m": "wide"})
    assert refused.status_code == 422
    assert "expected a length" in refused.content.decode()


def test_choose_twice_is_chosen_once(access: Access, job: Job) -> None:
    duplicate_alternative(access, job, "A", "full")
    choose_alternative(access, job, "B")
    choose_alternative(access, job, "B")
    assert chosen_row(access, job).letter == "B"  # type: ignore[union-attr]

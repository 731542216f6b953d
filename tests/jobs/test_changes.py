"""What differs between two versions, told in a client's words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from jobs.alternatives import duplicate_alternative
from jobs.models import Job, Offer
from jobs.proposal.changes import OfferedWay, Version, Writing, changes_between
from jobs.proposal.frozen import OfferedEvent
from jobs.proposal.links import shown_again, withdraw_offer_link
from jobs.proposal.offering import Words, send_offer
from jobs.proposal.versions import compared_versions
from pricing.core.money import Money
from studio.access import Access
from tests.factories import VenueFactory, a_designed_job

WRITE = Writing(money=lambda m: f"£{m.amount}", day=lambda d: f"{d:%d %B}")
EVENT = OfferedEvent(
    starts=datetime.fromisoformat("2026-05-03T12:00:00+01:00"),
    ends=datetime.fromisoformat("2026-05-03T17:00:00+01:00"),
    venue="Hall",
)


def a_way(**facts: Any) -> OfferedWay:
    told: dict[str, Any] = {
        "letter": "", "name": "", "total": Money(Decimal(100), "GBP"), "extras": (),
        "pieces": {"Ring": "x"}, "shades": {"plum": "#1"}, "colours": {"plum": 30}, **facts,
    }  # fmt: skip
    return OfferedWay(**told)


def a_version(*ways: OfferedWay, **event: Any) -> Version:
    return Version(number=1, event=replace(EVENT, **event), ways=ways or (a_way(),))


def test_nothing_is_said_to_be_as_it_was() -> None:
    assert changes_between(a_version(), a_version(), WRITE) == (
        "Date, place, pieces and price are as they were.",
    )


@pytest.mark.parametrize(
    ("after", "said"),
    [
        ({"total": Money(Decimal(120), "GBP")}, ["The total is £120.00; it was £100.00."]),
        ({"pieces": {"Ring": "x", "Arch": "y"}}, ["Arch is new."]),
        ({"pieces": {"Arch": "y"}}, ["Arch is new.", "Ring is no longer there."]),
        ({"pieces": {"Ring": "z"}}, ["Ring is built differently."]),
        ({"colours": {"plum": 34}}, ["Plum: 34 balloons; it was 30."]),
        ({"colours": {"sage": 1}}, ["Sage is new: 1 balloon.", "Plum is no longer there."]),
        ({"colours": {}}, []),  # not kept then: nothing is made up
        ({"shades": {"plum": "#2"}}, ["Plum is another shade."]),
        ({"extras": ("Bows",)}, ["You may now add “Bows”."]),
    ],
)
def test_each_difference_is_a_sentence(after: dict[str, Any], said: list[str]) -> None:
    told = changes_between(a_version(), a_version(a_way(**after)), WRITE)
    assert list(told) == (said or ["Date, place, pieces and price are as they were."])


def test_an_extra_that_went_is_named() -> None:
    assert changes_between(a_version(a_way(extras=("Bows",))), a_version(), WRITE) == (
        "“Bows” can no longer be added.",
    )


def test_day_hours_and_place() -> None:
    later = timedelta(days=1, hours=1)
    moved = {"starts": EVENT.starts + later, "ends": EVENT.ends + later}
    assert changes_between(a_version(), a_version(**moved, venue="Barn"), WRITE) == (
        "It is on 04 May; it was on 03 May.", "It lasts from 13:00 to 18:00; it was 12:00 to 17:00.",
        "It is at Barn; it was at Hall.",
    )  # fmt: skip


def test_versions_from_before_the_event_was_kept_say_nothing_of_it() -> None:
    old = Version(number=1, event=None, ways=(a_way(),))
    assert changes_between(old, a_version(venue="Barn"), WRITE)[0].startswith("Date, place")


def test_choices_are_held_against_each_other_by_letter() -> None:
    a, b, c = (a_way(letter=letter, name=name) for letter, name in (("A", ""), ("B", "full"), ("C", "")))  # fmt: skip
    dearer = a_way(letter="A", total=Money(Decimal(110), "GBP"))
    assert changes_between(a_version(a, b), a_version(dearer, c), WRITE) == (
        "Choice A: the total is £110.00; it was £100.00.", "Choice C is new: £100.00.",
        "Choice B, full is no longer offered.",
    )  # fmt: skip
    assert changes_between(a_version(), a_version(a, b), WRITE) == (
        "Choice B, full is new: £100.00.",
    )
    assert changes_between(a_version(a, b), a_version(), WRITE) == (
        "Choice B, full is no longer offered.",
    )


# --- with proposals that were really sent ---


@pytest.fixture
def job(access: Access) -> Job:
    return a_designed_job(access)


@pytest.fixture
def sent(access: Access, job: Job) -> Callable[..., Offer]:
    def send(*letters: str) -> Offer:
        words = Words(greeting="Dear you,", note="", letters=letters)
        job.refresh_from_db()
        return send_offer(
            access, job, words, at=timezone.now(), link_for=lambda token: f"https://x.example/o/{token}/"
        )  # fmt: skip

    return send


def page_of(offer: Offer) -> str:
    address = reverse("jobs:offer-page", args=[shown_again(offer.links.get())])
    return Browser().get(address).content.decode()


def change_the_design(job: Job) -> None:
    row = job.designs.get()
    row.document["pieces"][0]["accents"] = None
    row.document["pieces"][0]["name"] = "Round backdrop"
    row.save()


def test_a_changed_design_is_told_with_its_counts(
    access: Access, job: Job, sent: Callable[..., Offer]
) -> None:
    first, hall = sent(), job.venue.name
    change_the_design(job)
    Job.objects.update(
        event_start=job.event_start + timedelta(days=1), event_end=job.event_end + timedelta(days=1)
    )
    VenueFactory._meta.model.objects.filter(pk=job.venue_id).update(name="The Orchard")
    second = sent()
    said = compared_versions(access, first, second)
    old, new = (o.owner_figures["colours"]["old gold"] for o in (first, second))
    assert old > new
    assert f"Old gold: {new} balloons; it was {old}." in said
    assert sum(first.owner_figures["colours"].values()) == int(first.owner_figures["balls"])
    assert "Round backdrop is new." in said
    assert f"It is at The Orchard; it was at {hall}." in said
    assert any(s.startswith("The total is £") for s in said)
    assert any(s.startswith("It is on ") for s in said)


def test_a_superseded_page_leads_to_the_newer_one_and_both_say_what_changed(
    access: Access, job: Job, sent: Callable[..., Offer]
) -> None:
    first = sent()
    assert "What changed" not in page_of(first)
    change_the_design(job)
    second = sent()
    old, new = page_of(first), page_of(second)
    token = shown_again(second.links.get())
    assert "A newer version of this proposal was sent" in old
    assert f'href="/o/{token}/"' in old
    assert "What changed in version 2" in old
    assert "What changed since version 1" in new
    assert "newer version" not in new
    for page in (old, new):
        assert "<li>Round backdrop is new.</li>" in page


def test_a_newer_version_whose_link_was_withdrawn_is_not_linked(
    access: Access, job: Job, sent: Callable[..., Offer]
) -> None:
    first, second = sent(), sent()
    token = shown_again(second.links.get())
    withdraw_offer_link(access, second)
    page = page_of(first)
    assert "Ask us for its link." in page
    assert str(token) not in page


def test_an_alternative_that_is_offered_now_is_told(
    access: Access, job: Job, sent: Callable[..., Offer]
) -> None:
    type(job.venue).objects.update(ceiling_m=None)  # the other one is higher
    first = sent()
    duplicate_alternative(access, job, "A", "one side")
    said = compared_versions(access, first, sent("B"))
    assert len(said) == 1
    assert said[0].startswith("Choice B, one side is new: £")

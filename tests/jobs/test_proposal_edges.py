"""Proposals at their edges: links, questions, versions held against one another, words of what is included."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest
from django.http import Http404
from django.utils import timezone

from jobs.design.document import Design
from jobs.design.options import Option, Part
from jobs.design.reading import design_from
from jobs.design.wording import listed
from jobs.design.working import work_out
from jobs.models import Acceptance, Client, ClientLink, Job, LogEntry, Offer, Question
from jobs.proposal.changes import (
    FrozenWay,
    OfferedWay,
    Version,
    Writing,
    changes_between,
    version_of,
)
from jobs.proposal.choices import key_of, letter_of
from jobs.proposal.client_activity import activity_of
from jobs.proposal.frozen import OfferedChoice, OfferedEvent, event_data
from jobs.proposal.included import included
from jobs.proposal.last_sold import event_of, last_jobs
from jobs.proposal.links import (
    follow_stop,
    link_followed,
    live_link,
    live_token,
    mark_opened,
    open_link,
    shown_again,
    stop_token,
    withdraw_offer_link,
)
from jobs.proposal.offering import Words, send_offer
from jobs.proposal.questions import answer_question, ask_question, open_questions, question_thread
from jobs.proposal.versions import news_since
from pricing.core.money import Money
from pricing.core.quote import ClientFigures
from pricing.core.tax import ZERO, TaxGroup, work_out_totals
from studio.access import Access
from studio.models import OutgoingMail
from tests.factories import a_designed_job, a_document


def send(access: Access, job: Job) -> Offer:
    words = Words(greeting="", note="")
    return send_offer(access, job, words, at=timezone.now(), link_for=lambda token: f"/o/{token}/")


@pytest.fixture
def offer(access: Access) -> Offer:
    return send(access, a_designed_job(access))


# Links


def test_a_link_opens_until_it_is_withdrawn_and_a_new_one_opens_again(
    access: Access, offer: Offer
) -> None:
    first = live_link(access, offer)
    assert first
    token = shown_again(first)
    assert token
    system, found = link_followed(token)
    assert (found, system.studio, system.person) == (offer, access.studio, None)
    second = open_link(access, offer)
    assert live_link(access, offer) == second  # the newest
    withdraw_offer_link(access, offer)
    for dead in (token, shown_again(second), "nobody-knows", ""):
        with pytest.raises(Http404):
            link_followed(dead or "")
    assert live_token(access, offer) is None
    third = open_link(access, offer)
    assert live_token(access, offer) == shown_again(third)
    assert link_followed(shown_again(third) or "")[1] == offer
    stamps = set(
        ClientLink.objects.filter(pk__in=[first.pk, second.pk]).values_list(
            "withdrawn_at", flat=True
        )
    )
    withdraw_offer_link(access, offer)  # what was withdrawn before keeps its moment
    assert (
        set(
            ClientLink.objects.filter(pk__in=[first.pk, second.pk]).values_list(
                "withdrawn_at", flat=True
            )
        )
        == stamps
    )


def test_after_the_sites_secret_changed_links_open_and_cannot_be_shown(
    access: Access, offer: Offer, settings: Any
) -> None:
    token = live_token(access, offer)
    settings.SECRET_KEY = "another"
    assert live_token(access, offer) is None
    assert live_link(access, offer) is None
    assert link_followed(token or "")[1] == offer


def test_the_first_look_alone_is_written_down(access: Access, offer: Offer) -> None:
    token = live_token(access, offer) or ""
    assert mark_opened(access, offer, token) is True
    assert mark_opened(access, offer, token) is False
    assert mark_opened(access, offer, "nobody-knows") is False
    assert LogEntry.objects.filter(what=f"Proposal {offer.job.number:04d}-1 opened").count() == 1
    assert ClientLink.objects.get().opened_at


def test_a_link_that_stops_reminders_is_of_its_client_alone(access: Access, offer: Offer) -> None:
    client = offer.job.client
    system, found = follow_stop(stop_token(client))
    assert (found, system.studio) == (client, access.studio)
    other = stop_token(Client(pk=client.pk + 999))
    for wrong in (
        other,
        "x",
        stop_token(client)[:-1],
        stop_token(client).replace(str(client.pk), "0", 1),
    ):
        with pytest.raises(Http404):
            follow_stop(wrong)


# Questions and signs


def test_both_sides_get_their_letter(access: Access, offer: Offer) -> None:
    asked = ask_question(access.as_system(), offer, "Taller?", tab="https://studio.example/tab/")
    letter = OutgoingMail.objects.get(kind="question")
    assert (letter.to, letter.once_key) == (access.studio.mail, f"question:{asked.pk}")
    assert "Taller?" in letter.body
    assert "https://studio.example/tab/" in letter.body
    said = answer_question(access, offer, "Yes.", link_for=lambda token: f"/o/{token}/")
    letter = OutgoingMail.objects.get(kind="answer")
    assert (letter.to, letter.once_key, said.who) == (
        offer.job.client.mail,
        f"question:{said.pk}",
        access.person,
    )
    assert "[the link]" in letter.body
    assert letter.link_salt
    withdraw_offer_link(access, offer)
    answer_question(access, offer, "Yes!", link_for=lambda token: f"/o/{token}/")
    letter = OutgoingMail.objects.filter(kind="answer").order_by("-pk")[0]
    assert ("[the link]" in letter.body, letter.link_salt) == (False, "")
    assert [entry.text for entry in question_thread(access, offer)] == ["Taller?", "Yes.", "Yes!"]


def test_without_addresses_nobody_gets_a_letter_and_all_is_kept(
    access: Access, offer: Offer
) -> None:
    access.studio.mail = offer.job.client.mail = ""
    OutgoingMail.objects.all().delete()
    ask_question(access, offer, "Taller?", tab="/")
    answer_question(access, offer, "Yes.", link_for=lambda token: token)
    assert not OutgoingMail.objects.exists()
    assert Question.objects.count() == 2


def entry(pk: int, who: int | None, hour: int) -> Any:
    return SimpleNamespace(pk=pk, who_id=who, at=datetime(2026, 6, 1, hour, tzinfo=UTC))


def test_signs_of_a_thread_and_of_links() -> None:
    nine, ten = (datetime(2026, 6, 1, hour, tzinfo=UTC) for hour in (9, 10))
    rows = {
        "links": SimpleNamespace(all=lambda: [SimpleNamespace(opened_at=at) for at in (ten, None, nine)]),
        "questions": SimpleNamespace(all=lambda: [entry(3, None, 14), entry(1, None, 11), entry(2, 7, 12), entry(4, None, 15)]),
        "stands_until": date(2026, 6, 1),
    }  # fmt: skip

    class Bare(SimpleNamespace):
        @property
        def acceptance(self) -> Any:
            raise Acceptance.DoesNotExist

    signs = activity_of(Bare(**rows), on=date(2026, 6, 2))  # type: ignore[arg-type]
    assert (signs.opened_at, signs.asked, signs.waiting) == (nine, 3, 2)
    assert signs.waiting_since == datetime(2026, 6, 1, 14, tzinfo=UTC)
    assert (signs.accepted_at, signs.lapsed_on) == (None, date(2026, 6, 1))
    rows["questions"] = SimpleNamespace(all=lambda: [entry(1, None, 11), entry(2, 7, 12)])
    yes = activity_of(
        SimpleNamespace(**rows, acceptance=SimpleNamespace(at=ten)), on=date(2026, 6, 9)
    )  # type: ignore[arg-type]
    assert (yes.waiting, yes.waiting_since, yes.accepted_at, yes.lapsed_on) == (0, None, ten, None)
    assert open_questions([]) == 0


# Versions


def gbp(amount: int) -> Money:
    return Money(Decimal(amount), "GBP")


WRITE = Writing(money=lambda m: f"£{m.amount:.0f}", day=lambda d: f"{d:%d.%m.}")


def a_way(letter: str = "", **facts: Any) -> OfferedWay:
    known: dict[str, Any] = {
        "name": "", "total": gbp(100), "extras": (), "pieces": {"Arch": "a"}, "shades": {"plum": "#1"}, "colours": {"plum": 2},
    }  # fmt: skip
    return OfferedWay(letter=letter, **{**known, **facts})


def said(before: list[OfferedWay], after: list[OfferedWay], **events: Any) -> tuple[str, ...]:
    was = Version(number=1, event=events.get("was"), ways=tuple(before))
    now = Version(number=2, event=events.get("now"), ways=tuple(after))
    return changes_between(was, now, WRITE)


@pytest.mark.parametrize(
    ("facts", "sentence"),
    [
        ({}, "Date, place, pieces and price are as they were."), ({"total": gbp(120)}, "The total is £120; it was £100."),
        ({"pieces": {"Arch": "b"}}, "Arch is built differently."), ({"shades": {"plum": "#2"}}, "Plum is another shade."),
        ({"shades": {}}, "Date, place, pieces and price are as they were."), ({"colours": {"plum": 1}}, "Plum: 1 balloon; it was 2."),
        ({"colours": {"plum": 3}}, "Plum: 3 balloons; it was 2."), ({"colours": {}}, "Date, place, pieces and price are as they were."),
        ({"extras": ("Bows",)}, "You may now add “Bows”."),
    ],
)  # fmt: skip
def test_one_difference_is_one_sentence(facts: dict[str, Any], sentence: str) -> None:
    assert said([a_way()], [a_way(**facts)]) == (sentence,)


def test_what_is_new_and_what_is_gone() -> None:
    after = a_way(pieces={"Wall": "w"}, colours={"gold": 1}, extras=("B",))
    assert said([a_way(extras=("A",))], [after]) == (
        "Wall is new.", "Arch is no longer there.", "Gold is new: 1 balloon.", "Plum is no longer there.",
        "You may now add “B”.", "“A” can no longer be added.",
    )  # fmt: skip


def test_alternatives_that_come_and_go() -> None:
    one, a, b = a_way(), a_way("A", name="half"), a_way("B", total=gbp(90))
    assert said([one], [a, b]) == ("Choice B is new: £90.",)
    assert said([a, b], [one]) == ("Choice B is no longer offered.",)
    assert said([a, b], [b]) == ("Choice A, half is no longer offered.",)
    assert said([a], [b, a]) == ("Choice B is new: £90.",)
    cheaper = a_way("A", name="half", total=gbp(80))
    assert said([a, b], [cheaper, b]) == ("Choice A: the total is £80; it was £100.",)


def event(starts: str, ends: str, venue: str = "Hall") -> OfferedEvent:
    first, last = (datetime.fromisoformat(f"{at}+00:00") for at in (starts, ends))
    return OfferedEvent(starts=first, ends=last, venue=venue)


def test_day_hours_and_place_each_by_itself() -> None:
    was = event("2026-06-01T10:00", "2026-06-01T12:00")
    for now, sentences in (
        (event("2026-06-02T10:00", "2026-06-02T12:00"), ("It is on 02.06.; it was on 01.06..",)),
        (
            event("2026-06-01T10:00", "2026-06-01T12:30"),
            ("It lasts from 10:00 to 12:30; it was 10:00 to 12:00.",),
        ),
        (
            event("2026-06-01T10:00", "2026-06-01T12:00", "Barn"),
            ("It is at Barn; it was at Hall.",),
        ),
        (None, ("Date, place, pieces and price are as they were.",)),
    ):
        assert said([a_way()], [a_way()], was=was, now=now) == sentences
    assert said([a_way()], [a_way()], was=None, now=was) == (
        "Date, place, pieces and price are as they were.",
    )


def two_arches(eight_m: float = 0.25, spare_m: float = 0.25) -> Design:
    """Two pieces of one name, of the recipes “eight” and “quad”; nobody uses the third."""
    document = {**a_document("shop-tenth"), "room": {}}
    arch = {**document["pieces"][0], "name": "Arch"}
    eight, quad = document["recipes"]
    ball = eight["balls"][0]
    recipes = [
        {"name": "eight", "balls": [{**ball, "blown_m": eight_m}]}, quad, {"name": "spare", "balls": [{**ball, "blown_m": spare_m}]},
    ]  # fmt: skip
    return design_from({**document, "recipes": recipes, "pieces": [arch, {**arch, "at_m": 8.0}]})


def test_a_version_is_its_alternatives_without_extras() -> None:
    design = two_arches()
    half = FrozenWay(
        choice=a_choice("A", extras=("Bows",), name="half"), design=design, contents=None
    )
    other = FrozenWay(choice=a_choice("B", extras=("Bows",)), design=design, contents=None)
    version = version_of(3, [half, other], None)
    assert [(way.letter, way.name, way.extras) for way in version.ways] == [
        ("A", "half", ("Bows",)),
        ("B", "", ("Bows",)),
    ]
    (alone,) = version_of(3, [half], None).ways  # the only one needs no letter
    assert (alone.letter, alone.total, list(alone.pieces), alone.colours) == (
        "",
        gbp(5),
        ["Arch", "Arch (2)"],
        {},
    )
    assert alone.shades == {c.name: f"{c.hex} {c.finish}" for c in design.palette}


def test_a_piece_is_made_of_itself_and_the_recipes_that_it_uses() -> None:
    def made(*blown_m: float) -> dict[str, str]:
        way = FrozenWay(choice=a_choice(""), design=two_arches(*blown_m), contents=None)
        return version_of(1, [way], None).ways[0].pieces

    assert made(0.25, 0.25) == made()
    assert made(0.25, 0.2) == made()  # nobody uses it
    other = made(0.24, 0.25)
    assert [other[name] != made()[name] for name in other] == [True, True]


def test_a_client_is_told_of_newer_versions(access: Access, offer: Offer) -> None:
    assert news_since(access, offer) is None
    second = send(access, Job.objects.get())
    third = send(access, Job.objects.get())
    told = news_since(access, offer)
    assert told
    assert (told.newer, told.since, told.until, told.token) == (
        third.number,
        1,
        3,
        live_token(access, third),
    )
    told = news_since(access, third)
    assert told
    assert (told.newer, told.since, told.until, told.token) == ("", 2, 3, "")
    told = news_since(access, second)
    assert told
    assert (told.newer, told.since, told.until) == (third.number, 2, 3)


# Choices


def a_choice(
    letter: str, *ticked: str, extras: tuple[str, ...] = (), **facts: Any
) -> OfferedChoice:
    totals = work_out_totals(
        [(gbp(5), TaxGroup(code=ZERO, name="VAT", percent=Decimal(0)))], currency="GBP"
    )
    figures = ClientFigures(
        price=gbp(5), discount=gbp(0), net=totals.net, groups=totals.groups, tax=totals.tax, total=totals.total,
        deposit=gbp(0),
    )  # fmt: skip
    options = tuple(Option(name=name, parts=(Part(0, name.lower()),)) for name in extras)
    known = {"name": "", "figures": figures, "call_off": None, "plan": (), "options": options}
    return OfferedChoice(letter=letter, ticked=ticked, **{**known, **facts})


FROZEN = [
    a_choice("A", extras=("Bows", "Tails")), a_choice("A1", "Bows"), a_choice("A12", "Bows", "Tails"), a_choice("B"),
]  # fmt: skip


def test_what_is_ticked_names_a_frozen_way() -> None:
    assert letter_of(FROZEN, "A", []) == ("A", "")
    assert letter_of(FROZEN, "A", ["Bows"]) == ("A1", "")
    assert letter_of(FROZEN, "A", ["Tails", "Bows"]) == ("A12", "")
    assert letter_of(FROZEN, "B", []) == ("B", "")
    assert letter_of(FROZEN, "B", ["Bows"]) == (
        "",
        "Extras: expected those of choice B, got “Bows”.",
    )
    assert (key_of("B", ()), key_of("B", (0, 2))) == ("B", "B13")


# Words of what is included


@pytest.mark.parametrize("name", ["shop-tenth", "gym-doors", "lakeside"])
def test_what_is_included_says_the_counts_of_the_take_off(name: str) -> None:
    worked = work_out(design_from({**a_document(name), "room": {}}), units="metric")
    made = included(worked, "metric")
    assert [one.name for one in made] == [piece.name for piece in worked.design.pieces]
    for i, (one, piece) in enumerate(zip(made, worked.design.pieces, strict=True)):
        lines = list(one.lines)
        article = "An" if piece.support.words[0] in "aeiou" else "A"
        assert re.fullmatch(
            rf"{article} {re.escape(piece.support.words)}, with its balloons about \d+\.\d\d m wide and \d+\.\d\d m high",
            lines.pop(0),
        )
        clusters = [c for c in worked.composition.clusters if c.piece == i]
        balls = [b for c in clusters for b in c.balls]
        assert lines.pop(0).startswith(f"{len(balls)} balloons in ")
        minis = sum(c.part == "accent" for c in clusters)
        some = "clusters" if minis != 1 else "cluster"
        assert (f"and {minis} small accent {some}" in lines) is bool(minis)
        if piece.features:
            word = "balloon" if piece.features.count == 1 else "balloons"
            assert any(
                line.startswith(f"among them {piece.features.count} large {word}, ")
                for line in lines
            )
        if piece.tails:
            word = "ribbon" if piece.tails.count == 1 else "ribbons"
            assert any(
                line.startswith(f"{piece.tails.count} {piece.tails.colour} {word}, each ")
                for line in lines
            )


def test_the_overall_size_is_that_of_frame_and_balloons() -> None:
    worked = work_out(design_from({**a_document("shop-tenth"), "room": {}}), units="metric")
    piece, rest = worked.design.pieces[0], worked.settled
    x, z, r = rest.centres_m[:, 0], rest.centres_m[:, 2], rest.radii_m
    mine = [c.piece == 0 and c.part != "floater" for c in worked.composition.clusters]
    on = [mine[c] for c in rest.cluster]
    left = min(piece.at_m + piece.support.left_m, (x - r)[on].min())
    right = max(piece.at_m + piece.support.right_m, (x + r)[on].max())
    top = max(piece.support.top_m, (z + r)[on].max())
    assert (
        f"about {right - left:.2f} m wide and {top:.2f} m high"
        in included(worked, "metric")[0].lines[0]
    )


def test_names_are_listed_as_people_say_them() -> None:
    assert [listed(n) for n in (["a"], ["a", "b"], ["a", "b", "c"])] == [
        "a",
        "a and b",
        "a, b and c",
    ]


# What is kept for later


def test_when_and_where_are_kept_in_the_studios_zone(access: Access) -> None:
    start = datetime(2026, 6, 20, 23, 30, tzinfo=UTC)
    job = a_designed_job(access, event_start=start, event_end=start + timedelta(hours=1))
    # London is an hour ahead of UTC in June (IANA tz database).
    assert event_data(event_of(job)) == {
        "starts": "2026-06-21T00:30:00+01:00", "ends": "2026-06-21T01:30:00+01:00", "venue": job.venue.name,
    }  # fmt: skip


def test_only_accepted_offers_of_other_jobs_are_held_against_the_next(
    access: Access, offer: Offer
) -> None:
    other = a_designed_job(access)
    assert last_jobs(access, but=other) == []
    access.add(
        Acceptance, offer=offer, name="R", at=timezone.now(), pdf_sha256="", wording="", choice=""
    )
    (kept,) = last_jobs(access, but=other)
    assert (kept.net, kept.balls) == (
        Decimal(offer.figures["net"]),
        int(offer.owner_figures["balls"]),
    )
    assert last_jobs(access, but=offer.job) == []

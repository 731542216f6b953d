"""Proposals: what is sent stays as it was sent, and the client sees nothing of cost or margin."""

from __future__ import annotations

import hashlib
import html
import re
import uuid
from datetime import date, timedelta
from typing import Any

import pypdfium2
import pytest
from django.core import mail
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from jobs.alternatives import choose_alternative, duplicate_alternative
from jobs.cautions import CHOKING, CHOKING_ELSEWHERE
from jobs.inputs import design_of
from jobs.models import Acceptance, ClientLink, Job, LogEntry, Offer
from jobs.proposal.links import link_followed, open_link, shown_again, withdraw_offer_link
from jobs.proposal.offering import Words
from jobs.proposal.offering import offer_mail as letter_of
from pricing.models import Price
from studio.access import Access
from studio.mail import send_waiting
from studio.models import OutgoingMail, Studio
from studio.tokens import derive, digest
from tests.conftest import signed_in
from tests.factories import JobFactory, a_designed_job, a_document


@pytest.fixture
def job(access: Access) -> Job:
    return a_designed_job(access, travel_km=12, extra_label="Parking", extra_cost=7)


def at(job: Job) -> str:
    return reverse("jobs:proposal", args=[job.number])


def send(browser: Browser, job: Job, **changes: str) -> Any:
    told = {
        "greeting": "Dear Rufus,",
        "note": "With pleasure.",
        "do": "send",
        "form_key": str(uuid.uuid4()),
        **changes,
    }
    return browser.post(at(job), told)


@pytest.mark.parametrize(("days", "stands"), [(5, 5), (21, 21), (60, 21)])
def test_no_yes_is_awaited_after_the_event(
    browser: Browser, access: Access, days: int, stands: int
) -> None:
    begins = timezone.now() + timedelta(days=days)
    job = a_designed_job(access, event_start=begins, event_end=begins + timedelta(hours=4))
    send(browser, job)
    today = access.studio.today()
    assert Offer.objects.get().stands_until == today + timedelta(days=stands)


def test_an_event_that_was_may_still_be_offered(browser: Browser, access: Access) -> None:
    began = timezone.now() - timedelta(days=3)
    send(browser, a_designed_job(access, event_start=began, event_end=began + timedelta(hours=4)))
    assert Offer.objects.get().stands_until == access.studio.today() + timedelta(days=21)


@pytest.fixture
def offer(browser: Browser, job: Job) -> Offer:
    assert send(browser, job).status_code == 302
    return Offer.objects.get()


def link(offer: Offer) -> str:
    token = shown_again(offer.links.get())
    return reverse("jobs:offer-page", args=[token])


def text_of(pdf: bytes) -> str:
    return "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf))


def test_the_proposal_is_looked_at_before_it_is_sent(browser: Browser, job: Job) -> None:
    page = browser.get(at(job))
    assert (
        page.content.count(b'class="ball"')
        == page.context["draft"].choices[0].worked.takeoff.ball_count
    )
    part = browser.post(
        at(job), {"greeting": "Hello there", "do": "look"}, headers={"HX-Request": "true"}
    )
    assert b"Hello there" in part.content
    assert b"<html" not in part.content
    assert not Offer.objects.exists()


def test_what_is_sent_is_kept_with_its_digest(offer: Offer, job: Job) -> None:
    pdf = bytes(offer.pdf)
    assert offer.pdf_sha256 == hashlib.sha256(pdf).hexdigest()
    assert pdf.startswith(b"%PDF")
    text = text_of(pdf)
    assert f"{job.number:04d}-1" in text
    assert "Dear Rufus," in text
    job.refresh_from_db()
    assert job.stage == "offered"


def test_a_new_price_or_design_changes_nothing_that_was_sent(
    browser: Browser, offer: Offer, job: Job
) -> None:
    before = (bytes(offer.pdf), offer.article, offer.figures)
    Price.objects.update(pack_price=999)
    design = job.designs.get()
    design.document["pieces"][0]["accents"] = None
    design.save()
    kept = Offer.objects.get()
    assert (bytes(kept.pdf), kept.article, kept.figures) == before
    shown = Browser().get(link(offer)).content.decode()
    assert offer.article in shown
    assert browser.get(reverse("jobs:offer-pdf", args=[job.number, 1])).content == before[0]


def test_the_client_reads_price_tax_deposit_and_dates_and_nothing_of_cost_or_margin(
    offer: Offer,
) -> None:
    """Reads the PDF's text by another library, and the page's source."""
    page = Browser().get(link(offer)).content.decode()
    for source in (text_of(bytes(offer.pdf)), re.sub(r"<svg.*?</svg>", "", page, flags=re.DOTALL)):
        for name in ("net", "tax", "total", "deposit", "balance"):
            assert f"{float(offer.figures[name]):,.2f}" in source, name
        for secret in (offer.owner_figures["cost"], offer.owner_figures["margin"]):
            assert f"{float(secret):,.2f}" not in source
        for line in offer.owner_figures["lines"]:
            if line["kind"] in ("labour", "overhead", "travel") and float(line["cost"]) > 1:
                assert f"{float(line['cost']):,.2f}" not in source
        assert not re.search(r"margin|mark-?up|overhead|labour|cost price", source, re.IGNORECASE)
        assert "Parking" not in source


@pytest.mark.parametrize(
    ("facts", "words", "others"),
    [
        # 15 U.S.C. §1278(b)(2) and (c), 16 CFR 1500.19(b)(2), 1500.20: what offers to order must carry it.
        ({"country": "US"}, CHOKING, CHOKING_ELSEWHERE),
        ({"language": "en-US"}, CHOKING, CHOKING_ELSEWHERE),
        ({"currency": "USD"}, CHOKING, CHOKING_ELSEWHERE),
        ({"country": "IE", "language": "en-US"}, CHOKING_ELSEWHERE, CHOKING),
        ({}, CHOKING_ELSEWHERE, CHOKING),
    ],
)
def test_the_papers_carry_their_cautions(
    access: Access, job: Job, facts: dict[str, str], words: str, others: str
) -> None:
    Studio.objects.filter(pk=access.studio.pk).update(**facts)
    send(signed_in(access), job)
    offer = Offer.objects.get()
    flat = " ".join(text_of(bytes(offer.pdf)).split())
    page = html.unescape(Browser().get(link(offer)).content.decode())
    assert words in flat
    assert page.count(words) == 2  # in the proposal, and beside the yes
    assert others not in flat + page
    assert "latex" in flat
    assert "Exits" in flat


def test_outdoors_the_wind_is_named(browser: Browser, access: Access) -> None:
    job = a_designed_job(access, "lakeside", venue__outdoors=True, venue__ceiling_m=None)
    send(browser, job)
    assert "wind and weather decide" in " ".join(text_of(bytes(Offer.objects.get().pdf)).split())


def test_sending_twice_with_one_press_sends_once(browser: Browser, job: Job) -> None:
    press = str(uuid.uuid4())
    for _ in range(3):
        send(browser, job, form_key=press)
    assert Offer.objects.count() == OutgoingMail.objects.count() == 1


def test_the_letter_brings_the_link(offer: Offer, job: Job) -> None:
    assert send_waiting() == (1, 0)
    (letter,) = mail.outbox
    assert letter.to == [job.client.mail]
    assert link(offer) in letter.body


@pytest.mark.parametrize(("language", "day"), [("en-GB", "7 June 2026"), ("en-US", "June 7, 2026")])
def test_the_letter_writes_the_day_as_the_proposal_does(
    access: Access, job: Job, language: str, day: str
) -> None:
    access.studio.language = language
    assert f"It stands until {day}." in letter_of(
        job, Words(greeting="Dear you,", note=""), date(2026, 6, 7), access.studio
    )


@pytest.mark.parametrize("trouble", ["ceiling", "price", "design", "greeting"])
def test_what_cannot_be_offered_is_told_and_nothing_is_sent(
    browser: Browser, access: Access, job: Job, trouble: str
) -> None:
    says = {
        "ceiling": "higher than the ceiling", "price": "no price for", "design": "Nothing is designed",
        "greeting": "This field is required",
    }  # fmt: skip
    if trouble == "ceiling":
        type(job.venue).objects.update(ceiling_m=2.0)
    elif trouble == "price":
        Price.objects.filter(supply__key="frame/ring").delete()
    elif trouble == "design":
        job = JobFactory.create(studio=access.studio)
    answer = send(browser, job, **({"greeting": ""} if trouble == "greeting" else {}))
    assert answer.status_code == 422
    assert says[trouble] in answer.content.decode()
    assert not Offer.objects.exists()


def test_only_a_hash_of_the_token_is_kept(access: Access, offer: Offer) -> None:
    row = open_link(access, offer)
    token = derive(row.salt)
    assert len(token) >= 43  # 256 bits in base64url, RFC 4648
    assert row.token_sha256 == hashlib.sha256(token.encode()).hexdigest() == digest(token)
    assert token not in f"{row.salt}{row.token_sha256}"
    for letter in OutgoingMail.objects.all():
        assert not any(derive(link.salt) in str(vars(letter)) for link in ClientLink.objects.all())
    assert link_followed(token)[1] == offer


def test_another_secret_opens_old_links_and_shows_none(
    access: Access, offer: Offer, settings: Any
) -> None:
    token = derive(open_link(access, offer).salt)
    settings.SECRET_KEY = "another" * 10
    assert link_followed(token)[1] == offer
    assert shown_again(ClientLink.objects.latest("pk")) is None


def test_an_unknown_or_withdrawn_link_is_no_page(
    browser: Browser, access: Access, offer: Offer, job: Job
) -> None:
    assert Browser().get(reverse("jobs:offer-page", args=["guess"])).status_code == 404
    way = link(offer)
    browser.post(reverse("jobs:withdraw-link", args=[job.number, 1]))
    assert Browser().get(way).status_code == 404
    assert Browser().get(way + "proposal.pdf").status_code == 404
    withdraw_offer_link(access, offer)  # again, harmless


def test_client_pages_are_not_kept_indexed_or_told_on(offer: Offer) -> None:
    answer = Browser().get(link(offer))
    assert "no-store" in answer.headers["Cache-Control"]
    assert answer.headers["Referrer-Policy"] == "same-origin"
    assert "noindex" in answer.headers["X-Robots-Tag"]
    assert Browser().get(link(offer) + "proposal.pdf").content == bytes(offer.pdf)


YES = {"name": "Rufus Amadi", "agreed": "on"}


def test_a_yes_is_reviewed_then_confirmed_then_kept(offer: Offer, job: Job) -> None:
    client, way = Browser(), link(offer)
    review = client.post(way, YES)
    assert b"Once more, before it counts" in review.content
    assert not Acceptance.objects.exists()
    done = client.post(
        way, {**YES, "do": "confirm"}, follow=True, headers={"User-Agent": "A phone"}
    )
    assert b"Thank you, Rufus Amadi" in done.content
    kept = Acceptance.objects.get()
    assert (kept.name, kept.pdf_sha256, kept.agent, kept.address) == (
        "Rufus Amadi", offer.pdf_sha256, "A phone", "127.0.0.1",
    )  # fmt: skip
    assert f"{float(offer.figures['total']):,.2f}" in kept.wording
    assert (
        OutgoingMail.objects.filter(kind="accepted").count() == 2
    )  # to the client and to the studio
    assert LogEntry.objects.filter(what__contains="accepted by Rufus Amadi").exists()


def test_what_was_agreed_is_built_whatever_was_drawn_since(
    access: Access, offer: Offer, job: Job
) -> None:
    other = a_document("gym-doors")
    row = job.designs.get()
    row.document, row.name, row.version = other, "grand", 2
    row.save()
    Browser().post(link(offer), {**YES, "do": "confirm"})
    built = design_of(access, job)
    assert built
    assert built.pieces[0].name == offer.design["pieces"][0]["name"] != other["pieces"][0]["name"]
    row.refresh_from_db()
    assert (row.letter, row.chosen, row.version) == ("A", True, 3)
    beside = job.designs.get(chosen=False)
    assert beside.document["pieces"] == other["pieces"]
    assert beside.name == "drawn after the proposal"


def test_another_alternative_chosen_since_does_not_stand_in_for_what_was_agreed(
    access: Access, offer: Offer, job: Job
) -> None:
    duplicate_alternative(access, job, "A", "crescent")
    choose_alternative(access, job, "B")
    Browser().post(link(offer), {**YES, "do": "confirm"})
    assert list(job.designs.order_by("letter").values_list("letter", "chosen")) == [
        ("A", True), ("B", False),
    ]  # fmt: skip
    assert job.designs.get(letter="A").version == 1  # it is drawn as it was


def test_what_was_agreed_comes_back_where_it_was_dropped(
    access: Access, offer: Offer, job: Job
) -> None:
    job.designs.all().delete()
    Browser().post(link(offer), {**YES, "do": "confirm"})
    row = job.designs.get()
    assert (row.letter, row.chosen) == ("A", True)
    assert row.document["pieces"] == offer.design["pieces"]
    assert row.document["room"] != offer.design["room"]  # the venue lends it


def test_twice_pressed_is_once_accepted(offer: Offer) -> None:
    for _ in range(3):
        Browser().post(link(offer), {**YES, "do": "confirm"})
    assert Acceptance.objects.count() == 1
    assert b"Say yes" not in Browser().get(link(offer)).content


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ({"name": "", "agreed": "on"}, "expected a name"),
        ({"name": "Rufus"}, "expected it to be set"),
    ],
)
def test_a_yes_needs_a_name_and_a_tick(offer: Offer, told: dict[str, str], says: str) -> None:
    answer = Browser().post(link(offer), {**told, "do": "confirm"})
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert not Acceptance.objects.exists()


@pytest.mark.parametrize("why", ["lapsed", "superseded", "called_off"])
def test_what_does_not_stand_any_more_cannot_be_accepted(
    browser: Browser, offer: Offer, job: Job, why: str, monkeypatch: Any
) -> None:
    way = link(offer)
    if why == "superseded":
        send(browser, job)
    elif why == "called_off":
        Job.objects.update(stage="called_off")
    else:
        later = timezone.now() + timedelta(days=30)
        monkeypatch.setattr("django.utils.timezone.now", lambda: later)
    says = {"lapsed": "has lapsed", "superseded": "A newer version", "called_off": "called off"}[
        why
    ]
    assert says in Browser().get(way).content.decode()
    answer = Browser().post(way, {**YES, "do": "confirm"})
    assert answer.status_code == 409
    assert not Acceptance.objects.exists()


def test_versions_count_up(browser: Browser, offer: Offer, job: Job) -> None:
    send(browser, job)
    assert list(Offer.objects.order_by("version").values_list("version", flat=True)) == [1, 2]


def test_after_a_yes_no_version_is_sent_that_could_not_be_accepted(
    browser: Browser, offer: Offer, job: Job
) -> None:
    Browser().post(link(offer), {**YES, "do": "confirm"})
    says = f"yes to proposal {job.number:04d}-1, and that yes stands"
    page = browser.get(at(job)).content.decode()
    assert says in page
    assert 'name="do" value="send"' not in page
    assert 'name="do" value="look"' not in page
    answer = send(browser, job)
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert 'name="do" value="send"' not in answer.content.decode()
    assert list(Offer.objects.all()) == [offer]


def test_no_deposit_means_the_yes_books_it(browser: Browser, access: Access, job: Job) -> None:
    type(access.studio).objects.update(deposit_percent=0)
    send(browser, job)
    Browser().post(link(Offer.objects.get()), {**YES, "do": "confirm"})
    job.refresh_from_db()
    assert job.stage == "booked"


def test_strangers_and_crew_keep_out(
    crew: Access, stranger: Access, offer: Offer, job: Job
) -> None:
    for page in (at(job), reverse("jobs:offer-pdf", args=[job.number, 1])):
        assert Browser().get(page).status_code == 302
        assert signed_in(crew).get(page).status_code == 403
        assert signed_in(stranger).get(page).status_code == 404


def test_every_proposal_begins_with_the_studios_own_words(
    browser: Browser, access: Access, job: Job
) -> None:
    access.studio.offer_greeting = "Hello {client}, {event} on {day}:"
    access.studio.offer_note = "{balloons} balloons for {pieces}, {other}."
    access.studio.save()
    page = browser.get(at(job))
    initial = page.context["form"].initial
    assert initial["greeting"].startswith(f"Hello {job.client.name}, {job.title} on ")
    count = page.context["draft"].choices[0].worked.takeoff.ball_count
    assert initial["note"].startswith(f"{count} balloons for ")
    assert initial["note"].endswith("{other}.")

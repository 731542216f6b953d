"""A yes: its certificate, and what is looked at again at that moment."""

from __future__ import annotations

import hashlib
import threading
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pypdfium2
import pytest
from django.db import connection
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from jobs.alternatives import duplicate_alternative
from jobs.day.reserving import held_as, holder_of, span_of
from jobs.models import Acceptance, Job, LogEntry, Offer
from jobs.proposal.accepting import CannotAccept, ClientYes, KitTaken, accept_offer
from jobs.proposal.certificate import certify
from jobs.proposal.links import shown_again
from jobs.proposal.offering import Words, send_offer
from jobs.records import record_faults, vouch_acceptance
from pricing.models import KitBooking, KitItem
from pricing.stores import kit
from studio.access import Access
from studio.append_only import lower_guards, raise_guards
from studio.mail import mime_message
from studio.models import OutgoingMail
from tests.conftest import signed_in
from tests.factories import a_designed_job, a_stocked_access

YES = ClientYes(name="Rufus Amadi", wording="I accept it.", address="203.0.113.7", agent="A phone")


@pytest.fixture
def job(access: Access) -> Job:
    return a_designed_job(access)


def sent(access: Access, job: Job, *letters: str) -> Offer:
    words = Words(greeting="Dear you,", note="", letters=letters)
    return send_offer(
        access,
        job,
        words,
        at=timezone.now(),
        link_for=lambda token: f"https://x.example/o/{token}/",
    )


@pytest.fixture
def offer(access: Access, job: Job) -> Offer:
    return sent(access, job)


def text_of(pdf: bytes) -> str:
    pages = pypdfium2.PdfDocument(pdf)
    return " ".join(" ".join(p.get_textpage().get_text_range() for p in pages).split())


def test_it_says_what_was_accepted_by_whom_when_and_how(access: Access, offer: Offer) -> None:
    before = LogEntry.objects.filter(job=offer.job).latest("pk").sha256
    at = timezone.now()
    yes = accept_offer(access, offer, YES, at=at)
    paper = bytes(yes.certificate or b"")
    assert yes.certificate_sha256 == hashlib.sha256(paper).hexdigest()
    text = text_of(paper)
    squeezed = text.replace(" ", "")  # long digests break over lines
    for what in (offer.pdf_sha256, before):
        assert what in squeezed
    for what in ("Rufus Amadi", "I accept it.", "203.0.113.7", "A phone", f"{offer.job.number:04d}-1",
                 f"{float(offer.figures['total']):,.2f}", at.astimezone(UTC).isoformat(timespec="seconds"),
                 "simple electronic signature", "ESIGN", "UETA", "eIDAS", "differs from place to place"):  # fmt: skip
        assert what in text, what


@pytest.mark.parametrize(
    ("at", "local"),
    [
        # tz database: London left summer time on 25 October 2026 at 01:00 UTC; both are "01:30" on the wall.
        (datetime(2026, 10, 25, 0, 30, tzinfo=UTC), "2026-10-25 01:30:00 BST (UTC+01:00)"),
        (datetime(2026, 10, 25, 1, 30, tzinfo=UTC), "2026-10-25 01:30:00 GMT (UTC+00:00)"),
    ],
)
def test_the_hour_that_comes_twice_is_told_apart(
    access: Access, offer: Offer, at: datetime, local: str
) -> None:
    assert local in text_of(certify(access, offer, YES, at=at))


def test_the_choice_and_its_own_total_stand_on_it(access: Access) -> None:
    job = a_designed_job(access, venue__ceiling_m=None)
    duplicate_alternative(access, job, "A", "one side")
    offer = sent(access, job, "B")
    yes = ClientYes(name="R", wording="I accept B.", address=None, agent="", choice="B")
    text = text_of(bytes(accept_offer(access, offer, yes, at=timezone.now()).certificate or b""))
    assert "B, one side" in text
    assert f"{float(offer.choice('B').figures.total.amount):,.2f}" in text
    assert "not known" in text  # address and browser


def test_both_sides_get_it_and_can_fetch_it_again(
    browser: Browser, access: Access, stranger: Access, crew: Access, offer: Offer
) -> None:
    page = reverse("jobs:offer-page-certificate", args=[shown_again(offer.links.get())])
    tab = reverse("jobs:certificate", args=[offer.job.number, 1])
    assert Browser().get(page).status_code == browser.get(tab).status_code == 404  # no yes yet
    yes = accept_offer(access, offer, YES, at=timezone.now())
    paper = bytes(yes.certificate or b"")
    letters = OutgoingMail.objects.filter(kind="accepted")
    assert {letter.to for letter in letters} == {offer.job.client.mail, access.studio.mail}
    for letter in letters:
        (attached,) = mime_message(letter).attachments
        assert (attached[0], attached[1]) == (f"certificate-{offer.job.number:04d}-1.pdf", paper)
    assert Browser().get(page).content == browser.get(tab).content == paper
    assert page in Browser().get(page.replace("certificate.pdf", "")).content.decode()
    assert tab in browser.get(reverse("jobs:proposal", args=[offer.job.number])).content.decode()
    assert signed_in(crew).get(tab).status_code == 403
    assert signed_in(stranger).get(tab).status_code == 404


def test_one_changed_byte_of_it_is_found(access: Access, offer: Offer) -> None:
    yes = accept_offer(access, offer, YES, at=timezone.now())
    assert list(record_faults(access)) == []
    paper = bytearray(bytes(yes.certificate or b""))
    paper[len(paper) // 2] ^= 1
    lower_guards()
    Acceptance.objects.filter(pk=yes.pk).update(certificate=bytes(paper))
    raise_guards()
    assert "the client’s yes to version 1 is missing or was changed" in " ".join(
        record_faults(access)
    )


def test_a_yes_from_before_certificates_is_vouched_for_as_it_was(offer: Offer) -> None:
    old = Acceptance(offer=offer, name="R", at=timezone.now(), pdf_sha256="x", wording="y")
    assert "certificate" not in vouch_acceptance(old)


# --- the moment of the yes ---


@pytest.fixture
def ring(access: Access) -> KitItem:
    return access.add(KitItem, key="frame/ring", name="ring frame")


def another_holds_it(access: Access, job: Job) -> Job:
    other = a_designed_job(access, title="The Pellams’ secret party")
    kit.book_items(access, holder_of(access, other), [("frame/ring", 1)], span_of(job))
    return other


def test_kit_that_went_elsewhere_stops_the_yes_kindly_and_tells_the_owner_at_once(
    access: Access, job: Job, offer: Offer, ring: KitItem
) -> None:
    other = another_holds_it(access, job)
    way = reverse("jobs:offer-page", args=[shown_again(offer.links.get())])
    told = {"name": "Rufus Amadi", "agreed": "on", "do": "confirm"}
    for _ in range(2):
        answer = Browser().post(way, told)
    assert answer.status_code == 409
    shown = answer.content.decode()
    assert "We must check first whether everything we need for your event is free" in shown
    assert "your acceptance was not recorded and you owe nothing" in shown
    assert "another client" not in shown  # nobody said yes to it: an option is no booking
    assert other.title not in shown
    assert "Pellam" not in shown
    assert not Acceptance.objects.exists()
    assert not OutgoingMail.objects.filter(kind="accepted").exists()
    letter = OutgoingMail.objects.get(kind="kit-clash")
    assert letter.to == access.studio.mail
    assert other.title in letter.body
    assert LogEntry.objects.filter(job=job, what__contains="kit is not free").count() == 1
    assert list(record_faults(access)) == []


def test_another_client_is_spoken_of_where_one_said_yes_to_it(
    access: Access, job: Job, offer: Offer, ring: KitItem
) -> None:
    other = a_designed_job(access, title="Supper")
    first = sent(access, other)
    Job.objects.filter(pk=other.pk).update(event_start=job.event_start, event_end=job.event_end)
    accept_offer(access, Offer.objects.get(pk=first.pk), YES, at=timezone.now())
    with pytest.raises(KitTaken, match="is booked for another client") as taken:
        accept_offer(access, offer, YES, at=timezone.now())
    assert "Supper" in taken.value.clash
    assert "Supper" not in str(taken.value)


def test_late_kit_of_another_client_is_not_called_booked(
    access: Access, job: Job, offer: Offer, ring: KitItem
) -> None:
    other = a_designed_job(access, title="Supper")
    accept_offer(access, sent(access, other), YES, at=timezone.now())
    day = timedelta(days=1)
    KitBooking.objects.update(
        out_from=timezone.now() - 9 * day, back_until=timezone.now() - 8 * day
    )
    access.studio.late_kit_days = 60
    with pytest.raises(KitTaken, match="We must check first"):
        accept_offer(access, offer, YES, at=timezone.now())


def test_free_again_it_is_accepted(access: Access, job: Job, offer: Offer, ring: KitItem) -> None:
    other = another_holds_it(access, job)
    with pytest.raises(KitTaken):
        accept_offer(access, offer, YES, at=timezone.now())
    kit.release_kit(access, holder_of(access, other))
    assert accept_offer(access, offer, YES, at=timezone.now()).pk


def test_kit_of_another_day_or_of_the_job_itself_stops_nothing(
    access: Access, job: Job, offer: Offer, ring: KitItem
) -> None:
    far = a_designed_job(access, event_start=job.event_start + timedelta(days=9))
    kit.book_items(access, holder_of(access, far), [("frame/ring", 1)], span_of(far))
    kit.book_items(access, holder_of(access, job), [("frame/ring", 1)], span_of(job))
    assert accept_offer(access, offer, YES, at=timezone.now()).pk


def test_a_studio_that_owns_no_such_kit_is_not_stopped(
    access: Access, job: Job, offer: Offer
) -> None:
    access.add(KitItem, key="frame/arch", name="arch frame")
    assert accept_offer(access, offer, YES, at=timezone.now()).pk


def test_too_little_kit_of_ones_own_stops_nothing_while_nobody_holds_it(
    access: Access, ring: KitItem
) -> None:
    worked = [("frame/ring", 3)]
    job = a_designed_job(access)
    assert kit.promised_away(access, held_as(access, job), worked, span_of(job)) == []
    another_holds_it(access, job)
    (clash,) = kit.promised_away(access, held_as(access, job), worked, span_of(job))
    assert (clash.wanted, clash.free) == (3, 0)


def test_a_day_that_was_moved_or_is_over_is_not_accepted(
    access: Access, job: Job, offer: Offer
) -> None:
    shift = timedelta(days=3)
    Job.objects.update(event_start=job.event_start + shift, event_end=job.event_end + shift)
    with pytest.raises(CannotAccept, match="The day was moved"):
        accept_offer(access, Offer.objects.get(), YES, at=timezone.now())
    Job.objects.update(event_start=job.event_start, event_end=job.event_end)
    access.studio.offer_days = 90
    job.refresh_from_db()
    late = sent(access, job)
    with pytest.raises(CannotAccept, match="is over"):
        accept_offer(access, late, YES, at=job.event_end + timedelta(days=2))
    assert not Acceptance.objects.exists()


def test_of_two_at_the_same_moment_one_gets_the_ring(committed: None) -> None:
    access = a_stocked_access(deposit_percent=Decimal(0))  # without a deposit the yes books
    access.add(KitItem, key="frame/ring", name="ring frame")
    offers = [sent(access, a_designed_job(access)) for _ in range(2)]
    start, results = threading.Barrier(2), []

    def press(pk: int) -> None:
        try:
            own = Offer.objects.select_related("job__client", "job__venue").get(pk=pk)
            start.wait(timeout=20)
            accept_offer(access, own, YES, at=timezone.now())
            results.append("yes")
        except KitTaken:
            results.append("taken")
        finally:
            connection.close()

    threads = [threading.Thread(target=press, args=[offer.pk]) for offer in offers]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert sorted(results) == ["taken", "yes"]
    assert Acceptance.objects.count() == KitBooking.objects.count() == 1
    assert OutgoingMail.objects.filter(kind="kit-clash").count() == 1


def test_the_letters_survive_what_was_rolled_back(
    access: Access, job: Job, offer: Offer, ring: KitItem, monkeypatch: Any
) -> None:
    """Nothing of the yes is left, although the letter and the line are."""
    another_holds_it(access, job)
    lines = LogEntry.objects.filter(job=job).count()
    with pytest.raises(KitTaken):
        accept_offer(access, offer, YES, at=timezone.now())
    job.refresh_from_db()
    assert job.stage == "offered"
    assert LogEntry.objects.filter(job=job).count() == lines + 1

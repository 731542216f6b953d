"""What was agreed is locked: no door changes it by itself; a named person corrects it for a reason, and that is told."""

from __future__ import annotations

import inspect
import json
import sys
import threading
import uuid
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection, transaction
from django.test import Client as Browser
from django.urls import URLPattern, reverse
from django.utils import timezone

from jobs import urls
from jobs.alternatives import choose_alternative, duplicate_alternative
from jobs.day.following import follow_design
from jobs.day.reserving import promise_all
from jobs.day.substitutes import stand_in
from jobs.design.reading import design_from
from jobs.design_editing import SeenDesign, save_design
from jobs.inputs import worked_for
from jobs.models import Acceptance, Job, JobDesign, LogEntry, PackTick, Shade
from jobs.pages.price.price_form import JobPriceForm
from jobs.proposal.accepting import ClientYes, accept_offer
from jobs.proposal.agreed import TERMS, Locked, agreement_of, job_terms, permit_change
from jobs.proposal.correcting import departure_of
from jobs.proposal.offering import Words, send_offer
from jobs.records import record_faults
from pricing.core.supply_keys import write_key
from pricing.models import KitBooking, KitItem, Reservation
from studio.access import Access
from studio.append_only import lower_guards, raise_guards
from studio.editing import Stale
from tests.conftest import signed_in
from tests.factories import a_designed_job, a_stocked_access
from tests.jobs.test_design_page import typed

ACROSS, MINIS = "p0-support-diameter_m", "p0-accents-count"
WHY = "The ring in the van is the smaller one"


def say_yes(access: Access, job: Job) -> Acceptance:
    words = Words(greeting="Dear you,", note="")
    offer = send_offer(access, job, words, at=timezone.now(), link_for=lambda token: f"/o/{token}/")
    yes = ClientYes(name="Rufus Amadi", wording="I accept.", address="127.0.0.1", agent="a browser")
    return accept_offer(access.as_system(), offer, yes, at=timezone.now())


@pytest.fixture
def job(access: Access) -> Job:
    """A job with a yes, another alternative beside, supplies reserved and kit booked."""
    job = a_designed_job(access, travel_km=12, discount=Decimal(5))
    for mark in "12":
        access.add(KitItem, key="weight/ballast", name="ballast", mark=mark)
    access.add(KitItem, key="frame/ring", name="ring frame")
    duplicate_alternative(access, job, "A", "one side")
    say_yes(access, job)
    assert promise_all(access, job) == ""
    job.refresh_from_db()
    return job


@pytest.fixture
def data(browser: Browser, job: Job) -> dict[str, str]:
    sheet = typed(browser.get(at(job)).context["sheet"])
    return {**sheet, "version": str(job.designs.get(chosen=True).version), ACROSS: "6 ft 6 in"}


def at(job: Job, page: str = "design", *more: object) -> str:
    return reverse(f"jobs:{page}", args=[job.number, *more])


def agreed_state(job: Job) -> dict[str, Any]:
    """Everything that was agreed and what is promised by it."""
    row = JobDesign.objects.get(job=job, chosen=True)
    return {
        "letter": row.letter, "document": row.document, "version": row.version, "options": row.options,
        "terms": job_terms(Job.objects.get(pk=job.pk)),
        "reserved": sorted(Reservation.objects.filter(holder__job=job).values_list("key", "quantity")),
        "kit": KitBooking.objects.filter(holder__job=job).count(),
    }  # fmt: skip


def price_data(job: Job) -> dict[str, str]:
    form = JobPriceForm(instance=job)  # as its page shows it
    told = {name: form[name].value() for name in TERMS}
    told = {
        name: str(value)
        for name, value in told.items()
        if value not in (None, "") and value is not False
    }
    return {**told, "version": str(job.version)}


# --- no door ---

DOES = ("save", "keep", "begin", "choose", "drop", "duplicate", "take", "lay-out", "look", "out")


def doors(job: Job) -> Iterator[tuple[str, str]]:
    """Every address of the jobs' room as if for this job, with every word that its module knows for what to do."""
    sample = {
        "number": job.number, "version": 1, "pk": 1, "invoice": 1, "kind": "svg", "which": "pick", "token": "x" * 43,
    }  # fmt: skip
    for pattern in urls.urlpatterns:
        assert isinstance(pattern, URLPattern)
        assert pattern.callback
        words = inspect.getsource(sys.modules[pattern.callback.__module__])
        for letter in "AB" if "letter" in pattern.pattern.converters else "A":
            facts = {n: {**sample, "letter": letter}[n] for n in pattern.pattern.converters}
            address = reverse(f"jobs:{pattern.name}", kwargs=facts)
            yield from ((address, do) for do in ("", *(do for do in DOES if f'"{do}"' in words)))


def test_no_address_changes_what_was_agreed(
    browser: Browser, access: Access, job: Job, data: dict[str, str]
) -> None:
    shade = access.add(Shade, name="rosy", hex="#e6b7ac")
    everything = {
        **price_data(job), **data, "discount": "50", "travel_km": "99", "crew": "5", "take": "0",
        "span_m": "3 m", "budget": "100", "shade": str(shade.pk), "colour": "blush", "job": str(job.number),
        "layout": "full", "kind": "ring", "part-0-accents": "Minis", "form_key": str(uuid.uuid4()),
    }  # fmt: skip
    held = ("letter", "document", "options", "terms")
    before, taken = agreed_state(job), set()
    for address, do in doors(job):
        with transaction.atomic():
            answer = browser.post(address, {**everything, "do": do})
            assert answer.status_code < 500, (address, do)
            after = agreed_state(job)
            assert {k: after[k] for k in held} == {k: before[k] for k in held}, (address, do)
            if answer.status_code not in (404, 405):
                taken.add(address)
            transaction.set_rollback(True)
    pages = ("design", "price", "budget", "fit", "hold", "stage", "proposal")
    assert taken >= {at(job, page) for page in pages}
    assert at(job, "change-alternative", "B") in taken
    assert reverse("jobs:stand-in") in taken


def test_nothing_follows_a_change_that_is_not_let_through(
    browser: Browser, job: Job, data: dict[str, str]
) -> None:
    before = agreed_state(job)
    answer = browser.post(at(job), data)
    assert answer.status_code == 422
    content = answer.content.decode()
    assert "Why: expected the reason" in content
    assert 'value="6 ft 6 in"' in content  # nothing typed is lost
    kept = browser.post(at(job), {**data, "do": "keep"}, headers={"HX-Request": "true"})
    assert kept.status_code == 409
    assert "the client said yes to this design" in kept.content.decode()
    assert agreed_state(job) == before


def test_a_save_of_what_stands_asks_for_nothing(
    browser: Browser, job: Job, data: dict[str, str]
) -> None:
    before = agreed_state(job)
    assert browser.post(at(job), {**data, ACROSS: "7' 6\""}).status_code == 302
    assert browser.post(at(job, "price"), price_data(job)).status_code == 302
    assert {**agreed_state(job), "version": 1} == {**before, "version": 1}
    assert not LogEntry.objects.filter(what__contains="corrected").exists()


def test_before_the_yes_everything_saves_as_ever(browser: Browser, access: Access) -> None:
    job = a_designed_job(access)
    data = {**typed(browser.get(at(job)).context["sheet"]), "version": "1", ACROSS: "6 ft 6 in"}
    assert "data-keeps" in browser.get(at(job)).content.decode()
    assert browser.post(at(job), data).status_code == 302
    assert job.designs.get().document["pieces"][0]["support"]["diameter_m"] == 1.9812
    assert browser.post(at(job, "price"), {**price_data(job), "discount": "7"}).status_code == 302
    job.refresh_from_db()
    assert job.discount == 7
    assert agreement_of(access, job) is None
    assert departure_of(access, job) is None


def test_another_alternative_may_still_be_drawn(browser: Browser, access: Access, job: Job) -> None:
    before = agreed_state(job)
    data = typed(browser.get(at(job, "alternative", "B")).context["sheet"])
    told = {**data, "version": "1", ACROSS: "6 ft 6 in"}
    assert browser.post(at(job, "alternative", "B"), told).status_code == 302
    assert job.designs.get(letter="B").version == 2
    assert agreed_state(job) == before


# --- a correction ---


def test_a_correction_is_sealed_followed_and_told(
    browser: Browser, access: Access, job: Job, data: dict[str, str]
) -> None:
    before = dict(agreed_state(job)["reserved"])
    answer = browser.post(at(job), {**data, MINIS: "2", "why": WHY}, follow=True)
    assert "Corrected; the lists follow." in answer.content.decode()
    assert job.designs.get(chosen=True).document["pieces"][0]["support"]["diameter_m"] == 1.9812
    after = dict(agreed_state(job)["reserved"])
    assert after["tie/260"] < before["tie/260"]
    line = LogEntry.objects.get(what__contains="corrected after the yes")
    assert line.who == access.person
    assert WHY in line.what
    assert line.data["why"] == WHY
    assert ["7' 6\"", "6' 6\""] in [change[1:] for change in line.data["changed"]]
    assert list(record_faults(access)) == []
    for page in ("proposal", "build"):
        content = browser.get(at(job, page)).content.decode()
        assert "Build and paper differ" in content
        assert "support, across" in content
        assert WHY in content
    departure = departure_of(access, job)
    assert departure
    assert [(d.was, d.now) for d in departure.design] == [("7' 6\"", "6' 6\""), ("8", "2")]


def test_what_was_put_right_again_no_longer_differs(
    browser: Browser, access: Access, job: Job, data: dict[str, str]
) -> None:
    browser.post(at(job), {**data, "why": WHY})
    version = str(job.designs.get(chosen=True).version)
    browser.post(at(job), {**data, "version": version, ACROSS: "7' 6\"", "why": "It was found"})
    content = browser.get(at(job, "build")).content.decode()
    assert "the same again" in content
    assert "Build and paper differ" not in content


def test_a_design_changed_behind_a_correction_is_found(
    browser: Browser, access: Access, job: Job, data: dict[str, str]
) -> None:
    browser.post(at(job), {**data, "why": WHY})
    row = job.designs.get(chosen=True)
    row.document["pieces"][0]["support"]["diameter_m"] = 5.0
    row.save()
    assert [f for f in record_faults(access) if "since its last correction" in f]


def test_kit_follows_and_what_lies_packed_is_looked_at_again(
    browser: Browser, access: Access, job: Job, data: dict[str, str]
) -> None:
    changed = worked_for(access, job)
    assert changed
    for need in changed.takeoff.needs:
        PackTick.objects.create(studio=access.studio, job=job, key=write_key(need.key))
    many = PackTick.objects.count()
    told = {**data, MINIS: "2", "why": WHY}
    answer = browser.post(at(job), told, follow=True).content.decode()
    assert "of the kit are booked anew" in answer
    assert "to look at again" in answer
    assert 0 < PackTick.objects.count() < many
    assert LogEntry.objects.filter(what__contains="reserved anew").exists()


def test_kit_that_is_not_free_stays_as_it_was_and_is_told(access: Access, job: Job) -> None:
    KitItem.objects.filter(key="frame/ring").update(out_of_use=True)
    held = KitBooking.objects.filter(holder__job=job).count()
    assert "the job keeps what it had" in follow_design(access, job, worked_for(access, job))
    assert KitBooking.objects.filter(holder__job=job).count() == held


def test_terms_are_corrected_with_a_reason_too(browser: Browser, access: Access, job: Job) -> None:
    told = {**price_data(job), "discount": "7"}
    refused = browser.post(at(job, "price"), told)
    assert refused.status_code == 422
    assert "Why: expected the reason" in refused.content.decode()
    job.refresh_from_db()
    assert job.discount == 5
    assert browser.post(at(job, "price"), {**told, "why": WHY}).status_code == 302
    job.refresh_from_db()
    assert job.discount == 7
    content = browser.get(at(job, "proposal")).content.decode()
    assert "Build and paper differ" in content
    assert "Discount, before tax" in content
    assert list(record_faults(access)) == []


def test_crew_are_told_of_the_build_and_not_of_terms(
    browser: Browser, crew: Access, access: Access, job: Job, data: dict[str, str]
) -> None:
    browser.post(at(job), {**data, "why": WHY})
    browser.post(at(job, "price"), {**price_data(job), "discount": "7", "why": "A sum for nobody"})
    content = signed_in(crew).get(at(job, "build")).content.decode()
    assert "support, across" in content
    assert "Discount" not in content
    assert "A sum for nobody" not in content
    with pytest.raises(Locked, match="the office corrects it"):
        permit_change(crew, job, WHY)


def test_nobody_in_particular_corrects_nothing(access: Access, job: Job) -> None:
    with pytest.raises(Locked, match="by name"):
        permit_change(access.as_system(), job, WHY)
    with pytest.raises(Locked, match="at most 200"):
        permit_change(access, job, "x" * 201)


def test_another_is_built_in_its_place_only_for_a_reason(
    browser: Browser, access: Access, job: Job
) -> None:
    browser.post(at(job, "change-alternative", "B"), {"do": "choose"})
    assert job.designs.get(chosen=True).letter == "A"
    with pytest.raises(Locked):
        choose_alternative(access, job, "B", " ")
    browser.post(at(job, "change-alternative", "B"), {"do": "choose", "why": WHY})
    assert job.designs.get(chosen=True).letter == "B"
    departure = departure_of(access, job)
    assert departure
    assert departure.differs
    assert departure.corrections[0].why == WHY


def test_a_stand_in_after_the_yes_is_a_correction(access: Access, job: Job) -> None:
    shade = access.add(Shade, name="rosy", hex="#e6b7ac")
    with pytest.raises(Locked):
        stand_in(access, job, "blush", shade)
    assert stand_in(access, job, "blush", shade, "blush cannot come in time")
    assert Reservation.objects.filter(holder__job=job, key="balloon/11 in/rosy").exists()
    departure = departure_of(access, job)
    assert departure
    assert "blush" in [d.was for d in departure.design]
    assert departure.corrections[0].why == "blush cannot come in time"
    assert list(record_faults(access)) == []


def test_the_yes_brings_the_terms_of_the_offer_back(access: Access) -> None:
    job = a_designed_job(access, discount=Decimal(5), margin_percent=Decimal("40.5"))
    words = Words(greeting="Dear you,", note="")
    offer = send_offer(access, job, words, at=timezone.now(), link_for=lambda token: f"/o/{token}/")
    before = job_terms(job)
    Job.objects.filter(pk=job.pk).update(discount=Decimal(50), margin_percent=None, rush=True)
    yes = ClientYes(name="Rufus Amadi", wording="I accept.", address=None, agent="")
    accept_offer(access.as_system(), offer, yes, at=timezone.now())
    job.refresh_from_db()
    assert job_terms(job) == before
    assert LogEntry.objects.filter(what__contains="again those of the proposal").exists()


def test_terms_of_an_offer_that_kept_none_are_those_before_the_first_correction(
    browser: Browser, access: Access
) -> None:
    job = a_designed_job(access, discount=Decimal(5))
    acceptance = say_yes(access, job)
    figures = {k: v for k, v in acceptance.offer.owner_figures.items() if k != "terms"}
    lower_guards()
    with connection.cursor() as cursor:
        cursor.execute("UPDATE jobs_offer SET owner_figures = %s", [json.dumps(figures)])
    raise_guards()
    for discount in ("6", "7"):
        job.refresh_from_db()
        told = {**price_data(job), "discount": discount, "why": WHY}
        assert browser.post(at(job, "price"), told).status_code == 302
    departure = departure_of(access, Job.objects.get(pk=job.pk))
    assert departure
    assert [(d.was, d.now) for d in departure.terms] == [("5", "7")]


def test_options_are_closed_after_the_yes(browser: Browser, job: Job) -> None:
    address = at(job, "options", "B")
    content = browser.get(address).content.decode()
    assert "what was ticked is part of the design now" in content
    assert ">Save<" not in content
    answer = browser.post(address, {"part-0-accents": "Minis"})
    assert answer.status_code == 422
    assert job.designs.get(letter="B").options == []


def test_the_page_says_that_it_is_locked_and_does_not_save_by_itself(
    browser: Browser, job: Job
) -> None:
    content = browser.get(at(job)).content.decode()
    assert "Agreed with the client" in content
    assert "Correct what was agreed" in content
    assert "data-keeps" not in content
    assert "Agreed with the client" in browser.get(at(job, "price")).content.decode()


def test_a_sum_counted_anew_never_stands_for_the_one_agreed(
    browser: Browser, access: Access, job: Job, data: dict[str, str]
) -> None:
    agreement = agreement_of(access, job)
    assert agreement
    agreed = f"{agreement.total.amount:.2f}"
    look = browser.post(at(job), {**data, "do": "look"}, headers={"HX-Request": "true"})
    for answer in (browser.get(at(job)), browser.get(at(job, "price")), look):
        page = answer.content.decode()
        assert agreed in page
        assert "ounted anew" in page
        assert "the client pays</th>" not in page
        assert "What the client pays</h2>" not in page


def test_a_job_that_is_up_keeps_its_kit(access: Access, job: Job) -> None:
    Job.objects.filter(pk=job.pk).update(stage=Job.Stage.UP)
    job.refresh_from_db()
    held = set(KitBooking.objects.values_list("pk", flat=True))
    design = worked_for(access, job)
    assert design
    smaller = design.design.pieces[0].model_copy(update={"accents": None})
    changed = design.design.model_copy(update={"pieces": (smaller,)})
    version = job.designs.get(chosen=True).version
    assert save_design(access, job, changed, SeenDesign(version=version), why=WHY).corrected
    assert set(KitBooking.objects.values_list("pk", flat=True)) == held


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time")
@pytest.mark.usefixtures("committed")
def test_a_save_and_a_yes_wait_for_one_another() -> None:
    """Whichever is first, neither is lost to a deadlock, and what is built is what was agreed."""
    access = a_stocked_access()
    job = a_designed_job(access)
    words = Words(greeting="Dear you,", note="")
    offer = send_offer(access, job, words, at=timezone.now(), link_for=lambda token: f"/o/{token}/")
    design = design_from(job.designs.get().document)
    piece = design.pieces[0].model_copy(update={"accents": None})
    changed = design.model_copy(update={"pieces": (piece,)})
    together, said = threading.Barrier(2), []

    def run(do: Callable[[], object]) -> None:
        together.wait()
        try:
            do()
        except (Locked, Stale) as reason:
            said.append(reason)
        finally:
            connection.close()

    yes = ClientYes(name="Rufus Amadi", wording="I accept.", address=None, agent="")
    tasks = (
        lambda: accept_offer(access.as_system(), offer, yes, at=timezone.now()),
        lambda: save_design(access, job, changed, SeenDesign(version=1)),
    )
    threads = [threading.Thread(target=run, args=(task,)) for task in tasks]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert Acceptance.objects.count() == 1
    departure = departure_of(access, job)
    assert departure
    assert not departure.differs

"""Supplies and kit between the client's yes and the deposit; what Today asks before it is let go."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from jobs.day.holding import CannotHold, hold_anew, last_day_of_holding
from jobs.day.reserving import holder_of, kit_trouble_of
from jobs.inputs import worked_for
from jobs.job_stage import MAY_HOLD
from jobs.models import Job, JobDesign, LogEntry, Offer
from jobs.stages import move_to_stage
from pricing.core.supply_keys import write_key
from pricing.models import KitBooking, KitItem, KitWish, Reservation
from pricing.stores import kit as kits
from studio.access import Access
from tests.conftest import signed_in
from tests.factories import a_designed_job
from tests.jobs.test_cancelling import an_accepted_job, pay
from tests.jobs.test_money_pages import pay as press_payment

DAY = timedelta(days=1)


@pytest.fixture
def ring(access: Access) -> KitItem:
    return access.add(KitItem, key="frame/ring", name="ring frame, 2.3 m")


def held(access: Access, job: Job) -> tuple[bool, int]:
    """Whether supplies are reserved, and how much of the kit is booked."""
    return (
        access.rows(Reservation).filter(holder__job=job).exists(),
        access.rows(KitBooking).filter(holder__job=job).count(),
    )


def today(browser: Browser) -> str:
    return browser.get(reverse("jobs:today")).content.decode()


def press(browser: Browser, job: Job, do: str, **more: str) -> Any:
    return browser.post(
        reverse("jobs:hold", args=[job.number]), {"do": do, **more}, follow=True
    ).content.decode()


def days_pass(job: Job) -> None:
    Job.objects.filter(pk=job.pk).update(held_until=timezone.localdate() - DAY)


@pytest.mark.parametrize(
    ("days", "due", "event", "last"),
    [
        (7, None, date(2026, 6, 1), date(2026, 5, 8)),
        (0, date(2026, 5, 4), date(2026, 6, 1), date(2026, 5, 4)),  # not before it is due
        (7, None, date(2026, 5, 3), date(2026, 5, 3)),  # not after the event
        (7, None, date(2026, 4, 3), date(2026, 5, 1)),
    ],
)
def test_it_is_held_for_the_days_of_the_deposit(
    days: int, due: date | None, event: date, last: date
) -> None:
    assert (
        last_day_of_holding(said_on=date(2026, 5, 1), days=days, due_on=due, event_on=event) == last
    )


def test_the_yes_holds_and_the_deposit_holds_for_good(access: Access, ring: KitItem) -> None:
    job = an_accepted_job(access)
    assert (job.stage, held(access, job)) == ("accepted", (True, 1))
    assert job.held_until == timezone.localdate() + access.studio.deposit_days * DAY
    pay(access, job, Offer.objects.get().figures["deposit"])
    assert (job.stage, job.held_until, held(access, job)) == ("booked", None, (True, 1))


def test_when_the_days_have_passed_today_asks_and_nothing_is_let_go_by_itself(
    browser: Browser, access: Access, crew: Access, ring: KitItem
) -> None:
    job = an_accepted_job(access)
    assert "your decision on supplies and kit" not in today(browser)
    Job.objects.filter(pk=job.pk).update(held_until=timezone.localdate())  # its last day
    assert "your decision on supplies and kit" not in today(browser)
    days_pass(job)
    page = today(browser)
    assert "your decision on supplies and kit, held until" in page
    assert 'value="keep"' in page
    assert 'value="let-go"' in page
    assert held(access, job) == (True, 1)
    assert 'value="let-go"' not in today(signed_in(crew))


def test_keep_holding_gives_it_the_same_days_once_more(
    browser: Browser, access: Access, ring: KitItem
) -> None:
    job = an_accepted_job(access)
    days_pass(job)
    assert "held until" in press(browser, job, "keep", back="today")
    job.refresh_from_db()
    assert job.held_until == timezone.localdate() + access.studio.deposit_days * DAY
    assert held(access, job) == (True, 1)
    assert "your decision on supplies and kit" not in today(browser)


def test_let_go_frees_it_for_others_and_the_deposit_brings_it_back(
    browser: Browser, access: Access, ring: KitItem
) -> None:
    job = an_accepted_job(access)
    press(browser, job, "let-go")
    job.refresh_from_db()
    assert (job.held_until, held(access, job)) == (None, (False, 0))
    assert not access.rows(KitWish).exists()
    assert "none are held" in today(browser)
    assert "Nothing is held for some days only here" in press(browser, job, "keep")
    pay(access, job, Offer.objects.get().figures["deposit"])
    assert held(access, job) == (True, 1)


def test_none_held_can_be_held_after_all(browser: Browser, access: Access, ring: KitItem) -> None:
    job = an_accepted_job(access)
    press(browser, job, "let-go")
    press(browser, job, "hold")
    job.refresh_from_db()
    assert held(access, job) == (True, 1)
    assert job.held_until


def test_the_yes_takes_the_place_of_what_was_held_for_the_proposal(
    browser: Browser, access: Access, ring: KitItem
) -> None:
    """Held while it was another design; what is agreed is what is held."""
    job = a_designed_job(access, stage="offered")
    press(browser, job, "hold")
    job.refresh_from_db()
    assert job.held_until
    kept = held(access, job)
    assert kept == (True, 1)
    row = JobDesign.objects.get(job=job)
    row.document["pieces"][0]["accents"] = None
    row.save()
    move_to_stage(access, job, "accepted")
    worked = worked_for(access, job)
    assert worked
    want = {
        write_key(n.key): n.quantity + n.spare
        for n in worked.takeoff.needs
        if n.use == "consumable"
    }
    have = dict(access.rows(Reservation).filter(holder__job=job).values_list("key", "quantity"))
    assert have == want


@pytest.mark.parametrize("stage", sorted(Job.Stage.values))
def test_only_a_job_from_proposal_to_packed_holds_anything(
    browser: Browser, access: Access, ring: KitItem, stage: str
) -> None:
    job = a_designed_job(access, stage=stage)
    page = browser.get(reverse("jobs:build", args=[job.number])).content.decode()
    assert ("Reserve supplies and book the kit" in page) == (stage in MAY_HOLD)
    told = press(browser, job, "hold")
    assert held(access, job) == ((True, 1) if stage in MAY_HOLD else (False, 0))
    assert ("held for jobs from the proposal on" in told) == (stage not in MAY_HOLD)


@pytest.mark.parametrize("stage", ["booked", "ready"])
def test_with_a_deposit_nothing_is_let_go_by_a_press(
    browser: Browser, access: Access, ring: KitItem, stage: str
) -> None:
    job = a_designed_job(access, stage=stage)
    press(browser, job, "hold")
    page = browser.get(reverse("jobs:build", args=[job.number])).content.decode()
    assert 'value="let-go"' not in page
    assert "keeps what it has" in press(browser, job, "let-go")
    assert held(access, job) == (True, 1)


def test_crew_hold_and_let_go_nothing(crew: Access, access: Access, ring: KitItem) -> None:
    job = an_accepted_job(access)
    for do in ("hold", "keep", "let-go"):
        answer = signed_in(crew).post(reverse("jobs:hold", args=[job.number]), {"do": do})
        assert answer.status_code == 403
    assert held(access, job) == (True, 1)


# --- what is not free is told ---


@pytest.fixture
def other(access: Access, ring: KitItem) -> Job:
    """Another job that has the only ring on the same day."""
    return an_accepted_job(access, title="Lantern feast")


@pytest.mark.parametrize("page", ["design", "price", "proposal", "build"])
def test_a_clash_is_told_from_the_first_sketch_to_the_sending(
    browser: Browser, access: Access, other: Job, page: str
) -> None:
    job = a_designed_job(access, event_start=other.event_start, event_end=other.event_end)
    shown = browser.get(reverse(f"jobs:{page}", args=[job.number])).content.decode()
    told = f"ring frame: 1 wanted, 0 free; promised to {other.number:04d} Lantern feast"
    assert told in shown
    far = a_designed_job(access, event_start=other.event_start + 9 * DAY,
                         event_end=other.event_end + 9 * DAY)  # fmt: skip
    shown = browser.get(reverse(f"jobs:{page}", args=[far.number])).content.decode()
    assert "0 free" not in shown


def test_a_job_without_its_ring_stands_in_red_on_today_until_it_has_it(
    browser: Browser, access: Access, other: Job
) -> None:
    job = a_designed_job(
        access, stage="booked", event_start=other.event_start, event_end=other.event_end
    )
    told = press(browser, job, "hold")
    assert "not all of the kit is free" in told
    page = " ".join(today(browser).split())
    assert "Kit that jobs do not have" in page
    assert '<strong class="late">ring frame: 1 wanted, 0 free; promised to' in page
    kits.release_kit(access, holder_of(access, other))
    assert "free now. Book the kit again" in today(browser)
    press(browser, job, "hold")
    assert "Kit that jobs do not have" not in today(browser)


def test_a_missing_ring_is_told_where_the_deposit_is_written_down(
    browser: Browser, access: Access, other: Job
) -> None:
    job = an_accepted_job(access, days=80)
    press(browser, job, "let-go")
    times = {"event_start": other.event_start, "event_end": other.event_end}
    Job.objects.filter(pk=job.pk).update(**times)
    deposit = Decimal(Offer.objects.get(job=job).figures["deposit"])
    press_payment(browser, job, deposit)
    told = browser.get(reverse("jobs:payment", args=[job.number])).content.decode()
    job.refresh_from_db()
    assert job.stage == "booked"
    assert "Written down." in told
    assert told.count("ring frame: 1 wanted, 0 free; promised to") == 2  # a message, and the page
    assert LogEntry.objects.filter(job=job, what__startswith="Kit is not free").exists()


def test_a_ring_of_another_size_is_told_before_it_is_sent(browser: Browser, access: Access) -> None:
    access.add(KitItem, key="frame/ring", name="ring frame, 1.5 m")
    job = a_designed_job(access)
    worked = worked_for(access, job)
    assert worked
    assert worked.design.pieces[0].support.sizes_m[0] > 1.6
    shown = browser.get(reverse("jobs:proposal", args=[job.number])).content.decode()
    assert "ring frame, 1.5 m: the design asks" in shown
    (lack,) = kit_trouble_of(access, job, worked)
    assert not lack.is_stop


def test_kit_follows_the_design_while_it_is_held(
    browser: Browser, access: Access, ring: KitItem
) -> None:
    from jobs.design.reading import design_from
    from jobs.design_editing import SeenDesign, save_design

    job = a_designed_job(access, stage="offered")
    press(browser, job, "hold")
    row = JobDesign.objects.get(job=job)
    two = [row.document["pieces"][0], {**row.document["pieces"][0], "at_m": 4.0, "name": "Second"}]
    save_design(
        access, job, design_from({**row.document, "pieces": two}), SeenDesign(version=row.version)
    )
    assert access.rows(KitWish).get(key="frame/ring").count == 2


@pytest.mark.parametrize(
    "stage", sorted({*Job.Stage.values} - {"offered", "accepted", "booked", "ready"})
)
def test_nothing_is_held_before_a_proposal_or_once_it_is_up(access: Access, stage: str) -> None:
    job = a_designed_job(access, stage=stage)
    with pytest.raises(CannotHold, match="held for jobs from the proposal on"):
        hold_anew(access, job, on=timezone.localdate())
    assert not Reservation.objects.exists()

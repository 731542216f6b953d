"""Today, the diary, Build and its lists."""

from __future__ import annotations

import re
import zoneinfo
from datetime import datetime, timedelta
from decimal import Decimal

import pypdfium2
import pytest
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from jobs.day.agenda import diary_by_day
from jobs.day.lists import picks
from jobs.models import Job
from pricing.book.price_book import book_for
from pricing.core.need import Need
from pricing.core.supply_keys import parse_key
from pricing.models import Price, Supply
from studio.access import Access
from tests.conftest import signed_in
from tests.factories import JobFactory, a_designed_job

LONDON = zoneinfo.ZoneInfo("Europe/London")


def test_a_job_stands_in_the_diary_on_each_of_its_days(access: Access) -> None:
    start = datetime(2026, 6, 20, 23, 30, tzinfo=LONDON)
    job = JobFactory.create(
        studio=access.studio, event_start=start, event_end=start + timedelta(hours=3),
        access_from=datetime(2026, 6, 19, 9, tzinfo=LONDON), clear_by=datetime(2026, 6, 21, 10, tzinfo=LONDON),
    )  # fmt: skip
    days = diary_by_day(
        [job], LONDON, start.date() - timedelta(days=3), start.date() + timedelta(days=3)
    )
    assert [(day.day, [e.kind for e in entries]) for day, entries in days] == [
        (19, ["set-up"]), (20, ["event"]), (21, ["take-down"]),
    ]  # fmt: skip
    assert days[2][1][0].at.hour == 2


def test_the_diary_shows_the_studios_own_times(browser: Browser, access: Access) -> None:
    # 12:00 UTC is 13:00 in London in June (IANA tz database).
    JobFactory.create(
        studio=access.studio,
        title="Noon",
        event_start=datetime(2026, 6, 20, 12, tzinfo=zoneinfo.ZoneInfo("UTC")),
    )
    page = browser.get(reverse("jobs:diary"), {"from": "2026-06-15"}).content.decode()
    assert re.search(r'>13:00</time>\s*<span class="kind">event', page)


@pytest.mark.parametrize("word", ["nonsense", "2026-02-31", ""])
def test_an_unreadable_day_is_today(browser: Browser, word: str) -> None:
    assert (
        browser.get(reverse("jobs:diary"), {"from": word}).context["start"] == timezone.localdate()
    )


def test_jobs_that_are_off_leave_the_diary(browser: Browser, access: Access) -> None:
    JobFactory.create(
        studio=access.studio,
        title="Off it is",
        stage="called_off",
        event_start=timezone.now() + timedelta(days=1),
    )
    assert b"Off it is" not in browser.get(reverse("jobs:diary")).content


def test_today_tells_what_jobs_wait_for(browser: Browser, crew: Access, access: Access) -> None:
    a_designed_job(access, title="Lantern walk", stage="priced")
    for person in (browser, signed_in(crew)):
        page = person.get(reverse("jobs:today")).content.decode()
        assert "Lantern walk" in page
        assert "somebody to ask about latex allergies" in page


def test_an_empty_studio_is_told_what_to_do_first(browser: Browser) -> None:
    assert b"Enter the first enquiry" in browser.get(reverse("jobs:today")).content


@pytest.fixture
def job(access: Access) -> Job:
    return a_designed_job(access, stage="booked", venue__access="Two steps up")


def text_of(answer: object) -> str:
    pdf = pypdfium2.PdfDocument(answer.content)  # type: ignore[attr-defined]
    return "\n".join(page.get_textpage().get_text_range() for page in pdf)


@pytest.mark.parametrize("which", ["pick", "packing"])
def test_crew_print_the_lists_and_find_no_price_on_them(crew: Access, job: Job, which: str) -> None:
    answer = signed_in(crew).get(reverse("jobs:list-pdf", args=[job.number, which]))
    assert answer.headers["Content-Type"] == "application/pdf"
    text = text_of(answer)
    assert job.title in text
    assert "Two steps up" in text
    assert "CHOKING HAZARD" in text
    assert not re.search(r"[£$€]|price(?! book)|margin", text, re.IGNORECASE)


def test_the_pick_list_has_every_colour_with_whole_packs_and_spares(
    browser: Browser, job: Job
) -> None:
    text = text_of(browser.get(reverse("jobs:list-pdf", args=[job.number, "pick"])))
    for colour in ("plum", "blush", "cream", "old gold"):
        assert f"11 in balloon, {colour}" in text
    assert re.search(r"\d+ × 100 \(\d+ left over\)", text)


def test_the_packing_list_has_frame_tools_and_safety_in_loading_order(
    browser: Browser, job: Job
) -> None:
    text = text_of(browser.get(reverse("jobs:list-pdf", args=[job.number, "packing"])))
    order = [
        text.index(word)
        for word in (
            "1. For the take-down",
            "2. Spare",
            "4. Fixings",
            "5. Tools",
            "6. Frame",
            "7. Safety",
            "8. Bags",
        )
    ]
    assert order == sorted(order)
    for thing in (
        "ring section",
        "base plate",
        "snips",
        "step ladder",
        "first-aid kit",
        "bin bags",
    ):
        assert thing in text


def test_a_supply_without_a_price_is_still_on_the_pick_list(browser: Browser, job: Job) -> None:
    Price.objects.filter(supply__key="greenery/mixed leaf").delete()
    page = browser.get(reverse("jobs:list-pdf", args=[job.number, "pick"]))
    assert "not in the price book" in text_of(page)


def test_the_stages_of_the_day_are_pressed_by_crew_and_ends_by_the_office(
    browser: Browser, crew: Access, job: Job
) -> None:
    at = reverse("jobs:stage", args=[job.number])
    for stage in ("ready", "up", "down"):
        signed_in(crew).post(at, {"to": stage, "sure": "1"})
        job.refresh_from_db()
        assert job.stage == stage
    signed_in(crew).post(at, {"to": "closed"})
    job.refresh_from_db()
    assert job.stage == "down"
    browser.post(at, {"to": "closed", "sure": "1"})
    job.refresh_from_db()
    assert job.stage == "closed"
    assert browser.post(at, {"to": "moon"}).status_code == 302
    assert browser.get(at).status_code == 302


def test_build_shows_counts_minutes_and_the_van(browser: Browser, job: Job) -> None:
    page = browser.get(reverse("jobs:build", args=[job.number]))
    assert b"To inflate" in page.content
    assert b"join an eight" in page.content
    assert b"Into the van" in page.content
    empty = JobFactory.create(studio=job.studio)
    assert (
        b"Nothing is designed yet"
        in browser.get(reverse("jobs:build", args=[empty.number])).content
    )
    assert browser.get(reverse("jobs:list-pdf", args=[empty.number, "pick"])).status_code == 404
    assert browser.get(reverse("jobs:list-pdf", args=[job.number, "other"])).status_code == 404


@pytest.mark.parametrize(("spare", "packs", "left"), [("0", 2, "8"), ("3", 2, "5"), ("9", 3, "9")])
def test_what_is_left_of_cut_rolls_is_left_beside_the_spare(
    access: Access, spare: str, packs: int, left: str
) -> None:
    # Own arithmetic: two cuts of 6 m are cut from two rolls of 10 m; 20 − 12 = 8 m less the spare.
    supply = access.add(Supply, key="ribbon/cut", name="ribbon", use="consumable", unit="m")
    today = timezone.localdate()
    access.add(
        Price, supply=supply, valid_from=today, pack_count=Decimal(10), pack_price=Decimal(3)
    )
    need = Need(
        key=parse_key("ribbon/cut"), label="ribbon", quantity=Decimal(12), unit="m", spare=Decimal(spare),
        cuts_mm=((6000, 2),),
    )  # fmt: skip
    (line,) = picks((need,), book_for(access, today))
    assert (line.packs, line.left) == (packs, Decimal(left))


def test_everything_counted_is_picked(browser: Browser, job: Job, access: Access) -> None:
    from jobs.inputs import worked_for

    worked = worked_for(access, job)
    assert worked
    lines = picks(worked.takeoff.needs, book_for(access, timezone.localdate()))
    assert {line.label for line in lines} == {
        n.label for n in worked.takeoff.needs if n.use == "consumable"
    }
    for line in lines:
        assert line.packs is not None
        assert line.pack_count is not None
        assert line.packs * line.pack_count - line.left == line.need + line.spare

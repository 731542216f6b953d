"""After: minutes as they were, beside those that were counted, and what they teach."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import DatabaseError, connection, transaction
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from jobs.after.minutes import (
    compare_minutes,
    corrected_minutes,
    ratios_shown_by,
    share_minutes,
    total_minutes_taken,
)
from jobs.after.time_taken import (
    AlreadyWithdrawn,
    counted_for,
    labour_of,
    minutes_taken_by,
    past_minutes_of,
    record_time,
    standing_time_lines,
    withdraw_time,
)
from jobs.design.practice import PRACTICE
from jobs.design.reading import design_from
from jobs.inputs import design_of, practice_of
from jobs.models import Job, LogEntry, Offer, SavedPiece, StudioPractice, TimeTaken
from jobs.money.profits import profits_of
from jobs.proposal.accepting import ClientYes, accept_offer
from jobs.proposal.offering import Words, send_offer
from pricing.core.money import Money
from pricing.core.need import Labour
from pricing.models import RateCard
from studio.access import Access
from studio.append_only import WrittenOnce
from tests.conftest import signed_in
from tests.factories import JobFactory, a_designed_job, a_document, with_a_rail


def work(operation: str, place: str, minutes: int) -> Labour:
    return Labour(
        operation=operation, place=place, times=Decimal(1), minutes=Decimal(minutes)  # type: ignore[arg-type]
    )  # fmt: skip


@pytest.fixture
def job(access: Access) -> Job:
    return a_designed_job(access)


@pytest.fixture
def sold(access: Access, job: Job) -> Job:
    """The same with a client's yes."""
    then = timezone.now() - timedelta(days=30)
    offer = send_offer(
        access, job, Words(greeting="Dear you,", note=""), at=then, link_for=lambda t: f"/o/{t}/"
    )
    accept_offer(access, offer, ClientYes(name="R", wording="yes", address=None, agent=""), at=then)
    job.refresh_from_db()
    return job


def at(job: Job, name: str = "after", *more: object) -> str:
    return reverse(f"jobs:{name}", args=[job.number, *more])


def a_line(**typed: str) -> dict[str, str]:
    return {
        "place": "workshop", "people": "2", "minutes": "95", "on": timezone.localdate().isoformat(), "words": "",
        "form_key": str(uuid.uuid4()), **typed,
    }  # fmt: skip


def timed(access: Access, job: Job, **minutes: int) -> None:
    for place, each in minutes.items():
        record_time(access, job, place=place, people=1, minutes=each, on=timezone.localdate())


# --- the arithmetic ---


@given(st.integers(0, 5000), st.lists(st.decimals(0, 900, places=3), min_size=1, max_size=8))
def test_minutes_are_shared_over_pieces_and_none_is_lost(
    taken: int, counted: list[Decimal]
) -> None:
    shares = share_minutes(taken, counted)
    assert sum(shares) == taken
    if any(counted):  # Hamilton's method stays within one of the exact quota
        for share, minutes in zip(shares, counted, strict=True):
            assert abs(share - taken * minutes / sum(counted)) < 1


def test_places_are_compared_each_by_itself() -> None:
    workshop, site = compare_minutes({"workshop": Decimal(200)}, {"site": 30})
    assert (workshop.counted, workshop.taken, workshop.more, workshop.ratio) == (
        200,
        None,
        None,
        None,
    )
    assert (site.where, site.counted, site.taken, site.more, site.ratio) == (
        "on site",
        0,
        30,
        30,
        None,
    )


@pytest.mark.parametrize(
    ("counted", "taken", "in_all"),
    [
        ({"workshop": 10, "site": 5}, {"workshop": 9, "site": 8}, 17),
        ({"workshop": 10, "site": 5}, {"workshop": 9}, None),
        ({"workshop": 10, "site": 0}, {"workshop": 9}, 9),
        ({"workshop": 10}, {"workshop": 9, "site": 4}, 13),
        ({}, {}, None),
    ],
)
def test_a_job_is_written_down_when_every_place_with_work_is(
    counted: dict[str, int], taken: dict[str, int], in_all: int | None
) -> None:
    assert total_minutes_taken({k: Decimal(v) for k, v in counted.items()}, taken) == in_all


def test_jobs_speak_only_for_the_places_that_they_were_written_down_for() -> None:
    past = [
        ([work("tie a bow", "workshop", 100), work("tape a joint", "site", 50)], {"workshop": 150}),
        ([work("tie a bow", "workshop", 100), work("set a hook", "site", 40)], {"workshop": 90, "site": 50}),
    ]  # fmt: skip
    workshop, site = ratios_shown_by(past)
    assert (workshop.jobs, workshop.counted, workshop.taken) == (2, 200, 240)
    assert (site.jobs, site.counted, site.taken) == (1, 40, 50)
    minutes = {"tie a bow": 3.0, "tape a joint": 0.8, "set a hook": 2.0, "load": 20.0}
    assert corrected_minutes(minutes, past) == {"tie a bow": 3.6, "set a hook": 2.5}
    assert corrected_minutes(minutes, []) == {}


@given(st.integers(20, 900), st.integers(20, 900))
def test_counting_anew_with_corrected_minutes_gives_what_it_took(workshop: int, site: int) -> None:
    design = design_from(a_document("lakeside"))
    past = [(labour_of(design, PRACTICE), {"workshop": workshop, "site": site})]
    mended = replace(
        PRACTICE, minutes={**PRACTICE.minutes, **corrected_minutes(PRACTICE.minutes, past)}
    )
    for shown in ratios_shown_by([(labour_of(design, mended), past[0][1])]):
        assert float(shown.counted) == pytest.approx(float(shown.taken or 0), rel=0.01)


# --- lines ---


def test_lines_add_up_and_a_mistake_is_taken_back_by_another(access: Access, job: Job) -> None:
    first = record_time(
        access, job, place="workshop", people=2, minutes=95, on=timezone.localdate()
    )
    timed(access, job, workshop=30, site=45)
    assert minutes_taken_by(access, [job]) == {job.pk: {"workshop": 220, "site": 45}}
    back = withdraw_time(access, first)
    assert minutes_taken_by(access, [job]) == {job.pk: {"workshop": 30, "site": 45}}
    assert [line.minutes for line in standing_time_lines(access, job)] == [30, 45]
    for line in (first, back):
        with pytest.raises(AlreadyWithdrawn):
            withdraw_time(access, line)
    said = list(LogEntry.objects.filter(job=job).values_list("what", flat=True))
    assert "Time written down: 2 × 95 min, workshop" in said
    assert "Time taken back: 2 × 95 min, workshop" in said


def test_a_place_that_was_taken_back_whole_is_not_written_down(access: Access, job: Job) -> None:
    line = record_time(access, job, place="site", people=1, minutes=40, on=timezone.localdate())
    withdraw_time(access, line)
    assert minutes_taken_by(access, [job]) == {}


def test_lines_are_never_changed(access: Access, job: Job) -> None:
    timed(access, job, site=45)
    line = TimeTaken.objects.get()
    line.minutes = 4
    with pytest.raises(WrittenOnce):
        line.save()
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE jobs_timetaken SET minutes = 4")


# --- the page ---


@pytest.mark.parametrize(
    ("typed", "minutes"),
    [
        ("95", 95),
        ("1:35", 95),
        ("1 h 35", 95),
        ("2h", 120),
        (" 40 min ", 40),
        ("0:05", 5),
        ("24:00", 1440),
    ],
)
def test_minutes_are_read_as_people_type_them(
    browser: Browser, job: Job, typed: str, minutes: int
) -> None:
    assert browser.post(at(job), a_line(people="1", minutes=typed)).status_code == 302
    assert TimeTaken.objects.get().minutes == minutes


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        (
            "minutes",
            "soon",
            "Minutes each: expected minutes such as 95 or 1:35, up to 1440, got “soon”.",
        ),
        ("minutes", "1:75", "got “1:75”"),
        ("minutes", "0", "got “0”"),
        ("minutes", "-5", "got “-5”"),
        ("minutes", "1441", "up to 1440"),
        ("minutes", "", "Minutes each: expected a value, got nothing."),
        ("people", "0", "People: expected a whole number from 1 to 40, got “0”."),
        ("on", "2999-01-01", "Date: expected today or earlier, got 2999-01-01."),
        ("place", "moon", "moon"),
    ],
)
def test_bad_input_gets_a_sentence_and_loses_nothing(
    browser: Browser, job: Job, field: str, value: str, says: str
) -> None:
    page = browser.post(at(job), a_line(words="clusters by the window", **{field: value}))
    assert page.status_code == 422
    text = page.content.decode()
    assert says in text
    assert "clusters by the window" in text
    assert not TimeTaken.objects.exists()


def test_pressed_twice_is_written_once(browser: Browser, job: Job) -> None:
    typed = a_line()
    for _ in range(2):
        assert browser.post(at(job), typed).status_code == 302
    assert TimeTaken.objects.get().minutes == 190


def test_crew_write_down_what_they_did_and_see_no_money(crew: Access, sold: Job) -> None:
    browser = signed_in(crew)
    assert browser.post(at(sold), a_line(place="site", minutes="1:10")).status_code == 302
    page = browser.get(at(sold))
    assert page.context["profit"] is None
    assert b"What it left" not in page.content
    assert "2 × 70 min" in LogEntry.objects.filter(job=sold).last().what  # type: ignore[union-attr]
    line = TimeTaken.objects.get()
    assert line.who == crew.person
    assert browser.post(at(sold, "time-back", line.pk)).status_code == 302
    assert minutes_taken_by(crew, [sold]) == {}


def test_another_studios_lines_are_not_there(stranger: Access, access: Access, job: Job) -> None:
    timed(access, job, site=45)
    theirs = signed_in(stranger)
    assert theirs.get(at(job)).status_code == 404
    assert theirs.post(at(job, "time-back", TimeTaken.objects.get().pk)).status_code == 404
    own = a_designed_job(stranger, number=job.number)
    assert theirs.post(at(own, "time-back", TimeTaken.objects.get().pk)).status_code == 404


def test_before_the_yes_the_design_counts_and_after_it_the_quote(access: Access, job: Job) -> None:
    counted = counted_for(access, job)
    design = design_of(access, job)
    assert design
    assert sum(counted.values()) == sum(w.minutes for w in labour_of(design, practice_of(access)))
    then = timezone.now()
    offer = send_offer(
        access, job, Words(greeting="Dear you,", note=""), at=then, link_for=lambda t: f"/o/{t}/"
    )
    accept_offer(access, offer, ClientYes(name="R", wording="yes", address=None, agent=""), at=then)
    access.add(StudioPractice, minutes={"load": 500.0})
    assert counted_for(access, job) == pytest.approx(counted)  # what was quoted stays


def test_a_job_without_a_design_can_be_written_down_too(browser: Browser, access: Access) -> None:
    bare = JobFactory.create(studio=access.studio)
    assert browser.post(at(bare), a_line()).status_code == 302
    assert b"190" in browser.get(at(bare)).content


def test_the_job_is_closed_from_here(browser: Browser, access: Access, sold: Job) -> None:
    Job.objects.filter(pk=sold.pk).update(stage="down")
    page = browser.get(at(sold)).content.decode()
    assert "Close the job" in page
    asked = browser.post(at(sold, "stage"), {"to": "closed", "back": "after"})
    assert b"The event is not over" in asked.content
    answer = browser.post(at(sold, "stage"), {"to": "closed", "back": "after", "sure": "1"})
    assert answer["Location"] == at(sold)
    sold.refresh_from_db()
    assert sold.stage == "closed"


def test_a_job_that_is_down_waits_for_its_minutes(
    browser: Browser, access: Access, sold: Job
) -> None:
    Job.objects.filter(pk=sold.pk).update(stage="down")
    today = reverse("jobs:today")
    assert b"the minutes it took" in browser.get(today).content
    timed(access, sold, workshop=60)
    assert b"the minutes it took" not in browser.get(today).content


# --- what it left ---


def test_longer_work_costs_its_hours_at_the_quoted_rate(access: Access, sold: Job) -> None:
    (before,) = profits_of(access, [sold])
    assert (before.minutes_taken, before.labour_more, before.put_right) == (None, None, before.kept)
    counted, rates = counted_for(access, sold), RateCard.objects.get()
    took = {place: round(minutes) + 60 for place, minutes in counted.items()}
    timed(access, sold, **took)
    (profit,) = profits_of(access, [sold])
    by_hand = sum(
        ((took[place] - counted[place]) * hour / 60 for place, hour in
         (("workshop", rates.workshop_hour), ("site", rates.site_hour))), Decimal(0),
    )  # fmt: skip
    assert profit.minutes_taken == sum(took.values())
    assert profit.labour_more
    assert abs(profit.labour_more.amount - by_hand) <= Decimal("0.01")
    assert profit.put_right == profit.kept - profit.labour_more
    (share,) = profit.shares
    assert (share.minutes_taken, share.put_right) == (profit.minutes_taken, profit.put_right)


def test_by_night_the_dearer_minutes_are_dearer_too(access: Access, job: Job) -> None:
    RateCard.objects.update(odd_hours_percent=50)
    Job.objects.filter(pk=job.pk).update(odd_hours=True)
    job.refresh_from_db()
    then = timezone.now()
    offer = send_offer(
        access, job, Words(greeting="Dear you,", note=""), at=then, link_for=lambda t: f"/o/{t}/"
    )
    accept_offer(access, offer, ClientYes(name="R", wording="yes", address=None, agent=""), at=then)
    lines = {line["label"]: line for line in Offer.objects.get().owner_figures["lines"]}
    site, night = lines["labour, site"], lines["by night or at the weekend"]
    workshop = lines["labour, workshop"]
    timed(access, job, site=200, workshop=100)
    (profit,) = profits_of(access, [job])
    a_minute = (Decimal(site["cost"]) + Decimal(night["cost"])) / Decimal(site["quantity"])
    expected = (
        a_minute * 200 - Decimal(site["cost"]) - Decimal(night["cost"])
        + Decimal(workshop["cost"]) * (100 / Decimal(workshop["quantity"]) - 1)
    )  # fmt: skip
    assert profit.labour_more
    assert abs(profit.labour_more.amount - expected) <= Decimal("0.01")


def test_the_reports_hold_what_was_quoted_against_what_it_took(
    browser: Browser, access: Access, sold: Job
) -> None:
    now = timezone.now()
    Job.objects.filter(pk=sold.pk).update(event_start=now, event_end=now)
    timed(access, sold, workshop=400, site=300)
    tables = browser.get(reverse("jobs:reports")).context["tables"]
    (row,), (kind,) = tables["profit"].rows, tables["kinds"].rows
    named = dict(zip((c.label for c in tables["profit"].columns), row, strict=True))
    assert named["Minutes, taken"] == 700
    assert named["Kept, put right"] == named["Kept, quoted"] - named["Labour beyond it"]
    kinds = dict(zip((c.label for c in tables["kinds"].columns), kind, strict=True))
    for label in ("Minutes, quoted", "Minutes, taken", "Kept, put right"):
        assert kinds[label] == named[label]
    assert isinstance(named["Labour beyond it"], Money)


# --- what it teaches ---


def test_finished_jobs_correct_the_minutes_once_the_owner_saves_them(
    browser: Browser, access: Access, sold: Job
) -> None:
    page = reverse("jobs:practice")
    empty = browser.post(page, {"do": "correct"}).content.decode()
    assert "No finished job has its minutes written down yet." in empty
    Job.objects.filter(pk=sold.pk).update(stage="closed")
    timed(access, sold, workshop=400, site=300)
    laid = browser.post(page, {"do": "correct"})
    assert "as your last jobs show them" in laid.content.decode()
    assert not StudioPractice.objects.exists()
    form = laid.context["form"]
    typed = {b.html_name: str(b.value()) for b in form if b.value() is not None}
    assert browser.post(page, typed).status_code == 302
    for shown in ratios_shown_by(past_minutes_of(access, practice_of(access))):
        assert float(shown.ratio or 0) == pytest.approx(1, rel=0.01)


def test_only_what_is_down_again_speaks(access: Access, sold: Job) -> None:
    timed(access, sold, workshop=400)
    assert past_minutes_of(access, PRACTICE) == []
    Job.objects.filter(pk=sold.pk).update(stage="down")
    ((labour, taken),) = past_minutes_of(access, PRACTICE)
    assert taken == {"workshop": 400}
    assert labour


def test_a_kept_piece_takes_the_minutes_of_its_job(
    browser: Browser, access: Access, job: Job
) -> None:
    with_a_rail(job)
    keep = at(job, "change-alternative", "A")
    browser.post(keep, {"do": "keep", "true_minutes": ""})
    assert set(SavedPiece.objects.values_list("true_minutes", flat=True)) == {None}
    timed(access, job, workshop=300, site=200)
    browser.post(keep, {"do": "keep", "true_minutes": ""})
    took = list(SavedPiece.objects.order_by("pk").values_list("true_minutes", flat=True))
    assert sum(took) == 500
    assert all(took)
    browser.post(keep, {"do": "keep", "true_minutes": "90"})
    assert sum(SavedPiece.objects.values_list("true_minutes", flat=True)) == 90

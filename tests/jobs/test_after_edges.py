"""Minutes as they were, at the edges: nothing written down, nothing counted, more jobs than are listened to."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from jobs.after.minutes import (
    Compared,
    compare_minutes,
    corrected_minutes,
    minutes_at,
    ratios_shown_by,
    share_minutes,
    total_minutes_taken,
)
from jobs.after.time_taken import (
    LAST,
    AlreadyWithdrawn,
    counted_for,
    minutes_taken_by,
    past_minutes_of,
    record_time,
    standing_time_lines,
    time_line_text,
    withdraw_time,
)
from jobs.design.practice import PRACTICE
from jobs.models import Job, LogEntry, TimeTaken
from pricing.core.need import Labour
from studio.access import Access
from tests.factories import JobFactory, a_designed_job

ON = date(2026, 6, 1)


def work(operation: str, place: str, minutes: int) -> Labour:
    return Labour(operation=operation, place=place, times=Decimal(1), minutes=Decimal(minutes))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("counted", "taken", "more", "ratio"),
    [(60, 90, 30, Decimal("1.5")), (60, 60, 0, 1), (60, 0, -60, None), (0, 90, 90, None), (60, None, None, None), (90, 60, -30, Decimal(60) / 90)],
)  # fmt: skip
def test_what_it_took_beside_what_was_counted(
    counted: int, taken: int | None, more: int | None, ratio: Decimal | None
) -> None:
    found = Compared(place="site", counted=Decimal(counted), taken=taken)
    assert (found.more, found.ratio, found.where, found.jobs) == (more, ratio, "on site", 1)
    assert Compared(place="workshop", counted=Decimal(1), taken=1).where == "workshop"


def test_every_place_is_there_with_or_without_work() -> None:
    assert minutes_at([work("a", "site", 5), work("b", "site", 6)]) == {"workshop": 0, "site": 11}
    lines = compare_minutes({"site": Decimal(11)}, {"workshop": 7})
    assert [(c.place, c.counted, c.taken) for c in lines] == [
        ("workshop", 0, 7),
        ("site", 11, None),
    ]


@pytest.mark.parametrize(
    ("counted", "taken", "whole"),
    [
        ({"workshop": 10, "site": 5}, {"workshop": 12, "site": 7}, 19), ({"workshop": 10, "site": 5}, {"workshop": 12}, None),
        ({"workshop": 10, "site": 0}, {"workshop": 12}, 12), ({}, {"site": 4}, 4), ({}, {}, None), ({"workshop": 0}, {}, None),
    ],
)  # fmt: skip
def test_a_job_is_whole_once_each_place_with_work_is_written_down(
    counted: dict[str, int], taken: dict[str, int], whole: int | None
) -> None:
    assert total_minutes_taken({k: Decimal(v) for k, v in counted.items()}, taken) == whole


def test_pieces_that_count_nothing_share_alike() -> None:
    assert share_minutes(10, [Decimal(0), Decimal(0), Decimal(0)]) == [4, 3, 3]
    assert share_minutes(10, [Decimal(0), Decimal(5)]) == [0, 10]


def test_a_job_speaks_for_the_places_that_it_was_written_down_for() -> None:
    past = [
        ([work("tie", "workshop", 100), work("hang", "site", 50)], {"workshop": 120}),
        ([work("tie", "workshop", 100), work("hang", "site", 50)], {"workshop": 100, "site": 25}),
        ([work("hang", "site", 50)], {"workshop": 999}),  # counted nothing there: says nothing
    ]
    assert [(c.place, c.counted, c.taken, c.jobs) for c in ratios_shown_by(past)] == [
        ("workshop", 200, 220, 2), ("site", 50, 25, 1),
    ]  # fmt: skip
    assert corrected_minutes({"tie": 2.0, "hang": 4.0, "load": 9.0}, past) == {
        "tie": 2.2,
        "hang": 2.0,
    }
    assert corrected_minutes({"hang": 4.0}, past) == {"hang": 2.0}
    assert corrected_minutes({"tie": 1.0}, [([work("tie", "workshop", 3)], {"workshop": 1})]) == {
        "tie": 0.3333
    }
    assert ratios_shown_by([]) == ()


def test_minutes_of_everybody_together(access: Access) -> None:
    job = a_designed_job(access)
    row = record_time(access, job, place="site", people=2, minutes=95, on=ON, words="set-up")
    assert (row.minutes, row.each, time_line_text(row), row.who) == (
        190,
        95,
        "2 × 95 min, on site",
        access.person,
    )
    assert minutes_taken_by(access, [job]) == {job.pk: {"site": 190}}
    more = record_time(access, job, place="site", people=1, minutes=10, on=ON - timedelta(days=1))
    assert minutes_taken_by(access, [job]) == {job.pk: {"site": 200}}
    assert standing_time_lines(access, job) == [more, row]  # the oldest first
    back = withdraw_time(access, row)
    assert (back.minutes, back.each, back.of, back.on) == (-190, 95, row, ON)
    assert standing_time_lines(access, job) == [more]
    assert minutes_taken_by(access, [job]) == {job.pk: {"site": 10}}
    said = list(LogEntry.objects.filter(job=job).order_by("pk").values_list("what", flat=True))
    assert said[-3:] == [
        "Time written down: 2 × 95 min, on site", "Time written down: 1 × 10 min, on site", "Time taken back: 2 × 95 min, on site",
    ]  # fmt: skip
    for line in (row, back):
        with pytest.raises(AlreadyWithdrawn):
            withdraw_time(access, line)
    withdraw_time(access, more)
    assert minutes_taken_by(access, [job]) == {}  # all taken back is nothing written down
    assert TimeTaken.objects.count() == 4


def test_the_last_ten_finished_jobs_are_listened_to(access: Access) -> None:
    now = timezone.now()
    for i in range(LAST + 2):
        start = now - timedelta(days=100 - i)
        job = a_designed_job(access, stage="closed", event_start=start, event_end=start)
        record_time(access, job, place="site", people=1, minutes=100 + i, on=ON)
    other = a_designed_job(access, stage="up")  # not finished yet
    record_time(access, other, place="site", people=1, minutes=999, on=ON)
    bare = JobFactory.create(
        studio=access.studio, stage="down", event_start=now, event_end=now
    )  # nothing drawn
    record_time(access, bare, place="site", people=1, minutes=888, on=ON)
    a_designed_job(access, stage="closed", event_start=now, event_end=now)  # nothing written down
    taken = [minutes["site"] for _, minutes in past_minutes_of(access, PRACTICE)]
    # Ten jobs, the last first; of them the one without a design says nothing.
    assert taken == [111, 110, 109, 108, 107, 106, 105, 104, 103]
    Job.objects.filter(pk=other.pk).update(
        stage="down", event_start=now + timedelta(days=1), event_end=now + timedelta(days=1)
    )
    assert [m["site"] for _, m in past_minutes_of(access, PRACTICE)][:2] == [999, 111]


def test_before_a_yes_a_job_is_counted_as_it_is_drawn(access: Access, crew: Access) -> None:
    job = a_designed_job(access)
    counted = counted_for(access, job)
    assert set(counted) == {"workshop", "site"}
    assert min(counted.values()) > 0
    assert counted_for(crew, job) == counted  # minutes are no prices
    assert counted_for(access, JobFactory.create(studio=access.studio)) == {}

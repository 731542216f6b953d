"""The diary by day: access, events, take-downs. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from itertools import groupby
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jobs.models import Job


@dataclass(frozen=True, slots=True, kw_only=True)
class DiaryEntry:
    at: datetime  # in the studio's zone
    kind: str  # "set-up", "event", "take-down", "clear by" (at the latest)
    until: datetime | None
    job: Job


def diary_entries(jobs: Iterable[Job], zone: tzinfo) -> Iterator[DiaryEntry]:
    """What each job puts into the diary. Without a time of its own the take-down follows the event."""
    for job in jobs:
        if job.access_from:
            yield DiaryEntry(
                at=job.access_from.astimezone(zone), kind="set-up", until=None, job=job
            )
        end = job.event_end.astimezone(zone)
        yield DiaryEntry(at=job.event_start.astimezone(zone), kind="event", until=end, job=job)
        clear = job.clear_by.astimezone(zone) if job.clear_by else None
        yield DiaryEntry(at=end, kind="take-down", until=clear, job=job)
        if clear and clear.date() > end.date():
            # Whoever looks on the last day must find it there, though the event ended the night before.
            yield DiaryEntry(at=clear, kind="clear by", until=None, job=job)


def diary_by_day(
    jobs: Iterable[Job], zone: tzinfo, start: date, end: date
) -> list[tuple[date, list[DiaryEntry]]]:
    """Days from start to before end that hold something, each in order of time."""
    found = [e for e in diary_entries(jobs, zone) if start <= e.at.date() < end]
    found.sort(key=lambda e: (e.at, e.job.number))
    return [(day, list(some)) for day, some in groupby(found, key=lambda e: e.at.date())]

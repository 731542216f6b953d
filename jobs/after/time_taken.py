"""Time as it was taken, in rows: written down, taken back, held against what was counted."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import transaction
from django.db.models import Sum

from jobs.after.minutes import Past, minutes_at
from jobs.design.compose import compose
from jobs.design.document import Design
from jobs.design.labour import tally_labour
from jobs.design.practice import Practice
from jobs.inputs import design_of, practice_of
from jobs.log import write_log
from jobs.models import Job, Offer, TimeTaken
from pricing.core.need import Labour

if TYPE_CHECKING:
    from studio.access import Access

LAST = 10  # finished jobs that speak for the next ones


class AlreadyWithdrawn(ValueError):
    """A line that was taken back before, or takes one back itself."""


@transaction.atomic
def record_time(
    access: Access, job: Job, *, place: str, people: int, minutes: int, on: date, words: str = ""
) -> TimeTaken:
    """So many people worked so many minutes each."""
    row = access.add(
        TimeTaken, job=job, place=place, people=people, minutes=people * minutes, on=on, words=words,
        who=access.person,
    )  # fmt: skip
    write_log(access, job, f"Time written down: {time_line_text(row)}")
    return row


@transaction.atomic
def withdraw_time(access: Access, line: TimeTaken) -> TimeTaken:
    """Put a line right by its opposite. Raises AlreadyWithdrawn."""
    access.as_system().rows(Job).select_for_update().get(pk=line.job_id)
    if line.of_id or access.rows(TimeTaken).filter(of=line).exists():
        raise AlreadyWithdrawn("Time: expected a line that stands, got one that was taken back.")
    row = access.add(
        TimeTaken, job=line.job, place=line.place, people=line.people, minutes=-line.minutes, on=line.on,
        of=line, who=access.person,
    )  # fmt: skip
    write_log(access, line.job, f"Time taken back: {time_line_text(line)}")
    return row


def time_line_text(line: TimeTaken) -> str:
    """As the log has it: "2 × 95 min, on site"."""
    return f"{line.people} × {line.each} min, {line.get_place_display()}"


def standing_time_lines(access: Access, job: Job) -> list[TimeTaken]:
    """Lines that were not taken back, the oldest first."""
    rows = access.rows(TimeTaken).filter(job=job, of__isnull=True, taken_back__isnull=True)
    return list(rows.select_related("who").order_by("on", "pk"))


def minutes_taken_by(access: Access, jobs: Sequence[Job]) -> dict[int, dict[str, int]]:
    """Minutes by job and place, where any were written down."""
    sums = (
        access.rows(TimeTaken)
        .filter(job__in=jobs)
        .values("job", "place")
        .annotate(sum=Sum("minutes"))
    )
    found: defaultdict[int, dict[str, int]] = defaultdict(dict)
    for row in sums.filter(sum__gt=0):
        found[row["job"]][row["place"]] = row["sum"]
    return dict(found)


def counted_for(access: Access, job: Job) -> dict[str, Decimal]:
    """Minutes by place as the client's yes was quoted; before one, as the design counts today."""
    office = access.as_system()  # minutes are no prices: crew see them on Build
    said_yes = office.rows(Offer).filter(job=job, acceptance__isnull=False)
    offer = (
        said_yes.select_related("acceptance")
        .defer("article", "pdf", "acceptance__certificate")
        .first()
    )
    if offer:
        return {place: quoted.minutes for place, quoted in offer.acceptance.costing.work.items()}
    design = design_of(access, job)
    return minutes_at(labour_of(design, practice_of(access))) if design else {}


def labour_of(design: Design, practice: Practice) -> tuple[Labour, ...]:
    """A design's work, without laying its balls at rest."""
    return tally_labour(design, compose(design, practice), practice)


def past_minutes_of(access: Access, practice: Practice) -> Past:
    """The last finished jobs that somebody wrote down: counted as today, and as they were."""
    done = access.rows(Job).filter(
        stage__in=(Job.Stage.DOWN, Job.Stage.CLOSED), times_taken__isnull=False
    )
    jobs = list(done.distinct().select_related("venue").order_by("-event_start", "-pk")[:LAST])
    taken = minutes_taken_by(access, jobs)
    designs = ((job, design_of(access, job)) for job in jobs if job.pk in taken)
    return [(labour_of(design, practice), taken[job.pk]) for job, design in designs if design]

"""Opening an enquiry and keeping its brief."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from jobs.models import Happening, Job
from jobs.rows import AGREED
from jobs.seals import seal
from studio.editing import save_if_fresh

if TYPE_CHECKING:
    from jobs.forms.brief import Brief
    from studio.door import SeatAt


def note(seat: SeatAt, job: Job, what: str, data: dict[str, Any] | None = None) -> None:
    """One line in the job's log, sealed to the one before; `data` is what the line vouches for.

    Call inside a transaction: lines of one job wait for one another.
    """
    seat.for_errand().rows(Job).select_for_update().get(pk=job.pk)
    last = seat.rows(Happening).filter(job=job).order_by("-pk").first()
    facts: dict[str, Any] = {
        "job": job, "who": seat.person, "what": what[:300], "data": data or {}, "at": timezone.now(),
        "before": last.sha256 if last else "",
    }  # fmt: skip
    seat.add(Happening, **facts, sha256=seal(**facts))


def next_number(seat: SeatAt) -> int:
    """The studio's next job number. Call inside a transaction: it locks the studio's row."""
    seat.lock_studio()
    highest = seat.rows(Job).aggregate(highest=Max("number"))["highest"]
    return int(highest or 0) + 1


@transaction.atomic
def open_enquiry(seat: SeatAt, brief: Brief) -> Job:
    """Make client, venue and job from a valid brief."""
    job = brief.job.save(commit=False)
    for part in (brief.client, brief.venue, brief.job):
        part.instance.studio = seat.studio
    job.client = brief.known_client or brief.client.save()
    job.venue = brief.known_venue or brief.venue.save()
    job.number = next_number(seat)
    job.save()
    note(seat, job, "Enquiry opened")
    return job


@transaction.atomic
def keep_brief(seat: SeatAt, job: Job, brief: Brief) -> list[Job]:
    """Save what changed. Raises Stale when somebody saved in between; then nothing is saved.

    Answers accepted jobs at the same venue whose place is called or found otherwise by that: their logs say so.
    """
    for part in (brief.client, brief.venue, brief.job):
        if part.is_changed:
            save_if_fresh(part)
    if any(part.is_changed for part in (brief.client, brief.venue, brief.job)):
        note(seat, job, "Brief changed")
    if not {"name", "address"} & set(brief.venue.changed_data):
        return []
    others = seat.rows(Job).filter(venue=job.venue_id, stage__in=AGREED).exclude(pk=job.pk)
    found = list(others.order_by("event_start", "pk"))
    for other in found:
        note(seat, other, f"Name or address of the venue changed in the brief of {job}")
    return found

"""Opening an enquiry and saving its brief."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db import transaction

from jobs.job_stage import AGREED
from jobs.log import write_log
from jobs.models import Job
from jobs.rows import next_number
from studio.editing import save_if_fresh

if TYPE_CHECKING:
    from jobs.pages.brief.brief_form import Brief
    from studio.access import Access


@transaction.atomic
def open_enquiry(access: Access, brief: Brief) -> Job:
    """Make client, venue and job from a valid brief."""
    job: Job = brief.job.save(commit=False)
    for part in (brief.client, brief.venue, brief.job):
        part.instance.studio = access.studio
    job.client = brief.known_client or brief.client.save()
    job.venue = brief.known_venue or brief.venue.save()
    job.number = next_number(access)
    job.save()
    write_log(access, job, "Enquiry opened")
    return job


@transaction.atomic
def save_brief(access: Access, job: Job, brief: Brief) -> list[Job]:
    """Save what changed. Raises Stale when somebody saved in between; then nothing is saved.

    Answers accepted jobs at the same venue whose place is called or found otherwise by that: their logs say so.
    """
    for part in (brief.client, brief.venue, brief.job):
        if part.is_changed:
            save_if_fresh(part)
    if any(part.is_changed for part in (brief.client, brief.venue, brief.job)):
        write_log(access, job, "Brief changed")
    if not {"name", "address"} & set(brief.venue.changed_data):
        return []
    others = access.rows(Job).filter(venue=job.venue_id, stage__in=AGREED).exclude(pk=job.pk)
    found = list(others.order_by("event_start", "pk"))
    for other in found:
        write_log(access, other, f"Name or address of the venue changed in the brief of {job}")
    return found

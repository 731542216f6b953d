"""What pages of every feature share."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jobs.models import Job
from jobs.rows import jobs_of

if TYPE_CHECKING:
    from studio.access import AccessRequest


def job_of(request: AccessRequest, number: int) -> Job:
    """The job that an address names, with its client and venue."""
    found = jobs_of(request.access).with_people()
    job: Job = request.access.row(Job, among=found, number=number)
    return job

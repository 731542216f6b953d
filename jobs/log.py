"""A job's log: every line is sealed to the one before."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.utils import timezone

from jobs.models import Job, LogEntry
from jobs.seals import seal_line

if TYPE_CHECKING:
    from studio.access import Access


def write_log(access: Access, job: Job, what: str, data: dict[str, Any] | None = None) -> None:
    """One line in the job's log, sealed to the one before; `data` is what the line vouches for.

    Call inside a transaction: lines of one job wait for one another.
    """
    access.as_system().rows(Job).select_for_update().get(pk=job.pk)
    last = access.rows(LogEntry).filter(job=job).order_by("-pk").first()
    facts: dict[str, Any] = {
        "job": job, "who": access.person, "what": what[:300], "data": data or {}, "at": timezone.now(),
        "before": last.sha256 if last else "",
    }  # fmt: skip
    access.add(LogEntry, **facts, sha256=seal_line(**facts))

"""Before a job is said to be packed, or closed: what speaks against it. A person decides."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from django.db import transaction
from django.utils.timezone import localtime

from jobs.day.travelling import packing_for
from jobs.inputs import worked_for
from jobs.models import Job, PackTick
from jobs.money.ledger import standing_of
from jobs.rows import jobs_of
from jobs.stages import S, move_to_stage
from pricing.core.money import write_money

if TYPE_CHECKING:
    from jobs.day.boxes import Packed
    from studio.access import Access


def doubts_about_stage(access: Access, job: Job, to: str, *, at: datetime) -> list[str]:
    """What speaks against a move, each as a line; none for most moves."""
    if to == S.READY:
        return [f"{thing.count} {thing.what}" for thing in lines_not_packed(access, job)]
    if to != S.CLOSED:
        return []
    found = []
    if job.event_end > at:
        found.append(
            f"The event is not over: it ends on {localtime(job.event_end):%d %B %Y, %H:%M}."
        )
    if owed := money_owing(access, job):
        found.append(f"{owed} is still to be paid.")
    return found


def lines_not_packed(access: Access, job: Job) -> list[Packed]:
    """What is not ticked on the packing page, as it travels."""
    worked = worked_for(access, job)
    things = packing_for(access, job, worked).things if worked else ()
    ticked = set(access.rows(PackTick).filter(job=job).values_list("key", flat=True))
    return [thing for thing in things if thing.key not in ticked]


def money_owing(access: Access, job: Job) -> str:
    """What is still to be paid, as the studio writes it, or "" for nothing."""
    system = access.as_system()
    rich = system.row(Job, among=jobs_of(system).with_money(), pk=job.pk)
    now = standing_of(rich, on=access.studio.today(), currency=access.studio.currency)
    return write_money(now.left, access.studio.language) if now and now.left else ""


@transaction.atomic
def close_job(access: Access, job: Job) -> None:
    """Close a job; one with money owing stays on Today until it is paid. Raises NoSuchMove."""
    move_to_stage(access, job, S.CLOSED)
    access.rows(Job).filter(pk=job.pk).update(closed_owing=bool(money_owing(access, job)))

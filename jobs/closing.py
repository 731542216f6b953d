"""Before a job is said to be packed, or closed: what speaks against it. A person decides."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from django.db import transaction
from django.utils.timezone import localtime

from jobs.day.travelling import packing_for
from jobs.gather import worked_for
from jobs.models import Job, PackTick
from jobs.money.ledger import standing_of
from jobs.stages import S, move
from pricing.core.money import write_money

if TYPE_CHECKING:
    from jobs.day.boxes import Packed
    from studio.door import SeatAt


def doubts(seat: SeatAt, job: Job, to: str, *, at: datetime) -> list[str]:
    """What speaks against a move, each as a line; none for most moves."""
    if to == S.READY:
        return [f"{thing.count} {thing.what}" for thing in not_packed(seat, job)]
    if to != S.CLOSED:
        return []
    found = []
    if job.event_end > at:
        found.append(
            f"The event is not over: it ends on {localtime(job.event_end):%d %B %Y, %H:%M}."
        )
    if owed := owing(seat, job):
        found.append(f"{owed} is still to be paid.")
    return found


def not_packed(seat: SeatAt, job: Job) -> list[Packed]:
    """What is not ticked on the packing page, as it travels."""
    worked = worked_for(seat, job)
    things = packing_for(seat, job, worked).things if worked else ()
    ticked = set(seat.rows(PackTick).filter(job=job).values_list("key", flat=True))
    return [thing for thing in things if thing.key not in ticked]


def owing(seat: SeatAt, job: Job) -> str:
    """What is still to be paid, as the studio writes it, or "" for nothing."""
    errand = seat.for_errand()
    rich = errand.row(Job, among=errand.rows(Job).with_money(), pk=job.pk)
    now = standing_of(rich, on=seat.studio.today(), currency=seat.studio.currency)
    return write_money(now.left, seat.studio.language) if now and now.left else ""


@transaction.atomic
def close(seat: SeatAt, job: Job) -> None:
    """Close a job; one with money owing stays on Today until it is paid. Raises NoSuchMove."""
    move(seat, job, S.CLOSED)
    seat.rows(Job).filter(pk=job.pk).update(closed_owing=bool(owing(seat, job)))

"""What was promised to a job follows its design: supplies, kit, and the ticks of what lies packed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db import transaction

from jobs.day.reserving import book_kit, reserve_supplies
from jobs.day.travelling import packing_for
from jobs.inputs import worked_for
from jobs.models import Job, PackTick
from pricing.models import KitBooking, Reservation
from pricing.stores.kit import KitClash

if TYPE_CHECKING:
    from jobs.design.working import Worked
    from studio.access import Access

OUT = (Job.Stage.UP, Job.Stage.DOWN, Job.Stage.CLOSED)  # what the job has is with it already


@transaction.atomic
def follow_design(access: Access, job: Job, before: Worked | None) -> str:
    """Promise anew what was promised to the design `before`; answers what followed as sentences, or "".

    Where kit for it is not free the job keeps what it had, and the sentence says so.
    """
    stores, after = access.as_system(), worked_for(access, job)
    told = []
    if stores.rows(Reservation).filter(holder__job=job).exists():
        told.append(f"{reserve_supplies(stores, job, after)} supplies are reserved anew.")
    has_kit = stores.rows(KitBooking).filter(holder__job=job, returned_at=None).exists()
    if has_kit and job.stage not in OUT:
        try:
            told.append(f"{book_kit(stores, job, after)} of the kit are booked anew.")
        except KitClash as clash:
            told.append(f"Kit is not free, the job keeps what it had: {clash}")
    if many := _untick(stores, job, before, after):
        told.append(f"{many} packed thing{'s' if many > 1 else ''} to look at again.")
    return " ".join(told)


def _untick(access: Access, job: Job, before: Worked | None, after: Worked | None) -> int:
    """Take the ticks off what is wanted in another number now, or holds something else; answers how many."""
    was, now = (
        {t.key: t for t in packing_for(access, job, w).things} if w else {} for w in (before, after)
    )
    other = [key for key, thing in was.items() if now.get(key) != thing]
    return int(access.rows(PackTick).filter(job=job, key__in=other).delete()[0])

"""Jobs and offers that somebody may see, with the queries that the business names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db.models import Max

from jobs.models import Job, Offer
from jobs.models.querysets import DueJobs, LightOffers

if TYPE_CHECKING:
    from studio.access import Access


def jobs_of(access: Access) -> DueJobs:
    """The jobs that somebody may see."""
    rows = access.rows(Job)
    assert isinstance(rows, DueJobs)
    return rows


def offers_of(access: Access) -> LightOffers:
    """The offers that somebody may see."""
    rows = access.rows(Offer)
    assert isinstance(rows, LightOffers)
    return rows


def next_number(access: Access) -> int:
    """The studio's next job number. Call inside a transaction: it locks the studio's row."""
    access.lock_studio()
    highest = jobs_of(access).aggregate(highest=Max("number"))["highest"]
    return int(highest or 0) + 1

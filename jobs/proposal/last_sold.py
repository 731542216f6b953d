"""What the last accepted jobs were sold for, to hold the next one against."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from django.utils.timezone import localtime

from jobs.design.working import Worked
from jobs.models import Job, Offer
from jobs.proposal.frozen import Contents, OfferedEvent
from pricing.core import crosscheck

if TYPE_CHECKING:
    from studio.access import Access

LAST = 12  # jobs looked back


def contents_in(worked: Worked) -> Contents:
    metres = sum(s.length_m for some in worked.composition.stretches for s in some)
    return Contents(
        balls=worked.takeoff.ball_count,
        metres=round(Decimal(metres), 3),
        minutes=worked.takeoff.minutes,
        colours=Counter(b.colour.name for c in worked.composition.clusters for b in c.balls),
    )


def sold_for(net: Decimal, contents: Contents) -> crosscheck.JobFigures:
    """A net price beside what it was asked for."""
    return crosscheck.JobFigures(
        net=net, balls=contents.balls, metres=contents.metres, minutes=contents.minutes
    )


def event_of(job: Job) -> OfferedEvent:
    """When and where, as a proposal says it in the studio's zone."""
    zone = ZoneInfo(job.studio.timezone)
    starts, ends = (localtime(at, zone) for at in (job.event_start, job.event_end))
    return OfferedEvent(starts=starts, ends=ends, venue=job.venue.name)


def is_moved(offer: Offer) -> bool:
    """Whether day, hours or place are others now than this proposal says; older ones do not know what they said."""
    told, job = offer.event, offer.job
    if told is None:
        return False
    now = (job.event_start, job.event_end, job.venue.name)
    return (told.starts, told.ends, told.venue) != now


def last_jobs(access: Access, but: Job) -> list[crosscheck.JobFigures]:
    """The last accepted offers of other jobs that say what they held."""
    rows = (
        access.rows(Offer).filter(acceptance__isnull=False).exclude(job=but)
        .select_related("acceptance").defer("article", "pdf", "design", "acceptance__certificate")
        .order_by("-sent_at")[:LAST]
    )  # fmt: skip
    held = ((offer.acceptance.agreed, offer.contents_of(offer.acceptance.choice)) for offer in rows)
    return [sold_for(agreed.figures.net.amount, contents) for agreed, contents in held if contents]

"""What the last accepted jobs were sold for, to hold the next one against."""

from __future__ import annotations

from collections import Counter
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from django.utils.timezone import localtime

from jobs.design.working import Worked
from jobs.models import Job, Offer
from pricing.core import crosscheck

if TYPE_CHECKING:
    from studio.access import Access

LAST = 12  # jobs looked back


def sold_figures(worked: Worked, net: Decimal) -> crosscheck.JobFigures:
    """A job's net price beside what it holds."""
    metres = sum(s.length_m for some in worked.composition.stretches for s in some)
    return crosscheck.JobFigures(
        net=net,
        balls=worked.takeoff.ball_count,
        metres=round(Decimal(metres), 3),
        minutes=worked.takeoff.minutes,
    )


def sold_data(worked: Worked) -> dict[str, Any]:
    """What is kept beside an offer's figures, so that nothing is counted again years later."""
    held = sold_figures(worked, Decimal(0))
    colours = Counter(b.colour.name for c in worked.composition.clusters for b in c.balls)
    return {
        "balls": str(held.balls), "metres": str(held.metres), "minutes": str(held.minutes),
        "colours": dict(colours),
    }  # fmt: skip


def event_data(job: Job) -> dict[str, str]:
    """When and where, as the proposal says it in the studio's zone."""
    zone = ZoneInfo(job.studio.timezone)
    starts, ends = (localtime(at, zone).isoformat() for at in (job.event_start, job.event_end))
    return {"starts": starts, "ends": ends, "venue": job.venue.name}


def is_moved(offer: Offer) -> bool:
    """Whether day, hours or place are others now than this proposal says; older ones do not know what they said."""
    told, job = offer.owner_figures.get("event", {}), offer.job
    now = {"starts": job.event_start, "ends": job.event_end}
    times = any(datetime.fromisoformat(told[key]) != at for key, at in now.items() if key in told)
    return times or told.get("venue", job.venue.name) != job.venue.name


def last_jobs(access: Access, but: Job) -> list[crosscheck.JobFigures]:
    """The last accepted offers of other jobs that say what they held."""
    rows = (
        access.rows(Offer).filter(acceptance__isnull=False).exclude(job=but)
        .order_by("-sent_at").values_list("figures", "owner_figures", "choices", "acceptance__choice")[:LAST]
    )  # fmt: skip
    return [job for row in rows if (job := _job(*row)) is not None]


def _job(
    figures: dict[str, Any], owner: dict[str, Any], choices: list[dict[str, Any]], letter: str
) -> crosscheck.JobFigures | None:
    for choice in choices:
        if choice["letter"] == letter:
            figures, owner = choice["figures"], choice["owner_figures"]
    if "balls" not in owner:
        return None
    return crosscheck.JobFigures(
        net=Decimal(figures["net"]), balls=int(owner["balls"]), metres=Decimal(owner["metres"]),
        minutes=Decimal(owner["minutes"]),
    )  # fmt: skip

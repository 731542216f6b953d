"""A paper that says how a yes was given: what was accepted, by whom, when and from where."""

from __future__ import annotations

import zoneinfo
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from django.template.loader import render_to_string

from jobs.models import LogEntry, Offer
from studio.paper import render_paper

if TYPE_CHECKING:
    from studio.access import Access


@dataclass(frozen=True, slots=True, kw_only=True)
class ClientYes:
    """What came with the client's yes."""

    name: str
    wording: str  # what stood beside the tick
    address: str | None
    agent: str
    choice: str = ""  # the letter, where there was a choice


def certify(access: Access, offer: Offer, yes: ClientYes, *, at: datetime) -> bytes:
    """The certificate as a PDF. Made before the yes is written down: the yes vouches for it."""
    studio = access.studio
    last = access.rows(LogEntry).filter(job=offer.job).order_by("-pk").first()
    context = {
        "studio": studio, "offer": offer, "job": offer.job, "yes": yes, "choice": offer.choice(yes.choice),
        "number": offer.number,
        "local": moment_in_utc(at.astimezone(zoneinfo.ZoneInfo(studio.timezone))), "zone": studio.timezone,
        "utc": at.astimezone(UTC).isoformat(timespec="seconds"),
        "seal": last.sha256 if last else "",
    }  # fmt: skip
    html = render_to_string("papers/certificate.html", context)
    return render_paper(html, paper=studio.paper_size)


def moment_in_utc(at: datetime) -> str:
    """A moment with its zone, so that nobody has to guess summer time.

    >>> moment(datetime(2026, 7, 1, 14, 2, 11, tzinfo=zoneinfo.ZoneInfo("Europe/London")))
    '2026-07-01 14:02:11 BST (UTC+01:00)'
    """
    offset = at.strftime("%z")
    return f"{at:%Y-%m-%d %H:%M:%S %Z} (UTC{offset[:3]}:{offset[3:5]})"

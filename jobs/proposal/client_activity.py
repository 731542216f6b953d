"""What is known of a proposal since it went out: opened, asked about, accepted, lapsed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from jobs.models import Acceptance
from jobs.proposal.questions import open_questions

if TYPE_CHECKING:
    from jobs.models import Offer


@dataclass(frozen=True, slots=True, kw_only=True)
class ClientActivity:
    """One version's."""

    opened_at: datetime | None
    asked: int  # by the client
    waiting: int  # of those, without an answer
    waiting_since: datetime | None
    accepted_at: datetime | None
    lapsed_on: date | None


def activity_of(offer: Offer, *, on: date) -> ClientActivity:
    """Reads `links`, `questions` and `acceptance` of an offer, which lists fetch beforehand."""
    opened = [link.opened_at for link in offer.links.all() if link.opened_at]
    entries = sorted(offer.questions.all(), key=lambda entry: entry.pk)
    try:
        accepted = offer.acceptance.at
    except Acceptance.DoesNotExist:
        accepted = None
    waiting = open_questions(entries)
    return ClientActivity(
        opened_at=min(opened, default=None),
        asked=sum(entry.who_id is None for entry in entries),
        waiting=waiting,
        waiting_since=entries[-waiting].at if waiting else None,
        accepted_at=accepted,
        lapsed_on=offer.stands_until if accepted is None and offer.stands_until < on else None,
    )

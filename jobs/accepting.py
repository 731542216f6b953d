"""The client's yes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from django.db import transaction
from django.utils import timezone

from jobs.alternatives import choose
from jobs.briefs import note
from jobs.ledger import book_if_covered
from jobs.models import Acceptance, Job, Offer
from jobs.records import vouch_acceptance
from studio.mail import queue
from studio.models import Studio

if TYPE_CHECKING:
    from studio.door import SeatAt

CLOSED = {
    Job.Stage.LAPSED: "This enquiry has lapsed.",
    Job.Stage.DECLINED: "This proposal was declined.",
    Job.Stage.CALLED_OFF: "This event was called off.",
}


class CannotAccept(ValueError):
    """Why an offer cannot be accepted, kindly said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Yes:
    """What came with the client's yes."""

    name: str
    wording: str  # what stood beside the tick
    address: str | None
    agent: str
    choice: str = ""  # the letter, where there was a choice


def why_not(seat: SeatAt, offer: Offer, *, on: date) -> str:
    """Why this offer cannot be accepted on a date; empty when it can."""
    if offer.stands_until < on:
        return "This proposal stood until its date and has lapsed. Ask us, and we gladly send a new one."
    if seat.rows(Offer).filter(job=offer.job, version__gt=offer.version).exists():
        return "A newer version of this proposal was sent since. Please look at that one."
    if seat.rows(Acceptance).filter(offer__job=offer.job).exclude(offer=offer).exists():
        return "Another version of this proposal was accepted already."
    return CLOSED.get(Job.Stage(offer.job.stage), "")


@transaction.atomic
def accept(seat: SeatAt, offer: Offer, yes: Yes, *, at: datetime) -> Acceptance:
    """Record a yes; pressed twice it stays one. Raises CannotAccept."""
    Studio.objects.select_for_update().get(pk=seat.studio.pk)  # two yeses wait for one another
    earlier = seat.rows(Acceptance).filter(offer=offer).first()
    if earlier:
        return earlier
    offer.job.refresh_from_db(fields=["stage"])
    on = timezone.localtime(at).date()
    if reason := why_not(seat, offer, on=on):
        raise CannotAccept(reason)
    if yes.choice not in ([c["letter"] for c in offer.choices] or [""]):
        raise CannotAccept("Your choice: expected one of those offered. Please choose again.")
    acceptance = seat.add(
        Acceptance, offer=offer, name=yes.name, at=at, address=yes.address,
        agent=yes.agent[:300], pdf_sha256=offer.pdf_sha256, wording=yes.wording, choice=yes.choice,
    )  # fmt: skip
    if yes.choice:
        choose(seat, offer.job, yes.choice)
    number = f"{offer.job.number:04d}-{offer.version}"
    note(seat, offer.job, f"Proposal {number} accepted by {yes.name}", vouch_acceptance(acceptance))
    _tell(seat, offer, acceptance, number)
    book_if_covered(seat, offer.job, on=on)
    return acceptance


def _tell(seat: SeatAt, offer: Offer, acceptance: Acceptance, number: str) -> None:
    body = (
        f"{acceptance.name} accepted proposal {number} for {offer.job.title}.\n"
        f"{acceptance.wording}\nSHA-256 of the document: {acceptance.pdf_sha256}\n\n{seat.studio.name}\n"
    )
    for to in dict.fromkeys((offer.job.client.mail, seat.studio.mail)):
        if to:
            queue(
                seat, kind="accepted", about=f"offer:{offer.pk}", to=to,
                subject=f"{seat.studio.name}: proposal {number} accepted", body=body,
            )  # fmt: skip

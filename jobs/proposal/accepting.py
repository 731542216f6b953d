"""The client's yes."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING

from django.db import transaction
from django.utils import timezone

from jobs.day.holding import hold_from_yes
from jobs.day.reserving import kit_not_free
from jobs.design.working import work_out
from jobs.inputs import in_room, practice_of
from jobs.job_stage import ENDED
from jobs.log import write_log
from jobs.models import Acceptance, Job, LogEntry, Offer
from jobs.money.ledger import book_if_covered
from jobs.proposal.adopting import adopt_choice
from jobs.proposal.certificate import ClientYes, certify
from jobs.records import vouch_acceptance
from jobs.seals import digest_of
from jobs.stages import S, move_to_stage_if_due
from pricing.core.instalments import DEPOSIT
from studio.mail import queue_mail

if TYPE_CHECKING:
    from jobs.design.working import Worked
    from pricing.stores.kit import KitShort
    from studio.access import Access

CLOSED = {
    Job.Stage.LAPSED: "This enquiry has lapsed.",
    Job.Stage.DECLINED: "This proposal was declined.",
    Job.Stage.CALLED_OFF: "This event was called off.",
}


NOTHING_OWED = "so your acceptance was not recorded and you owe nothing. We have been told and will write to you."
TAKEN = f"Something we need for your event is booked for another client, {NOTHING_OWED}"
UNSURE = f"We must check first whether everything we need for your event is free that day, {NOTHING_OWED}"


class CannotAccept(ValueError):
    """Why an offer cannot be accepted, kindly said."""


class KitTaken(CannotAccept):
    """Other jobs hold what this one needs; `clash` names them, for the studio only.

    The client is told of another client only where there is one who said yes.
    """

    def __init__(self, clash: str, *, is_booked: bool) -> None:
        super().__init__(TAKEN if is_booked else UNSURE)
        self.clash = clash


def is_accepted(access: Access, job: Job) -> bool:
    """Whether the client said yes; crew may know."""
    return bool(access.rows(Acceptance).filter(offer__job=job).exists())


def why_not_acceptable(access: Access, offer: Offer, *, on: date) -> str:
    """Why this offer cannot be accepted on a date; empty when it can."""
    starts = access.studio.day_of(offer.job.event_start)
    if starts < on:
        return "The day of this event is over."
    if offer.stands_until < on:
        return "This proposal stood until its date and has lapsed. Ask us, and we gladly send a new one."
    if access.rows(Offer).filter(job=offer.job, version__gt=offer.version).exists():
        return "A newer version of this proposal was sent since. Please look at that one."
    if access.rows(Acceptance).filter(offer__job=offer.job).exclude(offer=offer).exists():
        return "Another version of this proposal was accepted already."
    told = offer.event
    if told and told.starts.date() != starts:
        return "The day was moved since this proposal was sent. Ask us, and we send one for the new day."
    return CLOSED.get(Job.Stage(offer.job.stage), "")


def accept_offer(access: Access, offer: Offer, yes: ClientYes, *, at: datetime) -> Acceptance:
    """Record a yes; pressed twice it stays one. Raises CannotAccept, and keeps nothing of the yes then.

    Where kit is held by other jobs the studio is told at once, which outlives what was rolled back.
    """
    try:
        with timezone.override(access.studio.timezone):  # what it sets going reckons in local days
            return _accept(access, offer, yes, at=at)
    except KitTaken as taken:
        _tell_of_clash(access, offer, taken.clash, at)
        raise


@transaction.atomic
def _accept(access: Access, offer: Offer, yes: ClientYes, *, at: datetime) -> Acceptance:
    access.lock_studio()  # two yeses wait for one another
    earlier = access.rows(Acceptance).filter(offer=offer).first()
    if earlier:
        return earlier
    offer.job.refresh_from_db(
        fields=["stage", "event_start", "event_end", "access_from", "clear_by"]
    )
    on = access.studio.day_of(at)
    if reason := why_not_acceptable(access, offer, on=on):
        raise CannotAccept(reason)
    if yes.choice not in [way.letter for way in offer.ways]:
        raise CannotAccept("Your choice: expected one of those offered. Please choose again.")
    if clashes := kit_not_free(access, offer.job, worked_of(access, offer, yes.choice)):
        sentence = " ".join(clash.sentence for clash in clashes)
        raise KitTaken(sentence, is_booked=is_booked_by_another(access, clashes))
    paper = certify(access, offer, yes, at=at)
    acceptance = access.add(
        Acceptance, offer=offer, name=yes.name, at=at, address=yes.address,
        agent=yes.agent[:300], pdf_sha256=offer.pdf_sha256, wording=yes.wording, choice=yes.choice,
        certificate=paper, certificate_sha256=digest_of(paper),
    )  # fmt: skip
    adopt_choice(access, offer, yes.choice)
    words = f"Proposal {offer.number} accepted by {yes.name}"
    write_log(access, offer.job, words, vouch_acceptance(acceptance))
    _tell(access, offer, acceptance)
    move_to_stage_if_due(access, offer.job, S.ACCEPTED)
    hold_from_yes(access, offer.job, on=on, deposit_due=deposit_due(acceptance))
    book_if_covered(access, offer.job, on=on)
    return acceptance


def deposit_due(yes: Acceptance) -> date | None:
    """The day of the deposit as it was agreed; None where none was asked."""
    return next((due.on for due in yes.agreed.plan if due.what == DEPOSIT), None)


def is_booked_by_another(access: Access, clashes: list[KitShort]) -> bool:
    """Whether a client who said yes has in that time what is not free; an option or late kit is no such yes."""
    holders = {holder.pk for clash in clashes for holder in clash.holders}
    yeses = access.rows(Acceptance).exclude(offer__job__stage__in=ENDED)
    return bool(yeses.filter(offer__job__holder__in=holders).exists())


def worked_of(access: Access, offer: Offer, choice: str) -> Worked:
    """What the accepted choice takes, from the design that was frozen with it."""
    design = in_room(offer.design_of(choice), offer.job)
    return work_out(design, units=access.units, practice=practice_of(access))


@transaction.atomic
def _tell_of_clash(access: Access, offer: Offer, clash: str, at: datetime) -> None:
    """A line in the log, and a letter; one a day, however often the client tries."""
    number, on = offer.number, access.studio.day_of(at)
    once_key = f"offer:{offer.pk}:{on.isoformat()}"
    told = f"Yes to proposal {number} turned down, kit is not free: {clash}"[:300]
    last = access.rows(LogEntry).filter(job=offer.job).order_by("-pk").first()
    if last is None or last.what != told:
        write_log(access, offer.job, told)
    if access.studio.mail:
        queue_mail(
            access, kind="kit-clash", once_key=once_key, to=access.studio.mail,
            subject=f"Proposal {number} could not be accepted: kit is not free",
            body=f"{offer.job.client.name} said yes to {offer.job.title} and was told that we write.\n\n{clash}\n",
        )  # fmt: skip


def _tell(access: Access, offer: Offer, acceptance: Acceptance) -> None:
    number = offer.number
    body = (
        f"{acceptance.name} accepted proposal {number} for {offer.job.title}.\n"
        f"{acceptance.wording}\nSHA-256 of the document: {acceptance.pdf_sha256}\n\n{access.studio.name}\n"
    )
    for to in dict.fromkeys((offer.job.client.mail, access.studio.mail)):
        if to:
            queue_mail(
                access, kind="accepted", once_key=f"offer:{offer.pk}", to=to,
                subject=f"{access.studio.name}: proposal {number} accepted", body=body,
                attachment=(f"certificate-{number}.pdf", bytes(acceptance.certificate or b"")),
            )  # fmt: skip

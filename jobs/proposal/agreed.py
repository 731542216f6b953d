"""What client and studio agreed on. Whoever would change a job's design, terms or extras asks here first."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from jobs.design.document import Design
from jobs.inputs import without_room
from jobs.models import Acceptance, Job
from jobs.models.offer import offer_number
from jobs.proposal.frozen import JobTerms
from pricing.core.money import Money
from studio.permissions import Permission

if TYPE_CHECKING:
    from studio.access import Access

# Fields of a job that its price was made from, and their words.
TERMS = {
    "travel_km": "way to the venue, km", "trips": "trips there and back", "crew": "people who go",
    "tolls": "tolls and parking", "venue_cost": "venue’s charges", "odd_hours": "by night or at the weekend",
    "rush": "at short notice", "strike_fee": "late take-down fee", "margin_percent": "margin, %",
    "extra_label": "extra cost for", "extra_cost": "extra cost", "discount": "discount, before tax",
    "tax_treatment": "tax", "tax_reason": "why exempt",
}  # fmt: skip
LONGEST = 200  # letters of a reason


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """An offer that the client said yes to, as it was frozen."""

    number: str  # of the proposal
    by: str
    at: datetime
    design: Design  # what was chosen, without the room and the title that the job lends
    total: Money
    terms: JobTerms | None  # None for offers that did not keep them


class Locked(ValueError):
    """Something agreed would change without what a correction needs; the sentence says what is missing."""


def agreement_of(access: Access, job: Job) -> Agreement | None:
    """What was agreed, or None while everything may still change. Crew may ask: they build it."""
    yes = (
        access.as_system().rows(Acceptance).filter(offer__job=job).select_related("offer")
        .defer("certificate", "offer__pdf", "offer__article").order_by("-pk").first()
    )  # fmt: skip
    if yes is None:
        return None
    return Agreement(
        number=offer_number(job.number, yes.offer.version), by=yes.name, at=yes.at, design=without_room(yes.design),
        total=yes.agreed.figures.total, terms=yes.offer.terms,
    )  # fmt: skip


def permit_change(access: Access, job: Job, why: str) -> Agreement | None:
    """Let a change of the job's design, terms or extras through, or raise Locked. Call inside a transaction.

    None: nothing is agreed, change it. An Agreement: a named person of the office corrects it for the reason
    given, and whoever asked writes the correction down (`jobs/proposal/correcting.py`).
    """
    access.lock_studio()  # a yes and a change wait for one another
    agreement = agreement_of(access, job)
    if agreement is None:
        return None
    if access.person is None or not access.may(Permission.EDIT_JOBS):
        raise Locked(f"Proposal {agreement.number} was accepted: the office corrects it, by name.")
    if not why.strip():
        raise Locked(
            f"Why: expected the reason, since proposal {agreement.number} was accepted; got nothing."
        )
    if len(why) > LONGEST:
        raise Locked(f"Why: expected at most {LONGEST} letters, got {len(why)}.")
    return agreement


def job_terms(job: Job) -> JobTerms:
    """A job's terms as they are now."""
    return JobTerms.model_validate({name: getattr(job, name) for name in TERMS})

"""Corrections of what was agreed: written down and sealed, followed by the stores, told beside the paper."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.db import transaction

from jobs.day.following import follow_design
from jobs.design.differing import Differs, design_differences, is_same
from jobs.design.reading import design_from
from jobs.design.working import Worked, work_out
from jobs.inputs import chosen_row, placed_in_room, practice_of, without_room
from jobs.log import write_log
from jobs.models import Job, LogEntry
from jobs.proposal.agreed import TERMS, Agreement, agreement_of, job_terms
from jobs.proposal.corrected import (
    DESIGN,
    PRICE,
    CorrectedDesign,
    CorrectionRecord,
    correction_data,
    correction_from,
)
from jobs.proposal.frozen import JobTerms
from jobs.seals import document_digest
from studio.permissions import Permission
from studio.sums import without_sums

if TYPE_CHECKING:
    from studio.access import Access

SHOWN = 40  # differences on a page
WORDS = {DESIGN: "Design", PRICE: "Price terms"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """One line of the log: who put right what, and why."""

    what: str  # "Design", "Price terms"
    why: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Departure:
    """How a job stands to what was agreed."""

    agreement: Agreement
    design: tuple[Differs, ...]  # what is built otherwise
    terms: tuple[Differs, ...]
    corrections: tuple[Correction, ...]  # the newest first

    @property
    def differs(self) -> bool:
        return bool(self.design or self.terms)


@transaction.atomic
def correct_design(
    access: Access, job: Job, agreement: Agreement, why: str, before: dict[str, Any]
) -> str:
    """Write down that the chosen design is no longer `before`; answers what followed, as sentences."""
    row = chosen_row(access, job)
    assert row is not None
    changed = design_differences(design_from(before), design_from(row.document), access.units)
    digests = CorrectedDesign(was=document_digest(before), now=document_digest(row.document))
    _write(
        access,
        job,
        CorrectionRecord(proposal=agreement.number, why=why, changed=changed, facts=digests),
    )
    told = follow_design(access, job, _worked(access, job, before))
    if told:
        write_log(access, job, told)
    return told


@transaction.atomic
def correct_terms(
    access: Access, job: Job, agreement: Agreement, why: str, before: JobTerms
) -> None:
    """Write down that the job's terms are no longer `before`."""
    changed = terms_differ(before, job_terms(job))
    _write(
        access,
        job,
        CorrectionRecord(proposal=agreement.number, why=why, changed=changed, facts=before),
    )


def _write(access: Access, job: Job, record: CorrectionRecord) -> None:
    words = f"{WORDS[record.what]} corrected after the yes to {record.proposal}: {record.why}"
    write_log(access, job, words, correction_data(record))


def _worked(access: Access, job: Job, document: dict[str, Any]) -> Worked:
    return work_out(placed_in_room(document, job), units=access.units, practice=practice_of(access))


def departure_of(access: Access, job: Job) -> Departure | None:
    """What differs between build and paper, and every correction; None while nothing is agreed.

    Crew are not told of terms.
    """
    agreement = agreement_of(access, job)
    if agreement is None:
        return None
    log = access.rows(LogEntry).filter(job=job).select_related("who").order_by("-pk")
    lines = [
        (line, record)
        for line in log
        if (record := correction_from(line.data))
        and (access.may(Permission.SEE_MONEY) or record.what == DESIGN)
    ]
    studio = access.studio

    def told(why: str) -> str:
        return (
            why
            if access.may(Permission.SEE_MONEY)
            else without_sums(why, studio.currency, studio.language)
        )

    row = chosen_row(access, job)
    built = without_room(design_from(row.document)) if row else None
    other = built is not None and not is_same(agreement.design, built)
    return Departure(
        agreement=agreement,
        design=design_differences(agreement.design, built, access.units)[:SHOWN] if other and built else (),
        terms=_terms(agreement, job, [record for _, record in lines]) if access.may(Permission.SEE_MONEY) else (),
        corrections=tuple(
            Correction(what=WORDS[record.what], why=told(record.why), by=str(line.who), at=line.at)
            for line, record in lines
        ),
    )  # fmt: skip


def _terms(
    agreement: Agreement, job: Job, newest_first: list[CorrectionRecord]
) -> tuple[Differs, ...]:
    """Against the terms of the offer; for one that kept none, against those before the first correction."""
    now = job_terms(job)
    before = [record.facts for record in newest_first if isinstance(record.facts, JobTerms)]
    return terms_differ(agreement.terms or (before[-1] if before else now), now)


def terms_differ(was: JobTerms, now: JobTerms) -> tuple[Differs, ...]:
    """Field by field."""
    return tuple(
        Differs(what=words, was=_said(getattr(was, name)), now=_said(getattr(now, name)))
        for name, words in TERMS.items()
        if getattr(was, name) != getattr(now, name)
    )


def _said(value: Decimal | int | str | None) -> str:
    """`value` is one of a job's terms."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    return "none" if value in (None, "") else str(value)

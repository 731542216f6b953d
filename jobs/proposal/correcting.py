"""Corrections of what was agreed: written down and sealed, followed by the stores, told beside the paper."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from django.db import transaction

from jobs.briefs import note
from jobs.day.following import follow_design
from jobs.design.differing import Differs, differences, is_same
from jobs.design.reading import design_from
from jobs.design.working import Worked, work_out
from jobs.gather import bare, chosen_row, placed, practice_of
from jobs.models import Happening, Job
from jobs.proposal.agreed import TERMS, Agreement, agreement_of, terms_data
from jobs.seals import document_digest
from studio.sums import without_sums

if TYPE_CHECKING:
    from studio.door import SeatAt

SHOWN = 40  # differences on a page
DESIGN, PRICE = "design", "terms"
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
    seat: SeatAt, job: Job, agreement: Agreement, why: str, before: dict[str, Any]
) -> str:
    """Write down that the chosen design is no longer `before`; answers what followed, as sentences."""
    row = chosen_row(seat, job)
    assert row is not None
    changed = differences(design_from(before), design_from(row.document), seat.units)
    digests = {"was": document_digest(before), "is": document_digest(row.document)}
    _write(seat, job, agreement, DESIGN, why, changed, digests)
    told = follow_design(seat, job, _worked(seat, job, before))
    if told:
        note(seat, job, told)
    return told


@transaction.atomic
def correct_terms(
    seat: SeatAt, job: Job, agreement: Agreement, why: str, before: dict[str, Any]
) -> None:
    """Write down that the job's terms are no longer `before`."""
    changed = terms_differ(before, terms_data(job))
    _write(seat, job, agreement, PRICE, why, changed, {"before": before})


def _write(
    seat: SeatAt, job: Job, agreement: Agreement, what: str, why: str,
    changed: tuple[Differs, ...], facts: dict[str, Any],
) -> None:  # fmt: skip
    data = {
        "corrected": what, "proposal": agreement.number, "why": why, **facts,
        "changed": [[d.what, d.was, d.now] for d in changed],
    }  # fmt: skip
    note(seat, job, f"{WORDS[what]} corrected after the yes to {agreement.number}: {why}", data)


def _worked(seat: SeatAt, job: Job, document: dict[str, Any]) -> Worked:
    return work_out(placed(document, job), units=seat.units, practice=practice_of(seat))


def departure_of(seat: SeatAt, job: Job) -> Departure | None:
    """What differs between build and paper, and every correction; None while nothing is agreed.

    Crew are not told of terms.
    """
    agreement = agreement_of(seat, job)
    if agreement is None:
        return None
    lines = [
        line
        for line in seat.rows(Happening).filter(job=job).select_related("who").order_by("-pk")
        if "corrected" in line.data and (seat.sees_prices or line.data["corrected"] == DESIGN)
    ]
    studio = seat.studio

    def told(why: str) -> str:
        return why if seat.sees_prices else without_sums(why, studio.currency, studio.language)

    row = chosen_row(seat, job)
    built = bare(design_from(row.document)) if row else None
    other = built is not None and not is_same(agreement.design, built)
    return Departure(
        agreement=agreement,
        design=differences(agreement.design, built, seat.units)[:SHOWN] if other and built else (),
        terms=_terms(agreement, job, lines) if seat.sees_prices else (),
        corrections=tuple(
            Correction(what=WORDS[line.data["corrected"]], why=told(line.data["why"]), by=str(line.who), at=line.at)
            for line in lines
        ),
    )  # fmt: skip


def _terms(agreement: Agreement, job: Job, lines: list[Happening]) -> tuple[Differs, ...]:
    """Against the terms of the offer; for one that kept none, against those before the first correction."""
    now = terms_data(job)
    corrected = [line.data["before"] for line in lines if line.data["corrected"] == PRICE]
    return terms_differ(agreement.terms or (corrected[-1] if corrected else now), now)


def terms_differ(was: dict[str, Any], now: dict[str, Any]) -> tuple[Differs, ...]:
    """Field by field."""
    return tuple(
        Differs(what=words, was=_said(was[name]), now=_said(now[name]))
        for name, words in TERMS.items()
        if name in was and was[name] != now[name]
    )


def _said(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "none" if value in (None, "") else str(value)

"""A design as it is looked at, and kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import IntegrityError, transaction

from jobs.briefs import note
from jobs.design.document import Design
from jobs.design.picture import draw
from jobs.design.working import Worked, work_out
from jobs.gather import practice_of, quote_for
from jobs.models import Job, JobDesign
from pricing.shelf import NoRates, book_for
from studio.editing import Difference, Stale

if TYPE_CHECKING:
    from pricing.core.quote import Quote
    from studio.door import SeatAt


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What stands beside the form: the picture, the counts, and the price for those who may see it."""

    worked: Worked
    svg: str
    quote: Quote | None
    fault: str = ""  # why there is no price

    @property
    def minutes(self) -> dict[str, Decimal]:
        """Minutes by place."""
        work = self.worked.takeoff.labour
        return {
            place: sum((w.minutes for w in work if w.place == place), Decimal(0))
            for place in ("workshop", "site")
        }


def look_at(seat: SeatAt, job: Job, design: Design, *, on: date) -> Look:
    """Work a design out in the job's room."""
    placed = design.model_copy(update={"room": job.venue.room(), "title": job.title})
    book, quote, fault = None, None, ""
    if seat.sees_prices:
        try:
            book = book_for(seat, on)
        except NoRates as reason:
            fault = str(reason)
    worked = work_out(
        placed, units=seat.units, practice=practice_of(seat), sold=book.knows if book else None
    )
    if book:
        try:
            quote = quote_for(seat, job, worked, on=on, book=book)
        except ValueError as reason:
            fault = str(reason)
    return Look(worked=worked, svg=draw(worked, units=seat.units), quote=quote, fault=fault)


@transaction.atomic
def keep_design(seat: SeatAt, job: Job, design: Design, version: int) -> None:
    """Save a design over the version it was made from; 0 makes the first.

    Raises Stale, with what differs, when somebody saved in between.
    """
    document = design.model_copy(update={"room": type(design.room)()}).model_dump(mode="json")
    if version == 0 and _is_first(seat, job, document):
        note(seat, job, "First design saved")
        return
    kept = seat.rows(JobDesign).filter(job=job, version=version)
    if not kept.update(document=document, version=version + 1):
        theirs = seat.row(JobDesign, job=job).document
        raise Stale(differences(theirs, document))
    note(seat, job, "Design saved")


def _is_first(seat: SeatAt, job: Job, document: dict[str, object]) -> bool:
    """Save a job's first design; False when somebody else's is there, even since a moment ago."""
    try:
        with transaction.atomic():
            seat.add(JobDesign, job=job, document=document)
    except IntegrityError:
        return False
    return True


def differences(theirs: object, yours: object, path: str = "") -> tuple[Difference, ...]:
    """Leaf by leaf, where two documents differ."""
    if isinstance(theirs, dict) and isinstance(yours, dict):
        keys = [*theirs, *(k for k in yours if k not in theirs)]
        pairs = [(f"{path} {k}".strip(), theirs.get(k), yours.get(k)) for k in keys]
    elif isinstance(theirs, list) and isinstance(yours, list):
        longest = max(len(theirs), len(yours))
        padded = [(x + [None] * longest)[:longest] for x in (theirs, yours)]
        pairs = [(f"{path} {i + 1}", a, b) for i, (a, b) in enumerate(zip(*padded, strict=True))]
    else:
        same = theirs == yours
        return () if same else (Difference(path, said(theirs), said(yours)),)
    return tuple(found for p, a, b in pairs for found in differences(a, b, p))


def said(value: object) -> str:
    return "none" if value is None else str(value)

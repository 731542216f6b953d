"""From rows to values: what the pure functions are given. Nothing here decides."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from jobs.design.document import Design
from jobs.design.working import Worked, work_out
from jobs.models import Job, JobDesign
from pricing.core.money import Money
from pricing.core.quote import Quote, Terms, make_quote
from pricing.shelf import book_for

if TYPE_CHECKING:
    from studio.door import SeatAt


def design_of(seat: SeatAt, job: Job) -> Design | None:
    """The job's design with its venue's room, or None before anything is drawn."""
    row = seat.rows(JobDesign).filter(job=job).first()
    return placed(row.document, job) if row else None


def placed(document: dict[str, object], job: Job) -> Design:
    """A stored document put into the job's room."""
    design = Design.model_validate(document)
    return design.model_copy(update={"room": job.venue.room(), "title": job.title})


def worked_for(seat: SeatAt, job: Job) -> Worked | None:
    """Counts, minutes, findings and balls at rest of the job's design."""
    design = design_of(seat, job)
    return work_out(design, units=seat.units) if design else None


def terms_of(seat: SeatAt, job: Job) -> Terms:
    """What this job adds to the price book: way, margin, extras, discount."""
    currency = seat.studio.currency
    extras = (
        ((job.extra_label or "Extra", Money(job.extra_cost, currency)),) if job.extra_cost else ()
    )
    return Terms(
        travel_km=Decimal(job.travel_km),
        trips=job.trips,
        margin_percent=job.margin_percent,
        extra=extras,
        discount=Money(job.discount, currency),
        deposit_percent=seat.studio.deposit_percent,
    )


def quote_for(seat: SeatAt, job: Job, worked: Worked, *, on: date) -> Quote:
    """The job priced with the price book in force on a date."""
    takeoff = worked.takeoff
    return make_quote(takeoff.needs, takeoff.labour, book_for(seat, on), terms_of(seat, job))

"""From rows to values: what the pure functions are given. Nothing here decides."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from jobs.design.document import Design, Room
from jobs.design.practice import PRACTICE, Practice
from jobs.design.reading import design_from
from jobs.design.working import Worked, work_out
from jobs.models import Job, JobDesign, StudioPractice
from pricing.book.price_book import book_for
from pricing.core.book import Book
from pricing.core.money import Money
from pricing.core.quote import Quote, Terms, make_quote
from pricing.core.tax import EXEMPT, REVERSE_CHARGE, TaxGroup

if TYPE_CHECKING:
    from studio.access import Access

REVERSE = "Reverse charge: the customer accounts for the tax"


def chosen_row(access: Access, job: Job, letter: str = "") -> JobDesign | None:
    """The job's chosen design, or the one of a letter; None before anything is drawn."""
    rows = access.rows(JobDesign).filter(job=job)
    return (rows.filter(letter=letter) if letter else rows.filter(chosen=True)).first()


def design_of(access: Access, job: Job, letter: str = "") -> Design | None:
    """The job's chosen design (or another by its letter) with its venue's room; None before one is drawn."""
    row = chosen_row(access, job, letter)
    return placed_in_room(row.document, job) if row else None


def placed_in_room(document: dict[str, object], job: Job) -> Design:
    """A stored document put into the job's room."""
    return in_room(design_from(document), job)


def in_room(design: Design, job: Job) -> Design:
    """With what the job lends it: its venue's room, its title."""
    return design.model_copy(update={"room": job.venue.room(), "title": job.title})


def without_room(design: Design) -> Design:
    """Without what the job lends it: `in_room` the other way round."""
    return design.model_copy(update={"room": Room(), "title": ""})


def design_text(design: Design) -> dict[str, Any]:
    """The document as a row holds it."""
    return design.model_dump(mode="json")


def practice_of(access: Access) -> Practice:
    """What the studio's hands know; common practice before it has said anything."""
    row = access.rows(StudioPractice).first()
    return row.practice() if row else PRACTICE


def worked_for(access: Access, job: Job, letter: str = "") -> Worked | None:
    """Counts, minutes, findings and balls at rest of a design of the job."""
    design = design_of(access, job, letter)
    if design is None:
        return None
    return work_out(design, units=access.units, practice=practice_of(access))


def terms_of(access: Access, job: Job) -> Terms:
    """What this job adds to the price book: way, margin, extras, discount."""
    currency = access.studio.currency
    extras = (
        ((job.extra_label or "Extra", Money(job.extra_cost, currency)),) if job.extra_cost else ()
    )
    return Terms(
        travel_km=Decimal(job.travel_km),
        trips=job.trips,
        margin_percent=job.margin_percent,
        extra=extras,
        discount=Money(job.discount, currency),
        tolls=Money(job.tolls, currency),
        venue_cost=Money(job.venue_cost, currency),
        strike_fee=Money(job.strike_fee, currency),
        odd_hours=job.odd_hours,
        rush=job.rush,
        crew=job.crew,
        deposit_percent=access.studio.deposit_percent,
    )


def taxed_as(job: Job, book: Book) -> Book:
    """The price book with this job's tax: as usual, or none for the reason the law gives."""
    untaxed = {
        Job.Tax.REVERSE: TaxGroup(code=REVERSE_CHARGE, name="reverse charge", percent=Decimal(0), reason=REVERSE),
        Job.Tax.EXEMPT: TaxGroup(code=EXEMPT, name="exempt", percent=Decimal(0), reason=job.tax_reason),
    }  # fmt: skip
    group = untaxed.get(Job.Tax(job.tax_treatment))
    return replace(book, tax=group, work_tax=None) if group else book


def examples_in(worked: Worked, book: Book) -> tuple[str, ...]:
    """What a design is priced with that nobody in the studio has confirmed yet, by name."""
    found = (book.find(need.key) for need in worked.takeoff.needs)
    named = [price.name for price in found if price and price.is_example]
    return tuple(dict.fromkeys([*named, *(["the rates"] if book.rates.is_example else [])]))


def quote_for(
    access: Access, job: Job, worked: Worked, *, on: date, book: Book | None = None
) -> Quote:
    """The job priced with the price book in force on a date. Raises NoRates."""
    takeoff = worked.takeoff
    book = taxed_as(job, book or book_for(access, on))
    return make_quote(takeoff.needs, takeoff.labour, book, terms_of(access, job))

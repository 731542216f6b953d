"""After the yes the job is what was agreed: the design as it was frozen, whatever was drawn since."""

from __future__ import annotations

from string import ascii_uppercase
from typing import TYPE_CHECKING

from django.db import transaction

from jobs.alternatives import keep_beside
from jobs.design.document import Design
from jobs.design.options import with_only
from jobs.design.reading import design_from
from jobs.inputs import design_text, without_room
from jobs.log import write_log
from jobs.models import Job, JobDesign, Offer
from jobs.proposal.agreed import job_terms
from jobs.proposal.choices import options_of
from jobs.proposal.frozen import OfferedChoice

if TYPE_CHECKING:
    from studio.access import Access

EDITED = "drawn after the proposal"


@transaction.atomic
def adopt_choice(access: Access, offer: Offer, letter: str) -> None:
    """From now on the job is what the client chose of an offer: that alternative, with what was ticked and nothing
    else, as it was when it was sent. What was drawn in its place since is kept beside it.
    """
    job, choice = offer.job, offer.choice(letter)
    agreed = without_room(offer.design_of(letter))
    row, is_same = row_of_choice(access, job, choice, agreed)
    if row is None:
        row = access.add(
            JobDesign, job=job, letter=letter[:1] or "A", chosen=False, document=design_text(agreed)
        )
    elif not is_same:
        options = options_of(row)
        drawn = design_from(row.document)
        keep_beside(access, job, drawn, EDITED, options, most=len(ascii_uppercase))
    if not is_same or choice.options:
        row.document, row.options, row.version = design_text(agreed), [], row.version + 1
    access.rows(JobDesign).filter(job=job, chosen=True).exclude(pk=row.pk).update(chosen=False)
    row.chosen = True
    row.save()
    _take_terms(access, offer)
    if letter:
        ticked = " with " + ", ".join(choice.ticked) if choice.ticked else ""
        write_log(access, job, f"The client chose {letter[0]}{ticked}")


def _take_terms(access: Access, offer: Offer) -> None:
    """The job's terms as they were when the offer was sent; offers from before they were kept change none."""
    job, agreed = offer.job, offer.terms
    if agreed is None:
        return
    fresh = access.rows(Job).get(pk=job.pk)
    now = job_terms(fresh)
    other = {name: value for name, value in agreed if value != getattr(now, name)}
    if not other:
        return
    access.rows(Job).filter(pk=job.pk).update(**other, version=fresh.version + 1)
    job.refresh_from_db(fields=[*other, "version"])
    write_log(access, job, "Price terms are again those of the proposal")


def row_of_choice(
    access: Access, job: Job, choice: OfferedChoice, agreed: Design
) -> tuple[JobDesign | None, bool]:
    """The alternative that was agreed, and whether it is still drawn as it was.

    An offer of one design does not say its letter: it is the one that is drawn so, else the chosen one.
    """
    rows = list(access.rows(JobDesign).filter(job=job).order_by("-chosen", "letter"))
    if choice.letter:
        rows = [row for row in rows if row.letter == choice.letter[0]]
    for row in rows:
        if design_of_choice(design_from(row.document), choice) == agreed:
            return row, True
    return (rows[0] if rows else None), False


def design_of_choice(design: Design, choice: OfferedChoice) -> Design:
    """A design with only those extras that the choice has."""
    ticked = [n for n, option in enumerate(choice.options) if option.name in choice.ticked]
    return without_room(with_only(design, choice.options, ticked))

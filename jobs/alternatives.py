"""Several designs for one job: made from one another, compared, one of them chosen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from string import ascii_uppercase
from typing import TYPE_CHECKING

from django.db import transaction

from jobs.day.following import follow_design
from jobs.design.document import Design
from jobs.design.layouts import LAYOUTS, laid_out
from jobs.design.options import Option, options_carried
from jobs.design.picture import draw
from jobs.design_editing import DesignPreview, preview_design
from jobs.inputs import chosen_row, placed_in_room, worked_for
from jobs.log import write_log
from jobs.models import Job, JobDesign
from jobs.proposal.agreed import permit_change
from jobs.proposal.choices import options_of
from jobs.proposal.correcting import correct_design
from pricing.core.money import Money

if TYPE_CHECKING:
    from studio.access import Access

MOST = 6  # side by side on one page


class TooManyAlternatives(ValueError):
    """No more alternatives fit on the page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    row: JobDesign
    look: DesignPreview
    thumbnail: str

    @property
    def stops(self) -> int:
        return sum(f.weight == "stop" for f in self.look.worked.takeoff.findings)

    @property
    def margin_an_hour(self) -> Money | None:
        """What stays for each hour of work."""
        quote, minutes = self.look.quote, self.look.worked.takeoff.minutes
        if quote is None or not minutes:
            return None
        return Money(quote.margin.amount * 60 / minutes, quote.margin.currency)


def alternatives(access: Access, job: Job, *, on: date) -> list[Alternative]:
    """Every design of a job, worked out and priced, in the order of their letters."""
    rows = access.rows(JobDesign).filter(job=job).order_by("letter")
    return [_alternative(access, job, row, on) for row in rows]


def _alternative(access: Access, job: Job, row: JobDesign, on: date) -> Alternative:
    look = preview_design(access, job, placed_in_room(row.document, job), on=on, pictured=False)
    small = draw(look.worked, units=access.units, prefix=f"a{row.letter}", shown="plain")
    return Alternative(row=row, look=look, thumbnail=small)


@transaction.atomic
def duplicate_alternative(access: Access, job: Job, letter: str, layout: str) -> JobDesign:
    """A new alternative from another, in one of the layouts. Raises TooMany, KeyError for no such layout."""
    access.lock_studio()  # letters are given one after another
    row = access.row(JobDesign, job=job, letter=letter)
    name = LAYOUTS[layout] if layout != "same" else row.name
    options = options_of(row)
    return keep_beside(
        access, job, laid_out(placed_in_room(row.document, job), layout), name, options
    )


@transaction.atomic
def keep_beside(
    access: Access, job: Job, design: Design, name: str, options: Sequence[Option] = (), *,
    most: int = MOST,
) -> JobDesign:  # fmt: skip
    """A design as one more alternative, with what the client may leave of it as far as it has that. Raises TooMany.

    `options` are those of the design that it was made from.
    """
    access.lock_studio()
    taken = set(access.rows(JobDesign).filter(job=job).values_list("letter", flat=True))
    if len(taken) >= most:
        raise TooManyAlternatives(
            f"Alternatives: expected at most {most}, got one more. Drop one first."
        )
    new = next(letter for letter in ascii_uppercase if letter not in taken)
    document = design.model_copy(update={"room": type(design.room)()}).model_dump(mode="json")
    loose = [option.model_dump(mode="json") for option in options_carried(options, design)]
    made = access.add(
        JobDesign,
        job=job,
        letter=new,
        name=name[:60],
        chosen=False,
        document=document,
        options=loose,
    )
    write_log(access, job, f"Alternative {new} made")
    return made


@transaction.atomic
def choose_alternative(access: Access, job: Job, letter: str, why: str = "") -> str:
    """From now on this alternative is priced, offered and built; answers what followed, as sentences.

    Raises Http404 for none of that letter, and Locked where another was agreed and no reason is given.
    """
    row = access.row(JobDesign, job=job, letter=letter)
    if row.chosen:
        return ""
    agreement, before = permit_change(access, job, why), chosen_row(access, job)
    access.rows(JobDesign).filter(job=job, chosen=True).update(chosen=False)
    access.rows(JobDesign).filter(pk=row.pk).update(chosen=True)
    write_log(access, job, f"Alternative {letter} chosen")
    if before is None:
        return ""
    if agreement:
        return correct_design(access, job, agreement, why, before.document)
    return follow_design(access, job, worked_for(access, job, before.letter))


@transaction.atomic
def drop_alternative(access: Access, job: Job, letter: str) -> bool:
    """Take an alternative out; never the chosen one."""
    dropped, _ = access.rows(JobDesign).filter(job=job, letter=letter, chosen=False).delete()
    if dropped:
        write_log(access, job, f"Alternative {letter} dropped")
    return bool(dropped)

"""Several designs for one job: made from one another, compared, one of them chosen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from string import ascii_uppercase
from typing import TYPE_CHECKING

from django.db import transaction

from jobs.briefs import note
from jobs.day.following import follow_design
from jobs.design.document import Design
from jobs.design.layouts import LAYOUTS, laid_out
from jobs.design.options import Option, carried
from jobs.design.picture import draw
from jobs.designing import Look, look_at
from jobs.gather import chosen_row, placed, worked_for
from jobs.models import Job, JobDesign
from jobs.proposal.agreed import permit
from jobs.proposal.correcting import correct_design
from pricing.core.money import Money

if TYPE_CHECKING:
    from studio.door import SeatAt

MOST = 6  # side by side on one page


class TooMany(ValueError):
    """No more alternatives fit on the page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    row: JobDesign
    look: Look
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


def alternatives(seat: SeatAt, job: Job, *, on: date) -> list[Alternative]:
    """Every design of a job, worked out and priced, in the order of their letters."""
    rows = seat.rows(JobDesign).filter(job=job).order_by("letter")
    return [_alternative(seat, job, row, on) for row in rows]


def _alternative(seat: SeatAt, job: Job, row: JobDesign, on: date) -> Alternative:
    look = look_at(seat, job, placed(row.document, job), on=on, pictured=False)
    small = draw(look.worked, units=seat.units, prefix=f"a{row.letter}", shown="plain")
    return Alternative(row=row, look=look, thumbnail=small)


@transaction.atomic
def duplicate(seat: SeatAt, job: Job, letter: str, layout: str) -> JobDesign:
    """A new alternative from another, in one of the layouts. Raises TooMany, KeyError for no such layout."""
    seat.lock_studio()  # letters are given one after another
    row = seat.row(JobDesign, job=job, letter=letter)
    name = LAYOUTS[layout] if layout != "same" else row.name
    options = [Option.model_validate(option) for option in row.options]
    return keep_beside(seat, job, laid_out(placed(row.document, job), layout), name, options)


@transaction.atomic
def keep_beside(
    seat: SeatAt, job: Job, design: Design, name: str, options: Sequence[Option] = (), *,
    most: int = MOST,
) -> JobDesign:  # fmt: skip
    """A design as one more alternative, with what the client may leave of it as far as it has that. Raises TooMany.

    `options` are those of the design that it was made from.
    """
    seat.lock_studio()
    taken = set(seat.rows(JobDesign).filter(job=job).values_list("letter", flat=True))
    if len(taken) >= most:
        raise TooMany(f"Alternatives: expected at most {most}, got one more. Drop one first.")
    new = next(letter for letter in ascii_uppercase if letter not in taken)
    document = design.model_copy(update={"room": type(design.room)()}).model_dump(mode="json")
    loose = [option.model_dump(mode="json") for option in carried(options, design)]
    made = seat.add(
        JobDesign,
        job=job,
        letter=new,
        name=name[:60],
        chosen=False,
        document=document,
        options=loose,
    )
    note(seat, job, f"Alternative {new} made")
    return made


@transaction.atomic
def choose(seat: SeatAt, job: Job, letter: str, why: str = "") -> str:
    """From now on this alternative is priced, offered and built; answers what followed, as sentences.

    Raises Http404 for none of that letter, and Locked where another was agreed and no reason is given.
    """
    row = seat.row(JobDesign, job=job, letter=letter)
    if row.chosen:
        return ""
    agreement, before = permit(seat, job, why), chosen_row(seat, job)
    seat.rows(JobDesign).filter(job=job, chosen=True).update(chosen=False)
    seat.rows(JobDesign).filter(pk=row.pk).update(chosen=True)
    note(seat, job, f"Alternative {letter} chosen")
    if before is None:
        return ""
    if agreement:
        return correct_design(seat, job, agreement, why, before.document)
    return follow_design(seat, job, worked_for(seat, job, before.letter))


@transaction.atomic
def drop(seat: SeatAt, job: Job, letter: str) -> bool:
    """Take an alternative out; never the chosen one."""
    dropped, _ = seat.rows(JobDesign).filter(job=job, letter=letter, chosen=False).delete()
    if dropped:
        note(seat, job, f"Alternative {letter} dropped")
    return bool(dropped)

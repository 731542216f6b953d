"""The studio's own starting points: pieces that it kept from designs that went well."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import transaction

from jobs.after.minutes import minutes_at, share_minutes, taken_in_all
from jobs.after.taken import counted_for, labour_of, taken_by
from jobs.design.document import Design, Room
from jobs.design.reading import design_from
from jobs.gather import placed, practice_of
from jobs.models import Job, JobDesign, KeptPiece

if TYPE_CHECKING:
    from studio.door import SeatAt

PREFIX = "kept-"  # before the row's number, in the form that begins a design


def names_of_kept(seat: SeatAt) -> list[tuple[str, KeptPiece]]:
    """What a design can begin from, by the value that its button sends."""
    return [(f"{PREFIX}{row.pk}", row) for row in seat.rows(KeptPiece).order_by("name")]


def begin_from(seat: SeatAt, wanted: str, room: Room) -> Design | None:
    """A kept piece put into a room; None when something else is wanted. Raises Http404 for none of that number."""
    number = wanted.removeprefix(PREFIX)
    if not wanted.startswith(PREFIX) or not number.isdecimal() or len(number) > 9:
        return None
    row = seat.row(KeptPiece, pk=int(number))
    return design_from(row.document).model_copy(update={"room": room})


@transaction.atomic
def keep_pieces(seat: SeatAt, job: Job, letter: str, true_minutes: int | None) -> list[KeptPiece]:
    """Keep every piece of a design under its own name; one of that name already kept is renewed.

    `true_minutes` are of all its pieces together, each gets its share by what it counts alone. None: as they are
    written down for the job, if they are and this is the design that was built.
    """
    row = seat.row(JobDesign, job=job, letter=letter)
    design = placed(row.document, job)
    alone = [
        design.model_copy(update={"pieces": (piece,), "room": Room(), "title": piece.name})
        for piece in design.pieces
    ]
    kept = []
    took = true_minutes or (written_down(seat, job) if row.chosen else None)
    for piece, minutes in zip(alone, true_shares(seat, alone, took), strict=True):
        facts = {"document": piece.model_dump(mode="json"), "true_minutes": minutes}
        known = seat.rows(KeptPiece).filter(name=piece.title)
        if known.update(**facts):
            kept += list(known)
        else:
            kept.append(seat.add(KeptPiece, name=piece.title, **facts))
    return kept


def written_down(seat: SeatAt, job: Job) -> int | None:
    """Minutes that the job took, once they are all known."""
    return taken_in_all(counted_for(seat, job), taken_by(seat, [job]).get(job.pk, {}))


def true_shares(seat: SeatAt, alone: Sequence[Design], took: int | None) -> Sequence[int | None]:
    """What each piece took of it all."""
    if took is None:
        return [None] * len(alone)
    practice = practice_of(seat)
    counted = [minutes_at(labour_of(piece, practice)).values() for piece in alone]
    return share_minutes(took, [sum(places, Decimal(0)) for places in counted])


def let_go(seat: SeatAt, number: int) -> str:
    """Take a kept piece off the list; what it was called. Raises Http404 for none of that number."""
    row = seat.row(KeptPiece, pk=number)
    row.delete()
    return row.name

"""The studio's own starting points: pieces that it kept from designs that went well."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db import transaction

from jobs.design.document import Design, Room
from jobs.design.reading import design_from
from jobs.gather import placed
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
    """Keep every piece of a design under its own name; one of that name already kept is renewed."""
    row = seat.row(JobDesign, job=job, letter=letter)
    design = placed(row.document, job)
    kept = []
    for piece in design.pieces:
        alone = design.model_copy(update={"pieces": (piece,), "room": Room(), "title": piece.name})
        facts = {"document": alone.model_dump(mode="json"), "true_minutes": true_minutes}
        known = seat.rows(KeptPiece).filter(name=piece.name)
        if known.update(**facts):
            kept += list(known)
        else:
            kept.append(seat.add(KeptPiece, name=piece.name, **facts))
    return kept


def let_go(seat: SeatAt, number: int) -> None:
    """Take a kept piece off the list. Raises Http404 for none of that number."""
    seat.row(KeptPiece, pk=number).delete()

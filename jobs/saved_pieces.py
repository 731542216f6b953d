"""The studio's own starting points: pieces that it kept from designs that went well."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import transaction

from jobs.after.minutes import minutes_at, share_minutes, total_minutes_taken
from jobs.after.time_taken import counted_for, labour_of, minutes_taken_by
from jobs.design.document import Design, Room
from jobs.design.reading import design_from
from jobs.inputs import placed_in_room, practice_of
from jobs.models import Job, JobDesign, SavedPiece

if TYPE_CHECKING:
    from studio.access import Access

PREFIX = "kept-"  # before the row's number, in the form that begins a design


def saved_piece_names(access: Access) -> list[tuple[str, SavedPiece]]:
    """What a design can begin from, by the value that its button sends."""
    return [(f"{PREFIX}{row.pk}", row) for row in access.rows(SavedPiece).order_by("name")]


def begin_from(access: Access, wanted: str, room: Room) -> Design | None:
    """A kept piece put into a room; None when something else is wanted. Raises Http404 for none of that number."""
    number = wanted.removeprefix(PREFIX)
    if not wanted.startswith(PREFIX) or not number.isdecimal() or len(number) > 9:
        return None
    row = access.row(SavedPiece, pk=int(number))
    return design_from(row.document).model_copy(update={"room": room})


@transaction.atomic
def save_pieces(
    access: Access, job: Job, letter: str, true_minutes: int | None
) -> list[SavedPiece]:
    """Keep every piece of a design under its own name; one of that name already kept is renewed.

    `true_minutes` are of all its pieces together, each gets its share by what it counts alone. None: as they are
    written down for the job, if they are and this is the design that was built.
    """
    row = access.row(JobDesign, job=job, letter=letter)
    design = placed_in_room(row.document, job)
    alone = [
        design.model_copy(update={"pieces": (piece,), "room": Room(), "title": piece.name})
        for piece in design.pieces
    ]
    kept = []
    took = true_minutes or (minutes_written_down(access, job) if row.chosen else None)
    for piece, minutes in zip(alone, true_shares(access, alone, took), strict=True):
        facts = {"document": piece.model_dump(mode="json"), "true_minutes": minutes}
        known = access.rows(SavedPiece).filter(name=piece.title)
        if known.update(**facts):
            kept += list(known)
        else:
            kept.append(access.add(SavedPiece, name=piece.title, **facts))
    return kept


def minutes_written_down(access: Access, job: Job) -> int | None:
    """Minutes that the job took, once they are all known."""
    return total_minutes_taken(
        counted_for(access, job), minutes_taken_by(access, [job]).get(job.pk, {})
    )


def true_shares(access: Access, alone: Sequence[Design], took: int | None) -> Sequence[int | None]:
    """What each piece took of it all."""
    if took is None:
        return [None] * len(alone)
    practice = practice_of(access)
    counted = [minutes_at(labour_of(piece, practice)).values() for piece in alone]
    return share_minutes(took, [sum(places, Decimal(0)) for places in counted])


def delete_saved_piece(access: Access, number: int) -> str:
    """Take a kept piece off the list; what it was called. Raises Http404 for none of that number."""
    row = access.row(SavedPiece, pk=number)
    row.delete()
    return row.name

"""Where a job stands, and where it may go from there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db import transaction

from jobs.briefs import note
from jobs.models import Job
from jobs.reserving import follow

if TYPE_CHECKING:
    from studio.door import SeatAt

S = Job.Stage
ENDS = (S.LAPSED, S.DECLINED, S.CALLED_OFF)
MOVES: dict[str, tuple[str, ...]] = {
    S.ENQUIRY: (S.PRICED, S.OFFERED, *ENDS),
    S.PRICED: (S.OFFERED, *ENDS),
    S.OFFERED: (S.BOOKED, *ENDS),
    S.BOOKED: (S.READY, S.CALLED_OFF),
    S.READY: (S.UP, S.BOOKED, S.CALLED_OFF),
    S.UP: (S.DOWN, S.READY),
    S.DOWN: (S.CLOSED, S.UP),
    S.CLOSED: (),
    S.LAPSED: (S.ENQUIRY,),
    S.DECLINED: (S.ENQUIRY,),
    S.CALLED_OFF: (),
}
# What a press of a button may do; the others follow from what happens.
BY_HAND = (S.READY, S.UP, S.DOWN, S.CLOSED, *ENDS, S.ENQUIRY)
WORDS = {
    S.READY: "Packed and ready",
    S.UP: "It is up",
    S.DOWN: "It is down",
    S.CLOSED: "Close the job",
    S.LAPSED: "The enquiry lapsed",
    S.DECLINED: "The client declined",
    S.CALLED_OFF: "Called off",
    S.ENQUIRY: "Open it again",
    S.BOOKED: "Not ready after all",
}


class NoSuchMove(ValueError):
    """A move that this stage does not have, or that somebody made already."""


def may_move(stage: str, to: str) -> bool:
    return to in MOVES[stage]


def by_hand(stage: str) -> list[tuple[str, str]]:
    """The moves that a button offers from a stage, with its words."""
    return [(to, WORDS[S(to)]) for to in MOVES[stage] if to in BY_HAND]


@transaction.atomic
def move(seat: SeatAt, job: Job, to: str) -> None:
    """Move a job on. Raises NoSuchMove when its stage has no such move, or changed meanwhile."""
    if not may_move(job.stage, to):
        raise NoSuchMove(
            f"Stage: expected a move from “{job.get_stage_display()}”, got “{S(to).label}”."
        )
    if not seat.rows(Job).filter(pk=job.pk, stage=job.stage).update(stage=to):
        raise NoSuchMove("Stage: somebody moved this job in between.")
    job.stage = to
    note(seat, job, f"Now {S(to).label}")
    # The stores belong to the whole studio, whoever moved the job on.
    if told := follow(seat.for_errand(), job, to):
        note(seat, job, told)


def move_if_due(seat: SeatAt, job: Job, to: str) -> None:
    """Move on where the table allows it; where the job is further already, leave it."""
    if may_move(job.stage, to):
        move(seat, job, to)

"""Where a job stands, and where it may go from there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.db import transaction

from jobs.day.reserving import follow_stage
from jobs.job_stage import ENDED, HELD_FOR_DAYS
from jobs.log import write_log
from jobs.models import Acceptance, Cancellation, Job

if TYPE_CHECKING:
    from studio.access import Access

S = Job.Stage
MOVES: dict[str, tuple[str, ...]] = {
    # A link that was sent before a job was opened again still takes the client's yes.
    S.ENQUIRY: (S.PRICED, S.OFFERED, S.ACCEPTED, *ENDED),
    S.PRICED: (S.OFFERED, S.ACCEPTED, *ENDED),
    S.OFFERED: (S.ACCEPTED, *ENDED),
    S.ACCEPTED: (S.BOOKED, S.CALLED_OFF),
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
BY_HAND = (S.READY, S.BOOKED, S.UP, S.DOWN, S.CLOSED, *ENDED, S.ENQUIRY)
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


class NoSuchReason(ValueError):
    """A reason for a lost job that cannot be kept, as a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost:
    """Why a job was lost, as far as anybody knows. Raises NoSuchReason for one that is not on the list."""

    why: str = ""
    words: str = ""

    def __post_init__(self) -> None:
        if self.why not in ("", *Job.Lost.values):
            raise NoSuchReason(f"Why: expected one of those on the list, got “{self.why[:20]}”.")
        if len(self.words) > 200:
            raise NoSuchReason(f"Words: expected at most 200 letters, got {len(self.words)}.")

    @property
    def told(self) -> str:
        """For the log: ": the price, twice what we had in mind"; "" where nothing is known."""
        said = [str(Job.Lost(self.why).label)] if self.why else []
        said += [self.words] if self.words else []
        return f": {', '.join(said)}" if said else ""


UNKNOWN = Lost()


class NoSuchMove(ValueError):
    """A move that this stage does not have, or that somebody made already."""


def may_move(stage: str, to: str) -> bool:
    return to in MOVES[stage]


def stages_by_hand(stage: str, *, accepted: bool = False) -> list[tuple[str, str]]:
    """The moves that a button offers from a stage, with its words. After a yes, the end has a page of its own."""
    moves = [to for to in MOVES[stage] if to in BY_HAND and not (accepted and to in ENDED)]
    if stage == S.ACCEPTED:
        moves.remove(S.BOOKED)  # the deposit brings it
    return [(to, WORDS[S(to)]) for to in moves]


@transaction.atomic
def move_to_stage(access: Access, job: Job, to: str, lost: Lost = UNKNOWN) -> None:
    """Move a job on. Raises NoSuchMove when its stage has no such move, or changed meanwhile.

    `lost` is kept with a job that lapses or is declined; one that is opened again has no reason any more.
    After the client's yes a job ends by its call-off alone, which settles the money first.
    """
    access.lock_studio()
    kept = lost if to in (S.LAPSED, S.DECLINED) else UNKNOWN
    if not may_move(job.stage, to):
        raise NoSuchMove(
            f"Stage: expected a move from “{job.get_stage_display()}”, got “{S(to).label}”."
        )
    if to in ENDED and _is_held_by_its_yes(access, job):
        raise NoSuchMove(
            f"Stage: expected a call-off, since the client said yes, got “{S(to).label}”."
        )
    facts: dict[str, Any] = {"stage": to, "lost_why": kept.why, "lost_words": kept.words}
    if to not in HELD_FOR_DAYS:
        facts["held_until"] = job.held_until = None
    if not access.rows(Job).filter(pk=job.pk, stage=job.stage).update(**facts):
        raise NoSuchMove("Stage: somebody moved this job in between.")
    job.stage, job.lost_why, job.lost_words = to, kept.why, kept.words
    write_log(access, job, f"Now {S(to).label}{kept.told}")
    # The stores belong to the whole studio, whoever moved the job on.
    if told := follow_stage(access.as_system(), job, to):
        write_log(access, job, told)


def _is_held_by_its_yes(access: Access, job: Job) -> bool:
    """Whether the client said yes and nothing is settled yet; call with the studio locked, as a yes is."""
    if not access.rows(Acceptance).filter(offer__job=job).exists():
        return False
    return not access.as_system().rows(Cancellation).filter(job=job).exists()


def move_to_stage_if_due(access: Access, job: Job, to: str) -> None:
    """Move on where the table allows it; where the job is further already, leave it."""
    if may_move(job.stage, to):
        move_to_stage(access, job, to)

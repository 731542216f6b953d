"""What a job waits for, in plain words. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from jobs.job_stage import HELD_FOR_DAYS, Stage
from pricing.core.instalments import Due, Standing
from pricing.core.money import Money

# "longer": hold it on or let it go; "at all": hold it.
type Ask = Literal["", "longer", "at all"]


LATEX_ASKED = (Stage.ENQUIRY, Stage.PRICED, Stage.OFFERED, Stage.ACCEPTED, Stage.BOOKED)


@dataclass(frozen=True, slots=True, kw_only=True)
class StepFacts:
    """What is known of a job on a date."""

    stage: Stage
    on: date
    event_start: datetime
    event_end: datetime
    designed: bool
    latex_asked: bool
    answer_until: date | None  # of the newest offer
    standing: Standing | None
    asked_on: date | None = None  # the oldest question of the client that has no answer
    held_until: date | None = None  # supplies and kit without a deposit; None: not held, or booked
    timed: bool = True  # somebody wrote down what it took; asked once it is down


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    what: str
    late: bool = False
    ask: Ask = ""  # what a press can answer


def next_steps_for(
    facts: StepFacts, write: Callable[[Money], str], write_day: Callable[[date], str]
) -> tuple[NextStep, ...]:
    """Everything that is open: first what the client asked, then the late."""
    waits = [
        *_questions(facts, write_day),
        *_before_booking(facts, write_day),
        *_holding(facts, write_day),
        *_money(facts, write, write_day),
        *_work(facts),
    ]
    return tuple(sorted(waits, key=lambda w: not w.late))


def _questions(facts: StepFacts, write_day: Callable[[date], str]) -> Iterator[NextStep]:
    if facts.asked_on:
        yield NextStep(what=f"your answer to a question of {write_day(facts.asked_on)}", late=True)


def _before_booking(facts: StepFacts, write_day: Callable[[date], str]) -> Iterator[NextStep]:
    if facts.stage == Stage.ENQUIRY:
        yield NextStep(what="a price" if facts.designed else "a design")
    elif facts.stage == Stage.PRICED:
        yield NextStep(what="a proposal to the client")
    elif facts.stage == Stage.OFFERED and facts.standing is None and facts.answer_until:
        late = facts.answer_until < facts.on
        word = "lapsed on" if late else "until"
        yield NextStep(
            what=f"the client’s answer, {word} {write_day(facts.answer_until)}", late=late
        )
    if facts.stage in LATEX_ASKED and not facts.latex_asked:
        yield NextStep(what="somebody to ask about latex allergies")


def _holding(facts: StepFacts, write_day: Callable[[date], str]) -> Iterator[NextStep]:
    """Nothing is let go by itself, and nothing is held for ever."""
    if facts.stage not in HELD_FOR_DAYS:
        return
    if facts.held_until and facts.held_until < facts.on:
        what = f"your decision on supplies and kit, held until {write_day(facts.held_until)}"
        yield NextStep(what=what, late=True, ask="longer")
    elif facts.stage == Stage.ACCEPTED and facts.held_until is None:
        yield NextStep(what="your decision on supplies and kit: none are held", ask="at all")


def _money(
    facts: StepFacts, write: Callable[[Money], str], write_day: Callable[[date], str]
) -> Iterator[NextStep]:
    if facts.standing is None or facts.stage in (Stage.LAPSED, Stage.DECLINED):
        return
    for due in facts.standing.due:
        late = due in facts.standing.overdue
        yield NextStep(
            what=f"{due.what} of {write(due.amount)}, {_when(due, facts.on, write_day)}", late=late
        )


def _when(due: Due, on: date, write_day: Callable[[date], str]) -> str:
    days = (on - due.on).days
    if days > 0:
        return f"{days} {'day' if days == 1 else 'days'} overdue"
    return "due today" if days == 0 else f"due {write_day(due.on)}"


def _work(facts: StepFacts) -> Iterator[NextStep]:
    over = facts.event_end.date() < facts.on
    words = {
        Stage.ACCEPTED: "the client’s deposit",
        Stage.BOOKED: "picking and packing",
        Stage.READY: "the set-up",
        Stage.UP: "the take-down",
        Stage.DOWN: "the job to be closed",
    }
    if facts.stage == Stage.DOWN and not facts.timed:
        yield NextStep(what="the minutes it took")
    if facts.stage == Stage.ACCEPTED and facts.standing and facts.standing.due:
        return  # the deposit stands there with its sum and its day
    if facts.stage == Stage.ACCEPTED and facts.standing and not facts.standing.paid:
        words[Stage.ACCEPTED] = "another invoice or the call-off: all that was asked is credited"
    if facts.stage in words:
        yield NextStep(what=words[facts.stage], late=over and facts.stage != Stage.DOWN)

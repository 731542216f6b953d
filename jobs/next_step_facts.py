"""From a job's rows to what it waits for."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from babel.dates import format_date
from django.utils.timezone import localtime

from jobs.after.time_taken import minutes_taken_by
from jobs.models import Job
from jobs.money.ledger import standing_of
from jobs.next_steps import NextStep, StepFacts, next_steps_for
from jobs.proposal.client_activity import activity_of
from pricing.core.money import Money, write_money
from studio.permissions import Permission

if TYPE_CHECKING:
    from studio.access import Access


def next_steps_of(access: Access, job: Job, *, on: date, designed: bool) -> tuple[NextStep, ...]:
    """What a job waits for; without what concerns money for those who see none.

    For those who do, `job` comes from `with_money`.
    """
    studio, sees = access.studio, access.may(Permission.SEE_MONEY)
    offers = list(job.offers.all()) if sees else []
    asked = [activity_of(offer, on=on).waiting_since for offer in offers]
    facts = StepFacts(
        stage=Job.Stage(job.stage),
        on=on,
        event_start=localtime(job.event_start),
        event_end=localtime(job.event_end),
        designed=designed,
        latex_asked=job.latex != Job.Latex.NOT_ASKED,
        answer_until=offers[-1].stands_until if offers else None,
        standing=standing_of(job, on=on, currency=studio.currency) if sees else None,
        held_until=job.held_until,
        timed=job.stage != Job.Stage.DOWN or bool(minutes_taken_by(access, [job])),
        asked_on=min((localtime(at).date() for at in asked if at), default=None),
    )

    def write(money: Money) -> str:
        return write_money(money, studio.language)

    def write_day(day: date) -> str:
        return str(format_date(day, "d MMMM", locale=studio.language.replace("-", "_")))

    return next_steps_for(facts, write, write_day)

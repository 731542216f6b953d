"""A job's money: what is due on a date, what came."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import transaction
from django.db.models import Sum
from django.utils.timezone import localtime

from jobs.log import write_log
from jobs.models import Acceptance, Cancellation, Invoice, Job, Offer, Payment
from jobs.records import vouch_payment
from jobs.rows import jobs_of
from jobs.stages import S, move_to_stage_if_due
from pricing.core.instalments import (
    Due,
    EventShift,
    Standing,
    move_with_event,
    plan_cut_to,
    plan_within,
    standing_on,
)
from pricing.core.money import Money, add_up, write_money

if TYPE_CHECKING:
    from studio.access import Access

Kind = Payment.Kind
LONG_AGO = timedelta(days=366)
KEPT_DUE_AFTER = timedelta(days=7)  # common practice, no source
SAID = {
    Kind.CAME: "Payment of",
    Kind.REFUND: "Money given back:",
    Kind.BOUNCED: "Bounced payment:",
    Kind.PUT_RIGHT: "An entry put right by",
}


def accepted_offer(job: Job) -> Offer | None:
    """The offer that the client said yes to; from `with_money` rows this asks nothing more."""
    offer: Offer
    for offer in job.offers.all():
        try:
            offer.acceptance  # noqa: B018  the reverse one-to-one raises when there is none
        except Acceptance.DoesNotExist:
            continue
        return offer
    return None


def plan_of(job: Job, currency: str, *, then: EventShift | None = None) -> tuple[Due, ...]:
    """The accepted plan of a `with_money` job as its event was moved since; nothing before the yes.

    What was frozen stays as it was: instalments that were not due yet when the event was moved go along. `then` is
    one more move, to see what it would bring.
    """
    offer = accepted_offer(job)
    if offer is None:
        return ()
    plan = offer.acceptance.agreed.plan
    rows = sorted(job.event_moves.all(), key=lambda move: move.pk)
    moves = [as_moved(m.at, m.from_start, m.to_start) for m in rows if m.at > offer.acceptance.at]
    moves += [then] if then else []
    event_on = moves[-1].event_on if moves else day_of(job.event_start)
    # An offer of what is over already is due after it.
    return tuple(plan_within(move_with_event(plan, moves), max(event_on, day_of(offer.sent_at))))


def as_moved(at: datetime, was: datetime, start: datetime) -> EventShift:
    """A move of an event that was settled at a moment, in days of the current zone."""
    return EventShift(
        on=day_of(at), days=(day_of(start) - day_of(was)).days, event_on=day_of(start)
    )


def day_of(at: datetime) -> date:
    return localtime(at).date()


def cancellation_of(job: Job) -> Cancellation | None:
    """How a job was called off after its yes; from `with_money` rows this asks nothing more."""
    try:
        return job.cancellation
    except Cancellation.DoesNotExist:
        return None


def standing_of(
    job: Job,
    *,
    on: date,
    currency: str,
    after: Payment | None = None,
    then: EventShift | None = None,
) -> Standing | None:
    """Where a `with_money` job stands on a date, or None before the client's yes. The one answer to what is due:
    every page, paper, letter and report asks here, and the books come to the same.

    Asked is the accepted plan as its event was moved; after a call-off what is kept, whatever the plan said. Once
    there are papers, what invoices less credit notes come to is asked instead: a credit note takes from the last
    instalment first. A job whose invoices are all credited owes nothing until another is issued.
    With `after` as it stood when that entry was written down; with `then` as one more move of the event would leave
    it.
    """
    if accepted_offer(job) is None:
        return None
    off, papers, entries = cancellation_of(job), [*job.invoices.all()], [*job.payments.all()]
    if after is not None:
        off = off if off and off.at <= after.entered_at else None
        papers = [paper for paper in papers if paper.made_at <= after.entered_at]
        entries = [entry for entry in entries if entry.pk <= after.pk]
    total = papers_total(papers, currency) if papers else None
    plan = kept_of(off, currency, total) if off else plan_of(job, currency, then=then)
    return standing_on(
        plan if total is None else plan_cut_to(plan, max(total, total * 0)),
        [Money(entry.amount, currency) for entry in entries],
        on=on, currency=currency, total=total, short_since=short_since(entries),
    )  # fmt: skip


def kept_of(off: Cancellation, currency: str, papers: Money | None = None) -> tuple[Due, ...]:
    """What is asked after a call-off: what is kept, or what papers come to since."""
    kept = Money(off.kept, currency) if papers is None else max(papers, papers * 0)
    rest = Due(what="amount kept after the call-off", on=off.on + KEPT_DUE_AFTER, amount=kept)
    return (rest,) if kept else ()


def papers_total(papers: Iterable[Invoice], currency: str) -> Money:
    """Invoices less credit notes, tax included."""
    credit = Invoice.Kind.CREDIT
    signed = (-paper.total if paper.kind == credit else paper.total for paper in papers)
    return add_up((Money(total, currency) for total in signed), currency)


def short_since(entries: Iterable[Payment]) -> date | None:
    """The day of the entry by which more had gone back than came, as it is now; None where it had not."""
    sum_, since = Decimal(0), None
    for entry in sorted(entries, key=lambda entry: entry.pk):
        was, sum_ = sum_, sum_ + entry.amount
        since = None if sum_ >= 0 else entry.on if was >= 0 else since
    return since


class CannotRecord(ValueError):
    """Why an entry cannot stand, as a sentence."""


@transaction.atomic
def record_payment(
    access: Access, job: Job, *, on: date, amount: Decimal, how: str, reference: str,
    kind: str = Kind.CAME, of: Payment | None = None,
) -> Payment:  # fmt: skip
    """Write down money that came, or (negative) went back or puts the entry `of` right. Raises CannotRecord."""
    access.lock_studio()  # two entries wait for one another, and for a yes or a move of the job
    if reason := why_not_recorded(access, job, kind, amount, of, on):
        raise CannotRecord(reason)
    payment = access.add(
        Payment, job=job, on=on, amount=amount, how=how, reference=reference, kind=kind, of=of,
        entered_by=access.person,
    )  # fmt: skip
    words = write_money(Money(amount, access.studio.currency), access.studio.language)
    write_log(access, job, f"{SAID[Kind(kind)]} {words} written down", vouch_payment(payment))
    book_if_covered(access, job, on=on)
    return payment


def why_not_recorded(
    access: Access, job: Job, kind: str, amount: Decimal, of: Payment | None, on: date
) -> str:
    """Why an entry cannot stand beside those of its job; empty when it can."""

    def write(figure: Decimal) -> str:
        return write_money(Money(figure, access.studio.currency), access.studio.language)

    if on > access.studio.today():
        return f"Date: expected today or a day before, got {on:%d %B %Y}."
    if kind == Kind.REFUND:
        there = access.rows(Payment).filter(job=job).aggregate(sum=Sum("amount"))["sum"] or Decimal(
            0
        )
        if -amount > there:
            return (
                f"Given back: expected at most the {write(there)} that came, got {write(-amount)}."
            )
    if kind in (Kind.BOUNCED, Kind.PUT_RIGHT):
        if of is None or of.job_id != job.pk:
            return "Which entry: expected one of this job, got none."
        left = left_of_payment(access, of)
        if kind == Kind.BOUNCED and of.kind != Kind.CAME:
            return "Which entry: expected money that came in, got another entry."
        if (left + amount) * of.amount < 0:
            return (
                f"Amount: expected no more than the {write(abs(left))} that stands of that entry."
            )
    return ""


def doubts_about(access: Access, job: Job, *, on: date, amount: Decimal, kind: str) -> list[str]:
    """What of an entry is most likely a slip of the hand, one sentence each: to be asked about before it stands."""
    money = Money(amount, access.studio.currency)
    written, found = write_money(max(money, -money), access.studio.language), []
    rich = access.row(Job, among=jobs_of(access).with_money(), pk=job.pk)
    now = standing_of(rich, on=on, currency=money.currency)
    if kind == Kind.CAME and now and money > now.left:
        left = write_money(now.left, access.studio.language)
        found.append(f"{written} is more than the {left} that is left to pay.")
    if on < access.studio.today() - LONG_AGO:
        found.append(f"{on:%d %B %Y} is more than a year ago.")
    if access.rows(Payment).filter(job=job, on=on, amount=amount, kind=kind).exists():
        found.append(f"{written} of that day is written down already.")
    return found


def left_of_payment(access: Access, entry: Payment) -> Decimal:
    """What stands of an entry after everything that bounced or put it right."""
    righted = access.rows(Payment).filter(of=entry).aggregate(sum=Sum("amount"))["sum"] or Decimal(
        0
    )
    return entry.amount + righted


def book_if_covered(access: Access, job: Job, *, on: date) -> None:
    """An accepted job whose deposit is covered is booked, unless it was called off."""
    fresh = access.row(Job, among=jobs_of(access).with_money(), pk=job.pk)
    now = standing_of(fresh, on=on, currency=access.studio.currency)
    if now and now.deposit_covered and not cancellation_of(fresh):
        move_to_stage_if_due(access, fresh, S.BOOKED)

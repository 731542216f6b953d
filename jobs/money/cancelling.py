"""An event is called off after the yes: what the studio keeps by its scale, shown first, then done in one go."""

from __future__ import annotations

import zoneinfo
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from babel.dates import format_date
from django.db import transaction
from django.utils.timezone import localtime

from jobs.log import write_log
from jobs.models import Cancellation, Invoice, Job
from jobs.money.invoicing import CannotInvoice, credit_invoice, left_of_invoice, write_invoice
from jobs.money.ledger import accepted_offer, standing_of
from jobs.records import vouch_cancellation
from jobs.rows import jobs_of
from jobs.stages import NoSuchMove, S, may_move, move_to_stage
from pricing.core.cancelling import (
    Scale,
    Settlement,
    part_from,
    part_up_to,
    settle_cancellation,
    worth_of_groups,
)
from pricing.core.crediting import net_of
from pricing.core.money import Money, add_up, write_money
from studio.mail import queue_mail

if TYPE_CHECKING:
    from pricing.core.tax import TaxLine
    from studio.access import Access


class CannotCancel(ValueError):
    """Why this job is not called off, as a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CancellationPapers:
    """What the books need so that they hold what is kept."""

    credits: tuple[tuple[Invoice, tuple[TaxLine, ...]], ...]
    invoice: tuple[TaxLine, ...]  # for what is kept, where nothing was invoiced yet
    kept: Money  # what they hold then

    @property
    def told(self) -> list[tuple[Invoice, Money]]:
        """Each invoice with what is credited of it."""
        return [(row, worth_of_groups(part, self.kept.currency)) for row, part in self.credits]


@dataclass(frozen=True, slots=True, kw_only=True)
class CancellationPreview:
    """What calling off on a day comes to."""

    on: date
    days_before: int
    scale_percent: Decimal
    total: Money
    paid: Money
    settled: Settlement
    papers: CancellationPapers

    @property
    def days_words(self) -> str:
        return days_before(self.days_before)

    @property
    def seen(self) -> str:
        """The figures in one word: a form carries what was shown, and does nothing else than that."""
        return f"{self.days_before}/{self.settled.kept.amount}/{self.settled.refund.amount}"


def preview_cancellation(
    access: Access, job: Job, *, on: date, percent: Decimal | None = None
) -> CancellationPreview:
    """What calling off would come to; `percent` keeps less than the scale says. Raises CannotCancel."""
    rich = access.row(Job, among=jobs_of(access).with_money(), pk=job.pk)
    currency = access.studio.currency
    if accepted_offer(rich) is None:
        raise CannotCancel(
            "Nothing was accepted yet: move the job on by its button, no money is touched."
        )
    if not may_move(rich.stage, S.CALLED_OFF):
        raise CannotCancel(f"A job that is {rich.get_stage_display()} is not called off any more.")
    zone = zoneinfo.ZoneInfo(access.studio.timezone)
    days_before = (localtime(rich.event_start, zone).date() - on).days
    scale = scale_of(access, job)
    most = scale.percent(days_before)
    if percent is not None and percent > most:
        raise CannotCancel(
            f"Keep: expected at most the {most:f} % of your scale, got {percent:f} %."
        )
    now = standing_of(rich, on=on, currency=currency)
    assert now
    total, paid = max(now.total, now.total * 0), now.paid
    settled = settle_cancellation(
        total, paid, scale if percent is None else Scale.flat(percent), days_before
    )
    papers = cancellation_papers(access, rich, settled.kept)
    if papers.kept.amount < 0:
        told = write_money(papers.kept, access.studio.language)
        raise CannotCancel(
            f"Keep: expected nothing below zero, got {told}, since more was credited than invoiced."
        )
    return CancellationPreview(
        on=on, days_before=days_before, scale_percent=most, total=total, paid=paid,
        settled=settled.keeping(papers.kept), papers=papers,
    )  # fmt: skip


def scale_of(access: Access, job: Job) -> Scale:
    """The scale as the client agreed to it; before a yes, and for offers that named none, the studio's own."""
    offer = accepted_offer(access.row(Job, among=jobs_of(access).with_money(), pk=job.pk))
    agreed = offer.acceptance.agreed.call_off if offer else None
    return Scale.read(access.studio.call_off_scale) if agreed is None else agreed


def cancellation_papers(access: Access, job: Job, kept: Money) -> CancellationPapers:
    """Credits for what is invoiced beyond what is kept; an invoice for it where nothing is invoiced.

    Where less is invoiced than would be kept, because a part was credited before, no more than that is kept.
    """
    currency = access.studio.currency
    rows = access.rows(Invoice).filter(job=job).defer("pdf", "xml").order_by("-number")
    open_ = [
        (row, left)
        for row in rows
        if row.kind == Invoice.Kind.INVOICE and (left := left_of_invoice(access, row))
    ]
    if not open_:
        offer = accepted_offer(job)
        assert offer
        part = part_up_to(offer.acceptance.agreed.figures.groups, kept)
        return CancellationPapers(credits=(), invoice=part, kept=worth_of_groups(part, currency))
    invoiced = add_up(
        (
            Money(-row.total if row.kind == Invoice.Kind.CREDIT else row.total, currency)
            for row in rows
        ),
        currency,
    )
    credits: list[tuple[Invoice, tuple[TaxLine, ...]]] = []
    back = invoiced - kept
    for row, left in open_:
        if back.amount > 0:
            part = part_from(left, back)
            credits.append((row, part))
            back = back - worth_of_groups(part, currency)
    return CancellationPapers(credits=tuple(credits), invoice=(), kept=min(kept, kept + back))


@transaction.atomic
def cancel_job(
    access: Access, job: Job, *, on: date, percent: Decimal | None, why: str, seen: str
) -> Cancellation:
    """Do it: row, stage, stores, papers, log and letter together. Raises CannotCancel, and changes nothing.

    `seen` are the figures that were shown; where money moved in between, they are shown again first.
    """
    access.lock_studio()
    shown = preview_cancellation(access, job, on=on, percent=percent)
    if shown.seen != seen:
        raise CannotCancel("The figures changed in between: look at them again.")
    settled = shown.settled
    off = access.add(
        Cancellation, job=job, on=on, days_before=shown.days_before, kept_percent=settled.percent,
        kept=settled.kept.amount, refund=settled.refund.amount, why=why[:200], who=access.person,
    )  # fmt: skip
    kept = write_money(settled.kept, access.studio.language)
    write_log(
        access,
        job,
        f"Called off {days_before(shown.days_before)}, {kept} kept",
        vouch_cancellation(off),
    )
    try:
        papers = write_cancellation_papers(access, job, shown, why)
        move_to_stage(access, job, S.CALLED_OFF)
    except (CannotInvoice, NoSuchMove) as reason:
        raise CannotCancel(str(reason)) from None
    mail_cancellation(access, job, shown, papers)
    return off


def write_cancellation_papers(
    access: Access, job: Job, shown: CancellationPreview, why: str
) -> list[Invoice]:
    """Credit notes, or the invoice for what is kept. Raises CannotInvoice."""
    currency, on = access.studio.currency, shown.on
    reason = f"the event was called off{f': {why}' if why else ''}"
    made = [
        credit_invoice(access, row, net_of(part, currency).amount, reason, on=access.studio.today())
        for row, part in shown.papers.credits
    ]
    if part := shown.papers.invoice:
        day = format_date(on, "long", locale=access.studio.language.replace("-", "_"))
        words = f"Kept by our scale, {shown.settled.percent:f} %, called off on {day}"
        paid = max(min(shown.paid, shown.settled.kept).amount, Decimal(0))
        made.append(
            write_invoice(
                access, job, Invoice.Kind.INVOICE, part, words, on=access.studio.today(), paid=paid
            )
        )
    return made


def mail_cancellation(
    access: Access, job: Job, shown: CancellationPreview, papers: list[Invoice]
) -> None:
    """A letter to the client, if a mail is known."""
    if not job.client.mail:
        return
    studio, settled = access.studio, shown.settled
    figures = [
        ("Total", shown.total),
        ("Kept by our scale", settled.kept),
        ("Paid so far", shown.paid),
    ]
    if settled.refund:
        figures.append(("We give back to you", settled.refund))
    if settled.owed:
        figures.append(("Still to be paid", settled.owed))
    lines = "\n".join(f"{what}: {write_money(amount, studio.language)}" for what, amount in figures)
    paper = papers[-1] if papers else None
    queue_mail(
        access, kind="called-off", once_key=f"job:{job.pk}", to=job.client.mail,
        subject=f"{studio.name}: {job.title} is called off",
        body=(
            f"Dear {job.client.name},\n\n{job.title} is called off, {days_before(shown.days_before)}.\n\n{lines}\n\n"
            f"Your rights under the consumer law of your country come first.\n\n{studio.name}\n"
        ),
        attachment=(f"{paper.kind}-{paper.written}.pdf", bytes(paper.pdf)) if paper else None,
    )  # fmt: skip


def days_before(days: int) -> str:
    """
    >>> days_before(1), days_before(0), days_before(-2)
    ('1 day before the event', 'on the day of the event', 'after the event')
    """
    if days > 0:
        return f"{days} day{'' if days == 1 else 's'} before the event"
    return "after the event" if days else "on the day of the event"

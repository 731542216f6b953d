"""What was earned: profit of the jobs that stand, and what was kept of those that were called off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db.models import Prefetch
from django.urls import reverse
from django.utils.timezone import localtime

from jobs.after.time_taken import minutes_taken_by
from jobs.models import Job, Offer
from jobs.money.ledger import accepted_offer
from jobs.money.profits import (
    cost_of_taken,
    gather_profits,
    kinds_table,
    labour_cost,
    profit_table,
    standing_net,
    taken_of,
)
from jobs.money.reports import ReportSpan
from jobs.money.tables import NamedCell, Table, TableColumn
from pricing.book.price_book import books_since
from pricing.core.money import Money, add_up, write_money

if TYPE_CHECKING:
    from studio.access import Access


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptMoney:
    """A job that was called off after the yes. Money is before tax."""

    job: NamedCell
    on: date  # the day of the call-off
    agreed: Money
    kept: Money  # as papers say: invoices less credit notes
    # What the shelves gave, at the prices of the day; None: nothing is written down.
    materials: Money | None
    labour: Money | None  # what the minutes taken cost; None: none are written down

    @property
    def left(self) -> Money:
        """Of what was kept, as far as it is written down what was spent."""
        nothing = self.kept * 0
        return self.kept - (self.materials or nothing) - (self.labour or nothing)


def profit_tables(access: Access, span: ReportSpan, on: date) -> dict[str, Table]:
    """Of accepted jobs with their event in this time."""
    profits, currency = gather_profits(access, span), access.studio.currency
    kept = gather_kept(access, span)
    both = add_up([*(p.put_right for p in profits), *(k.left for k in kept)], currency)
    words = f"Together with “kept, put right” above: {write_money(both, access.studio.language)}."
    made = (
        profit_table(profits, currency),
        kept_table(kept, words, currency),
        kinds_table(profits, currency),
    )
    return {table.name: table for table in made}


def gather_kept(access: Access, span: ReportSpan) -> list[KeptMoney]:
    """Of the jobs whose event was to be in this time and was called off after the yes."""
    offers = (
        access.rows(Offer).defer("article", "pdf", "design").order_by("version")
        .select_related("acceptance")
    )  # fmt: skip
    jobs = list(
        access.rows(Job).filter(cancellation__isnull=False, event_start__gte=span.start, event_start__lt=span.end)
        .select_related("cancellation").prefetch_related(Prefetch("offers", offers)).order_by("event_start", "pk")
    )  # fmt: skip
    return kept_from(access, jobs) if jobs else []


def kept_from(access: Access, jobs: Sequence[Job]) -> list[KeptMoney]:
    currency, books = access.studio.currency, books_since(access)
    nets, taken, minutes = (
        standing_net(access, jobs),
        taken_of(access, jobs),
        minutes_taken_by(access, jobs),
    )
    found = []
    for job in jobs:
        offer = accepted_offer(job)
        if offer is None:
            continue
        yes, took = offer.acceptance, minutes.get(job.pk)
        book = books(localtime(offer.sent_at).date())
        found.append(
            KeptMoney(
                job=NamedCell(shown=str(job), written=str(job), url=reverse("jobs:payment", args=[job.number])),
                on=job.cancellation.on, agreed=yes.agreed.figures.net,
                kept=Money(nets.get(job.pk, Decimal(0)), currency),
                materials=cost_of_taken(taken.get(job.pk, []), books, currency),
                labour=labour_cost(yes.costing.work, took, book) if took else None,
            )
        )  # fmt: skip
    return found


def kept_table(kept: Sequence[KeptMoney], words: str, currency: str) -> Table:
    def total(name: str) -> Money:
        return add_up((amount for row in kept if (amount := getattr(row, name))), currency)

    return Table(
        name="kept", title="Kept of jobs that were called off",
        columns=(
            TableColumn(label="Job"), TableColumn(label="Called off"), TableColumn(label="Net agreed", kind="money"),
            TableColumn(label="Net kept", kind="money"),
            TableColumn(label="From the shelves", kind="money", unknown="not written down"),
            TableColumn(label="Labour taken", kind="money", unknown="not written down"),
            TableColumn(label="Left of it", kind="money"),
        ),
        rows=tuple((r.job, r.on, r.agreed, r.kept, r.materials, r.labour, r.left) for r in kept),
        foot=("in all", "", *(total(n) for n in ("agreed", "kept", "materials", "labour", "left"))),
        words=words if kept else "", empty="No job with its event in this time was called off after the yes.",
    )  # fmt: skip

"""What accepted jobs were to bring, by job and by kind of piece, beside what is written down of how they went."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.db.models import Prefetch, Sum
from django.urls import reverse
from django.utils.timezone import localtime

from jobs.day.reserving import about
from jobs.design.compose import compose
from jobs.design.document import Design
from jobs.design.labour import tally_labour
from jobs.design.needs import count_needs
from jobs.design.practice import Practice
from jobs.design.reading import design_from
from jobs.gather import practice_of
from jobs.models import Invoice, Job, Offer
from jobs.money.ledger import accepted_offer
from jobs.money.reports import Span, percent_of
from jobs.money.tables import Cells, Column, Named, Table
from pricing.core.book import Book
from pricing.core.money import Money, add_up
from pricing.core.quote import Terms, make_quote
from pricing.models import StockMove
from pricing.shelf import books_since

if TYPE_CHECKING:
    from studio.door import SeatAt

type Books = Callable[[date], Book]
WORN = (StockMove.Kind.USED, StockMove.Kind.SPOILED, StockMove.Kind.RETURNED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """What one piece of a job has of its net price and its quoted cost."""

    kind: str
    net: Money
    cost: Money


@dataclass(frozen=True, slots=True, kw_only=True)
class Profit:
    """A job as it was quoted, and as far as it is written down how it went."""

    job: Named
    net: Money
    cost: Money
    materials: Money  # part of the cost
    taken: (
        Money | None
    )  # what the shelves gave, at the prices of the day; None: nothing is written down
    kinds: int  # of supplies that it asks for
    kinds_taken: int  # of them, those that came from the shelves
    credited: Money  # net, since
    shares: tuple[Share, ...]

    @property
    def kept(self) -> Money:
        """As quoted."""
        return self.net - self.cost

    @property
    def put_right(self) -> Money:
        """Less what was credited; with the materials as taken, where every kind came from the shelves.

        Labour stays as quoted: a job's true minutes are not written down.
        """
        kept = self.kept - self.credited
        if self.taken is None or self.kinds_taken < self.kinds:
            return kept
        return kept + self.materials - self.taken


def profit_tables(seat: SeatAt, span: Span, on: date) -> dict[str, Table]:
    """Of jobs that were accepted and stand, with their event in this time."""
    profits = gather_profits(seat, span)
    currency = seat.studio.currency
    return {
        table.name: table
        for table in (profit_table(profits, currency), kinds_table(profits, currency))
    }


def gather_profits(seat: SeatAt, span: Span) -> list[Profit]:
    offers = (
        seat.rows(Offer).defer("article", "pdf").order_by("version").select_related("acceptance")
    )
    jobs = list(
        seat.rows(Job).accepted().standing().filter(event_start__gte=span.start, event_start__lt=span.end)
        .prefetch_related(Prefetch("offers", offers)).order_by("event_start", "pk")
    )  # fmt: skip
    if not jobs:
        return []
    books, practice = books_since(seat), practice_of(seat)
    taken, standing = taken_of(seat, jobs), standing_net(seat, jobs)
    return [
        profit_of(
            job, books=books, practice=practice, currency=seat.studio.currency,
            taken=taken.get(about(job), []), standing=standing.get(job.pk),
        )
        for job in jobs
    ]  # fmt: skip


type Taken = tuple[str, Decimal, date]  # key, how many, when


def taken_of(seat: SeatAt, jobs: Sequence[Job]) -> dict[str, list[Taken]]:
    """What the shelves gave to each job; what came back is below zero."""
    moves = seat.rows(StockMove).filter(about__in=[about(job) for job in jobs], kind__in=WORN)
    found: defaultdict[str, list[Taken]] = defaultdict(list)
    for name, key, change, at in moves.values_list("about", "key", "change", "at"):
        found[name].append((key, -change, localtime(at).date()))
    return found


def standing_net(seat: SeatAt, jobs: Sequence[Job]) -> dict[int, Decimal]:
    """Invoiced net less what was credited of it, of the jobs that were invoiced."""
    rows = seat.rows(Invoice).filter(job__in=jobs).values("job", "kind").annotate(sum=Sum("net"))
    nets: dict[int, Decimal] = defaultdict(Decimal)
    for row in rows:
        nets[row["job"]] += row["sum"] if row["kind"] == Invoice.Kind.INVOICE else -row["sum"]
    return dict(nets)


def profit_of(
    job: Job, *, books: Books, practice: Practice, currency: str, taken: list[Taken],
    standing: Decimal | None,
) -> Profit:  # fmt: skip
    """One job. `standing` is what still stands of its invoices; None before there is one."""
    offer = accepted_offer(job)
    if offer is None:
        raise ValueError(f"Job {job.number:04d}: expected an accepted offer, got none.")
    chosen = offer.choice(offer.acceptance.choice)
    figures, owner = chosen["figures"], chosen.get("owner_figures", offer.owner_figures)
    net, cost = (Money(Decimal(text), currency) for text in (figures["net"], owner["cost"]))
    design = design_from(chosen.get("design", offer.design))
    pieces = pieces_of(design, books(localtime(offer.sent_at).date()), practice)
    kinds = frozenset[str]().union(*(piece.supplies for piece in pieces))
    return Profit(
        job=Named(
            shown=str(job), written=str(job), url=reverse("jobs:payment", args=[job.number]),
        ),
        net=net, cost=cost, materials=materials_of(owner, currency), taken=worth(taken, books, currency),
        kinds=len(kinds), kinds_taken=len(kinds & {key for key, _, _ in taken}),
        credited=net - Money(standing, currency) if standing is not None else net * 0,
        shares=shares_of(pieces, net=net, cost=cost),
    )  # fmt: skip


def materials_of(owner: Mapping[str, Any], currency: str) -> Money:
    lines = (line for line in owner["lines"] if line["kind"] == "materials")
    return add_up((Money(Decimal(line["cost"]), currency) for line in lines), currency)


def worth(taken: Sequence[Taken], books: Books, currency: str) -> Money | None:
    """What was taken, at the prices of the day. None where nothing was, or a price is not known."""
    sums = Decimal(0)
    for key, many, on in taken:
        price = books(on).find(key)
        if price is None:
            return None
        sums += many * price.unit_price
    return Money(sums, currency) if taken else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Alone:
    """One piece of a design by itself."""

    kind: str
    supplies: frozenset[str]  # keys of what it uses up
    cost: int  # its take-off priced, in minor units


def pieces_of(design: Design, book: Book, practice: Practice) -> tuple[Alone, ...]:
    return tuple(
        alone(design.model_copy(update={"pieces": (piece,)}), book, practice)
        for piece in design.pieces
    )


def alone(design: Design, book: Book, practice: Practice) -> Alone:
    """A design of one piece, counted and priced."""
    composition = compose(design, practice)
    needs = count_needs(design, composition, practice)
    labour = tally_labour(design, composition, practice)
    return Alone(
        kind=design.pieces[0].support.label,
        supplies=frozenset(need.key for need in needs if need.use == "consumable"),
        cost=make_quote(needs, labour, book, Terms(deposit_percent=Decimal(0))).cost.minor,
    )


def shares_of(pieces: Sequence[Alone], *, net: Money, cost: Money) -> tuple[Share, ...]:
    """Net and cost over the pieces, by what each would cost alone, to the last penny."""
    weights = [piece.cost for piece in pieces]
    if not any(weights):
        weights = [1] * len(weights)
    return tuple(
        Share(kind=piece.kind, net=its_net, cost=its_cost)
        for piece, its_net, its_cost in zip(
            pieces, net.share(weights), cost.share(weights), strict=True
        )
    )


def profit_table(profits: Sequence[Profit], currency: str) -> Table:
    rows = tuple(_profit_row(profit) for profit in profits)

    def total(name: str) -> Money:
        return add_up((getattr(profit, name) for profit in profits), currency)

    kept, net = total("kept"), total("net")
    return Table(
        name="profit", title="Profit by job: as quoted, and as written down", rows=rows, drawn=9,
        columns=(
            Column(label="Job"), Column(label="Net", kind="money"), Column(label="Cost, quoted", kind="money"),
            Column(label="Kept, quoted", kind="money"), Column(label="Of net", kind="percent"),
            Column(label="Materials, quoted", kind="money"),
            Column(label="From the shelves", kind="money", unknown="not written down"),
            Column(label="Kinds from there"), Column(label="Credited since", kind="money"),
            Column(label="Kept, put right", kind="money"),
        ),
        foot=(
            "in all", net, total("cost"), kept, percent_of(kept.amount, net.amount), total("materials"), "", "",
            total("credited"), total("put_right"),
        ),
        words="True minutes of a job are not written down, so labour stands as quoted. Put right is less what was "
        "credited, and with the materials that were taken where every kind of them came from the shelves.",
        empty="No job that was accepted has its event in this time.",
    )  # fmt: skip


def _profit_row(profit: Profit) -> Cells:
    return (
        profit.job, profit.net, profit.cost, profit.kept, percent_of(profit.kept.amount, profit.net.amount),
        profit.materials, profit.taken, f"{profit.kinds_taken} of {profit.kinds}", profit.credited,
        profit.put_right,
    )  # fmt: skip


def kinds_table(profits: Sequence[Profit], currency: str) -> Table:
    """The same money by kind of piece, what brought most first."""
    by: defaultdict[str, list[Share]] = defaultdict(list)
    for profit in profits:
        for share in profit.shares:
            by[share.kind].append(share)
    every = [share for shares in by.values() for share in shares]
    rows = sorted(
        (_kind_row(kind, shares, currency) for kind, shares in by.items()), key=lambda row: -row[4].amount
    )  # fmt: skip
    return Table(
        name="kinds", title="Profit by kind of piece, as quoted", rows=tuple(rows), drawn=4,
        columns=(
            Column(label="Kind"), Column(label="Pieces", kind="count"), Column(label="Net", kind="money"),
            Column(label="Cost, quoted", kind="money"), Column(label="Kept, quoted", kind="money"),
            Column(label="Of net", kind="percent"),
        ),
        foot=_kind_row("in all", every, currency),
        words="A job’s net and cost are shared over its pieces by what each would cost alone.",
        empty="No job that was accepted has its event in this time.",
    )  # fmt: skip


def _kind_row(
    kind: str, shares: Sequence[Share], currency: str
) -> tuple[str, int, Money, Money, Money, Decimal | None]:
    net = add_up((share.net for share in shares), currency)
    cost = add_up((share.cost for share in shares), currency)
    kept = net - cost
    return kind, len(shares), net, cost, kept, percent_of(kept.amount, net.amount)

"""What accepted jobs were to bring, by job and by kind of piece, beside what is written down of how they went."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from django.db.models import Prefetch, Sum
from django.urls import reverse
from django.utils.timezone import localtime

from jobs.after.minutes import share_minutes, total_minutes_taken
from jobs.after.time_taken import minutes_taken_by
from jobs.design.compose import compose
from jobs.design.document import Design
from jobs.design.labour import tally_labour
from jobs.design.needs import count_needs
from jobs.design.practice import Practice
from jobs.inputs import practice_of
from jobs.models import Invoice, Job, Offer
from jobs.money.ledger import accepted_offer
from jobs.money.reports import ReportSpan, percent_text
from jobs.money.tables import Cells, NamedCell, Table, TableColumn
from jobs.rows import jobs_of
from pricing.book.price_book import books_since
from pricing.core.book import Book
from pricing.core.money import Money, add_up
from pricing.core.quote import HOUR, Terms, make_quote
from pricing.core.quote_data import QuotedWork
from pricing.core.supply_keys import SupplyKey, parse_key
from pricing.models import StockMove

if TYPE_CHECKING:
    from studio.access import Access

type Books = Callable[[date], Book]
WORN = (StockMove.Kind.USED, StockMove.Kind.SPOILED, StockMove.Kind.RETURNED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """What one piece of a job has of its net price, its quoted cost and minutes, and of how they went."""

    kind: str
    net: Money
    cost: Money
    minutes: int
    minutes_taken: int | None
    put_right: Money


@dataclass(frozen=True, slots=True, kw_only=True)
class Profit:
    """A job as it was quoted, and as far as it is written down how it went."""

    job: NamedCell
    net: Money
    cost: Money
    materials: Money  # part of the cost
    taken: (
        Money | None
    )  # what the shelves gave, at the prices of the day; None: nothing is written down
    kinds: int  # of supplies that it asks for
    kinds_taken: int  # of them, those that came from the shelves
    credited: Money  # net, since
    minutes: int  # of everybody together, as quoted
    minutes_taken: int | None  # None until they are written down for every place with work
    labour_more: (
        Money | None
    )  # what those cost beyond the quoted labour; below zero where they were fewer
    pieces: tuple[PieceAlone, ...]

    @property
    def kept(self) -> Money:
        """As quoted."""
        return self.net - self.cost

    @property
    def put_right(self) -> Money:
        """Less what was credited; with the minutes that it took, where all of them are written down, and the
        materials as taken, where every kind came from the shelves.
        """
        kept = self.kept - self.credited - (self.labour_more or self.net * 0)
        if self.taken is None or self.kinds_taken < self.kinds:
            return kept
        return kept + self.materials - self.taken

    @property
    def shares(self) -> tuple[Share, ...]:
        """Over the pieces: money by what each would cost alone, minutes by what each would take alone."""
        costs = [piece.cost for piece in self.pieces]
        costs = costs if any(costs) else [1] * len(costs)
        alone = [piece.minutes for piece in self.pieces]
        took: Sequence[int | None] = [None] * len(alone)
        if self.minutes_taken is not None:
            took = share_minutes(self.minutes_taken, alone)
        right = (self.net - self.put_right).share(costs)  # its true cost
        return tuple(
            Share(
                kind=piece.kind, net=net, cost=cost, minutes=minutes, minutes_taken=taken, put_right=net - true,
            )
            for piece, net, cost, true, minutes, taken in zip(
                self.pieces, self.net.share(costs), self.cost.share(costs), right,
                share_minutes(self.minutes, alone), took,
                strict=True,
            )
        )  # fmt: skip


def gather_profits(access: Access, span: ReportSpan) -> list[Profit]:
    offers = (
        access.rows(Offer).defer("article", "pdf").order_by("version").select_related("acceptance")
    )
    jobs = list(
        jobs_of(access).accepted().standing().filter(event_start__gte=span.start, event_start__lt=span.end)
        .prefetch_related(Prefetch("offers", offers)).order_by("event_start", "pk")
    )  # fmt: skip
    return profits_of(access, jobs)


def profits_of(access: Access, jobs: Sequence[Job]) -> list[Profit]:
    """Of these jobs, which the client said yes to."""
    if not jobs:
        return []
    books, practice, minutes = (
        books_since(access),
        practice_of(access),
        minutes_taken_by(access, jobs),
    )
    taken, standing = taken_of(access, jobs), standing_net(access, jobs)
    return [
        profit_of(
            job, books=books, practice=practice, currency=access.studio.currency,
            taken=taken.get(job.pk, []), standing=standing.get(job.pk), minutes=minutes.get(job.pk, {}),
        )
        for job in jobs
    ]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenSupply:
    """What the shelves gave of a supply on a day; below zero where it came back."""

    key: SupplyKey
    many: Decimal
    on: date


def taken_of(access: Access, jobs: Sequence[Job]) -> dict[int, list[TakenSupply]]:
    """By the job's row."""
    moves = access.rows(StockMove).filter(holder__job__in=jobs, kind__in=WORN)
    found: defaultdict[int, list[TakenSupply]] = defaultdict(list)
    for job, key, change, at in moves.values_list("holder__job", "key", "change", "at"):
        found[job].append(TakenSupply(key=parse_key(key), many=-change, on=localtime(at).date()))
    return found


def standing_net(access: Access, jobs: Sequence[Job]) -> dict[int, Decimal]:
    """Invoiced net less what was credited of it, of the jobs that were invoiced."""
    rows = access.rows(Invoice).filter(job__in=jobs).values("job", "kind").annotate(sum=Sum("net"))
    nets: dict[int, Decimal] = defaultdict(Decimal)
    for row in rows:
        nets[row["job"]] += row["sum"] if row["kind"] == Invoice.Kind.INVOICE else -row["sum"]
    return dict(nets)


def profit_of(
    job: Job, *, books: Books, practice: Practice, currency: str, taken: list[TakenSupply],
    standing: Decimal | None, minutes: Mapping[str, int],
) -> Profit:  # fmt: skip
    """One job. `standing` is what still stands of its invoices; None before there is one."""
    offer = accepted_offer(job)
    if offer is None:
        raise ValueError(f"Job {job.number:04d}: expected an accepted offer, got none.")
    yes, costing = offer.acceptance, offer.acceptance.costing
    net, book, work = yes.agreed.figures.net, books(localtime(offer.sent_at).date()), costing.work
    pieces = pieces_of(yes.design, book, practice)
    took = total_minutes_taken({place: quoted.minutes for place, quoted in work.items()}, minutes)
    kinds = frozenset[SupplyKey]().union(*(piece.supplies for piece in pieces))
    return Profit(
        job=NamedCell(
            shown=str(job), written=str(job), url=reverse("jobs:payment", args=[job.number]),
        ),
        net=net, cost=costing.cost, materials=costing.materials, taken=cost_of_taken(taken, books, currency),
        kinds=len(kinds), kinds_taken=len(kinds & {supply.key for supply in taken}),
        credited=net - Money(standing, currency) if standing is not None else net * 0,
        minutes=round(sum(quoted.minutes for quoted in work.values())), minutes_taken=took,
        labour_more=None if took is None else labour_beyond(work, minutes, book), pieces=pieces,
    )  # fmt: skip


def labour_beyond(work: Mapping[str, QuotedWork], minutes: Mapping[str, int], book: Book) -> Money:
    """What the minutes taken cost beyond those quoted."""
    quoted = add_up((work[place].cost for place in minutes if place in work), book.currency)
    return labour_cost(work, minutes, book) - quoted


def labour_cost(work: Mapping[str, QuotedWork], minutes: Mapping[str, int], book: Book) -> Money:
    """What the minutes taken cost, each at the rate that it was quoted at; the book's where none was quoted."""
    hours = {"workshop": book.rates.workshop_hour, "site": book.rates.site_hour}
    whole = Fraction(0)
    for place, took in minutes.items():
        quoted = work.get(place)
        if quoted and quoted.minutes:
            whole += Fraction(quoted.cost.amount) / Fraction(quoted.minutes) * took
        else:
            whole += Fraction(hours[place]) / HOUR * took
    return Money.exact(whole, book.currency)


def cost_of_taken(taken: Sequence[TakenSupply], books: Books, currency: str) -> Money | None:
    """What was taken, at the prices of the day. None where nothing was, or a price is not known."""
    sums = Fraction(0)
    for supply in taken:
        price = books(supply.on).find(supply.key)
        if price is None:
            return None
        sums += Fraction(supply.many) * price.unit_cost
    return Money.exact(sums, currency) if taken else None


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceAlone:
    """One piece of a design by itself."""

    kind: str
    supplies: frozenset[SupplyKey]  # what it uses up
    minutes: Decimal
    cost: int  # its take-off priced, in minor units


def pieces_of(design: Design, book: Book, practice: Practice) -> tuple[PieceAlone, ...]:
    return tuple(
        piece_alone(design.model_copy(update={"pieces": (piece,)}), book, practice)
        for piece in design.pieces
    )


def piece_alone(design: Design, book: Book, practice: Practice) -> PieceAlone:
    """A design of one piece, counted and priced."""
    composition = compose(design, practice)
    needs = count_needs(design, composition, practice)
    labour = tally_labour(design, composition, practice)
    return PieceAlone(
        kind=design.pieces[0].support.label,
        supplies=frozenset(need.key for need in needs if need.use == "consumable"),
        minutes=sum((work.minutes for work in labour), Decimal(0)),
        cost=make_quote(needs, labour, book, Terms(deposit_percent=Decimal(0))).cost.minor,
    )


def profit_table(profits: Sequence[Profit], currency: str) -> Table:
    rows = tuple(_profit_row(profit) for profit in profits)

    def total(name: str) -> Money:
        return add_up((getattr(profit, name) for profit in profits), currency)

    kept, net = total("kept"), total("net")
    return Table(
        name="profit", title="Profit by job: as quoted, and as written down", rows=rows, drawn=12,
        columns=(
            TableColumn(label="Job"), TableColumn(label="Net", kind="money"),
            TableColumn(label="Cost, quoted", kind="money"),
            TableColumn(label="Kept, quoted", kind="money"), TableColumn(label="Of net", kind="percent"),
            TableColumn(label="Minutes, quoted", kind="count"),
            TableColumn(label="Minutes, taken", kind="count", unknown="not written down"),
            TableColumn(label="Labour beyond it", kind="money", unknown="not written down"),
            TableColumn(label="Materials, quoted", kind="money"),
            TableColumn(label="From the shelves", kind="money", unknown="not written down"),
            TableColumn(label="Kinds from there"), TableColumn(label="Credited since", kind="money"),
            TableColumn(label="Kept, put right", kind="money"),
        ),
        foot=(
            "in all", net, total("cost"), kept, percent_text(kept.amount, net.amount),
            sum(profit.minutes for profit in profits), "", "", total("materials"), "", "", total("credited"),
            total("put_right"),
        ),
        words="Put right is less what was credited; with the minutes that were taken, where they are written down "
        "for the workshop and on site; and with the materials that were taken, where every kind came from the "
        "shelves. The rest stands as quoted.",
        empty="No job that was accepted has its event in this time.",
    )  # fmt: skip


def _profit_row(profit: Profit) -> Cells:
    return (
        profit.job, profit.net, profit.cost, profit.kept, percent_text(profit.kept.amount, profit.net.amount),
        profit.minutes, profit.minutes_taken, profit.labour_more, profit.materials, profit.taken,
        f"{profit.kinds_taken} of {profit.kinds}", profit.credited, profit.put_right,
    )  # fmt: skip


def kinds_table(profits: Sequence[Profit], currency: str) -> Table:
    """The same money by kind of piece, what brought most first."""
    by: defaultdict[str, list[Share]] = defaultdict(list)
    for profit in profits:
        for share in profit.shares:
            by[share.kind].append(share)
    every = [share for shares in by.values() for share in shares]
    kept = {
        kind: sum((s.put_right.amount for s in shares), Decimal(0)) for kind, shares in by.items()
    }
    rows = [
        _kind_row(kind, by[kind], currency) for kind in sorted(by, key=lambda kind: -kept[kind])
    ]
    return Table(
        name="kinds", title="Profit by kind of piece: as quoted, and as written down", rows=tuple(rows), drawn=8,
        columns=(
            TableColumn(label="Kind"), TableColumn(label="Pieces", kind="count"),
            TableColumn(label="Net", kind="money"),
            TableColumn(label="Cost, quoted", kind="money"), TableColumn(label="Kept, quoted", kind="money"),
            TableColumn(label="Of net", kind="percent"), TableColumn(label="Minutes, quoted", kind="count"),
            TableColumn(label="Minutes, taken", kind="count", unknown="not all written down"),
            TableColumn(label="Kept, put right", kind="money"),
        ),
        foot=_kind_row("in all", every, currency),
        words="A job’s money is shared over its pieces by what each would cost alone, its minutes by what each would "
        "take alone.",
        empty="No job that was accepted has its event in this time.",
    )  # fmt: skip


def _kind_row(kind: str, shares: Sequence[Share], currency: str) -> Cells:
    net, cost, right = (
        add_up((getattr(share, name) for share in shares), currency) for name in ("net", "cost", "put_right")
    )  # fmt: skip
    took = [share.minutes_taken for share in shares if share.minutes_taken is not None]
    return (
        kind, len(shares), net, cost, net - cost, percent_text((net - cost).amount, net.amount),
        sum(share.minutes for share in shares), sum(took) if len(took) == len(shares) else None, right,
    )  # fmt: skip

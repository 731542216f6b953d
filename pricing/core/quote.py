"""Counts and minutes into a price: what it costs, what the studio keeps, what the client pays."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from pricing.core.book import Book
from pricing.core.money import Money, add_up, up_to_multiple
from pricing.core.need import Labour, Need
from pricing.core.tax import TaxGroup, TaxLine, Totals, work_out_totals

type CostKind = Literal[
    "materials", "labour", "hire", "travel", "venue", "extra", "overhead", "risk"
]
SPREAD = ("overhead", "risk")  # on everything else: they have no tax group of their own
HOUR = 60  # minutes
WORK_AT = "labour, "  # and the place
MULTIPLES = 100  # of the step, looked at for one that can be had
KMH = Decimal(40)  # on the road, door to door (common practice, no source)


class BeyondPrice(ValueError):
    """A discount larger than the price that it comes off, as a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What one job adds to the price book."""

    deposit_percent: Decimal
    travel_km: Decimal = Decimal(0)  # one way
    trips: int = 0  # there and back
    margin_percent: Decimal | None = None  # None: the book's
    extra: tuple[tuple[str, Money], ...] = ()
    discount: Money | None = None  # off the price, before tax
    tolls: Money | None = None  # and parking
    venue_cost: Money | None = None  # what the venue asks
    odd_hours: bool = False  # set up or taken down by night or at the weekend
    rush: bool = False  # at short notice
    strike_fee: Money | None = None  # for a late take-down; part of the price, not of the cost
    crew: int = 1  # people on the road


@dataclass(frozen=True, slots=True, kw_only=True)
class CostLine:
    label: str
    kind: CostKind
    quantity: Decimal
    unit: str
    unit_cost: Decimal  # for the eye; `cost` is worked out exactly and rounded once
    cost: Money


@dataclass(frozen=True, slots=True, kw_only=True)
class ClientFigures:
    """What the client may see: nothing of cost, margin or rates."""

    price: Money  # before discount and tax
    discount: Money
    net: Money
    groups: tuple[TaxLine, ...]
    tax: Money
    total: Money
    deposit: Money

    @property
    def balance(self) -> Money:
        return self.total - self.deposit


@dataclass(frozen=True, slots=True, kw_only=True)
class Quote:
    lines: tuple[CostLine, ...]
    unpriced: tuple[str, ...]  # labels of needs that the price book does not know
    cost: Money
    price: Money  # before discount and tax
    totals: Totals
    deposit: Money
    built_up: tuple[tuple[str, Money], ...] = ()  # how the price came about, step by step
    floor_margin_percent: Decimal = Decimal(0)

    @property
    def under_floor(self) -> bool:
        """Whether less stays than the studio wants to keep at the least."""
        return self.margin_percent < self.floor_margin_percent

    @property
    def is_complete(self) -> bool:
        return not self.unpriced

    @property
    def net(self) -> Money:
        return self.totals.net

    @property
    def margin(self) -> Money:
        """What is left of the net price after cost."""
        return self.net - self.cost

    @property
    def margin_percent(self) -> Decimal:
        """Margin as part of the net price, percent."""
        return self.margin.amount / self.net.amount * 100 if self.net else Decimal(0)

    @property
    def markup_percent(self) -> Decimal:
        """Margin as part of the cost, percent: never to be taken for the margin."""
        return self.margin.amount / self.cost.amount * 100 if self.cost else Decimal(0)

    def by_kind(self) -> tuple[tuple[CostKind, Money], ...]:
        """Cost by kind, in the order of the build-up."""
        kinds = dict.fromkeys(line.kind for line in self.lines)
        currency = self.cost.currency
        return tuple(
            (kind, add_up((x.cost for x in self.lines if x.kind == kind), currency))
            for kind in kinds
        )

    def for_client(self) -> ClientFigures:
        return ClientFigures(
            price=self.price,
            discount=self.totals.allowances,
            net=self.net,
            groups=self.totals.groups,
            tax=self.totals.tax,
            total=self.totals.total,
            deposit=self.deposit,
        )


def price_for(cost: Money, margin_percent: Decimal) -> Money:
    """The price of which the margin is that part: cost / (1 − margin). Margin is not markup.

    ValueError unless 0 ≤ margin < 100.

    >>> str(price_for(Money(Decimal(100), "GBP"), Decimal(40)).amount)
    '166.67'
    """
    if not 0 <= margin_percent < 100:
        raise ValueError(f"margin_percent: expected 0 or more and below 100, got {margin_percent}")
    return Money(cost.amount / (1 - margin_percent / 100), cost.currency)


def make_quote(needs: Sequence[Need], labour: Sequence[Labour], book: Book, terms: Terms) -> Quote:
    """Materials and spoil, labour, hire, travel, venue, extras, then overhead and risk on all of it.

    Then margin, minimum charge, rush, late take-down, rounding up, discount, tax. Spares count as used: what is
    carried is paid for. BeyondPrice when the discount exceeds the price.
    """
    lines = [*_direct(needs, labour, book, terms)]
    lines += _share(lines, "overhead", book.rates.overhead_percent, book)
    lines += _share(lines, "risk", book.rates.risk_percent, book)
    cost = add_up((line.cost for line in lines), book.currency)
    steps = list(_build_up(cost, book, terms))
    price = add_up((step for _, step in steps), book.currency)
    if more := _rounding_up(price, lines, book):
        steps.append(
            ("rounded up, its tax included" if book.rates.tax_inside else "rounded up", more)
        )
        price += more
    discount = terms.discount or Money(Decimal(0), book.currency)
    if discount > price:
        raise BeyondPrice(
            f"Discount: expected at most the price of {price.amount}, got {discount.amount}."
        )
    totals = _totals(price, discount, lines, book)
    return Quote(
        lines=tuple(lines),
        unpriced=tuple(dict.fromkeys(need.label for need in needs if book.find(need.key) is None)),
        cost=cost,
        price=price,
        totals=totals,
        deposit=totals.total.percent(terms.deposit_percent),
        built_up=tuple(steps),
        floor_margin_percent=book.rates.floor_margin_percent,
    )


def _direct(
    needs: Sequence[Need], labour: Sequence[Labour], book: Book, terms: Terms
) -> Iterator[CostLine]:
    """Everything that is spent on this job by itself."""
    materials = list(_materials(needs, book, "consumable"))
    yield from materials
    if book.rates.spoil_percent and materials:
        spent = add_up((line.cost for line in materials), book.currency)
        yield _line(
            "spoil",
            "materials",
            spent.amount,
            "of cost",
            Fraction(book.rates.spoil_percent) / 100,
            book,
        )
    yield from _labour(labour, book, odd_hours=terms.odd_hours)
    yield from _materials(needs, book, "hire")
    yield from _travel(book, terms)
    if terms.venue_cost:
        yield _once("venue’s charges", "venue", terms.venue_cost, book)
    for label, money in terms.extra:
        yield _once(label, "extra", money, book)


def _build_up(cost: Money, book: Book, terms: Terms) -> Iterator[tuple[str, Money]]:
    """From cost to price, in steps that add up to it."""
    margin = book.rates.margin_percent if terms.margin_percent is None else terms.margin_percent
    price = price_for(cost, margin)
    yield "cost", cost
    yield "margin", price - cost
    least = Money(book.rates.minimum_charge, book.currency)
    if least > price:
        yield "to the minimum charge", least - price
        price = least
    if terms.rush and book.rates.rush_percent:
        more = price.percent(book.rates.rush_percent)
        yield "short notice", more
        price += more
    if terms.strike_fee:
        yield "late take-down", terms.strike_fee
        price += terms.strike_fee


def _rounding_up(price: Money, lines: Sequence[CostLine], book: Book) -> Money:
    """What brings the price up to a multiple that reads well: itself, or with its tax in it.

    Not every sum is a net price and its tax to the minor unit (with 20 % none makes 99.99): then the
    next multiple that is.
    """
    step, nothing = book.rates.round_to, Money(Decimal(0), book.currency)
    if not step:
        return nothing
    if not book.rates.tax_inside:
        return Money(up_to_multiple(price.amount, step), book.currency) - price
    total = _totals(price, nothing, lines, book).total.amount
    share = total / price.amount if price else Decimal(1)
    for wanted in (up_to_multiple(total, step) + n * step for n in range(MULTIPLES)):
        near = Money(wanted / share, book.currency)
        for cents in (0, 1, -1, 2, -2):
            net = near + Money.of_minor(cents, book.currency)
            if net >= price and _totals(net, nothing, lines, book).total.amount == wanted:
                return net - price
    return nothing


def _totals(price: Money, discount: Money, lines: Sequence[CostLine], book: Book) -> Totals:
    return work_out_totals(
        _by_tax(price, lines, book),
        currency=book.currency,
        allowances=_by_tax(discount, lines, book) if discount else (),
        rounding="line" if book.rates.tax_by_line else "document",
    )


def _by_tax(amount: Money, lines: Sequence[CostLine], book: Book) -> list[tuple[Money, TaxGroup]]:
    """An amount over the tax groups, in the shares that each has in the cost; nothing is lost."""
    weights: dict[TaxGroup, int] = {}
    for line in lines:
        if line.kind not in SPREAD:
            group = book.tax_of(line.kind)
            weights[group] = weights.get(group, 0) + line.cost.minor
    if not any(weights.values()):
        return [(amount, book.tax)]
    return list(zip(amount.share(list(weights.values())), weights, strict=True))


def _line(
    label: str, kind: CostKind, quantity: Decimal, unit: str, unit_cost: Fraction, book: Book
) -> CostLine:
    """One line. A rate by the hour is no round sum by the minute, so it stays a fraction until it is multiplied."""
    return CostLine(
        label=label, kind=kind, quantity=quantity, unit=unit,
        unit_cost=Decimal(unit_cost.numerator) / unit_cost.denominator,
        cost=Money.exact(Fraction(quantity) * unit_cost, book.currency),
    )  # fmt: skip


def _materials(needs: Sequence[Need], book: Book, use: str) -> Iterator[CostLine]:
    kind: CostKind = "hire" if use == "hire" else "materials"
    for need in needs:
        found = book.find(need.key) if need.use == use else None
        if found:
            carried = need.quantity + need.spare
            if book.rates.whole_packs and use == "consumable":
                carried = up_to_multiple(carried, found.pack_count)
            yield _line(need.label, kind, carried, need.unit, found.unit_cost, book)


def _labour(labour: Sequence[Labour], book: Book, *, odd_hours: bool) -> Iterator[CostLine]:
    rates = {"workshop": book.rates.workshop_hour, "site": book.rates.site_hour}
    for place, hour in rates.items():
        minutes = sum((w.minutes for w in labour if w.place == place), Decimal(0))
        if not minutes:
            continue
        minute = Fraction(hour) / HOUR
        yield _line(f"{WORK_AT}{place}", "labour", minutes, "min", minute, book)
        if odd_hours and place == "site" and book.rates.odd_hours_percent:
            more = minute * Fraction(book.rates.odd_hours_percent) / 100
            yield _line("by night or at the weekend", "labour", minutes, "min", more, book)


def _travel(book: Book, terms: Terms) -> Iterator[CostLine]:
    driven = terms.travel_km * 2 * terms.trips
    if driven:
        yield _line("travel", "travel", driven, "km", Fraction(book.rates.travel_km), book)
        if book.rates.travel_hour:
            minutes = driven / KMH * 60 * terms.crew
            minute = Fraction(book.rates.travel_hour) / HOUR
            yield _line("time on the road", "travel", minutes, "min", minute, book)
    if terms.tolls:
        yield _once("tolls and parking", "travel", terms.tolls, book)


def _once(label: str, kind: CostKind, money: Money, book: Book) -> CostLine:
    return _line(label, kind, Decimal(1), "each", Fraction(money.amount), book)


def _share(
    lines: Sequence[CostLine], kind: CostKind, percent: Decimal, book: Book
) -> Iterator[CostLine]:
    """A percentage on everything so far."""
    if percent:
        base = add_up((line.cost for line in lines), book.currency)
        yield _line(kind, kind, base.amount, "of cost", Fraction(percent) / 100, book)

"""What to buy: the cheapest packs and mixed kits that cover what is needed, in time."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_CEILING, Decimal
from fractions import Fraction
from functools import cached_property
from hashlib import sha256

from pricing.core.money import round_half_up
from pricing.stores.plan.covering import Case, Charge, Counts, Cover, Leftover, PackChoice
from pricing.stores.plan.greedy import line_by_line, trimmed
from pricing.stores.plan.shortage import short_by_day
from pricing.stores.plan.solver import cheapest
from pricing.stores.plan.wares import (
    Amounts,
    Bought,
    ComingSupply,
    Demand,
    Found,
    Grade,
    MissingSupply,
    PackOffer,
    Plan,
    PlannedOrder,
    Reason,
    SupplierTerms,
    exact_amount,
    whole_amount,
)

__all__ = [
    "Bought",
    "ComingSupply",
    "Demand",
    "Found",
    "Grade",
    "MissingSupply",
    "PackOffer",
    "Plan",
    "PlannedOrder",
    "SupplierTerms",
    "plan",
]

NOTHING: Amounts = {}


def plan(
    demands: Iterable[Demand],
    packs: Sequence[PackOffer],
    suppliers: Iterable[SupplierTerms],
    *,
    on: date,
    stock: Amounts = NOTHING,
    on_order: Iterable[ComingSupply] = (),
    value_of_leftover: Decimal = Decimal(0),
    used_later: Amounts = NOTHING,
    promised: Iterable[Demand] = (),
    time_limit_s: float = 10,
    floor_grade: Grade | None = None,
    found: Found | None = None,
) -> Plan:
    """The cheapest orders, all placed on one day, that cover the demands less stock and on order.

    All money is in one currency. Stock, then what is on order from its day on, serve the earliest demands
    first; what is `promised` elsewhere is left to it, or made good by its day. A leftover is worth
    `value_of_leftover`, a part of the lowest price at which it is sold, for as many as `used_later` says and
    stock does not hold. Graded packs below `floor_grade` are passed over. What cannot be covered is `missing`.
    Never dearer than each line alone. What was `found` for the same question is taken again. Raises ValueError.

    >>> sold = ((25, "6.50"), (50, "12.00"), (100, "21.00"))
    >>> packs = [Pack(id=f"s{n}", supplier="A", contents={"sage": n}, price=Decimal(p)) for n, p in sold]
    >>> made = plan([Demand(key="sage", quantity=130)], packs, [Supplier(name="A")], on=date.today())
    >>> made.total, [(line.pack.id, line.count) for line in made.bought], made.left, made.proven
    (Decimal('33.00'), [('s50', 1), ('s100', 1)], {'sage': 20}, True)
    """
    shops = {supplier.name: supplier for supplier in suppliers}
    _check(packs, shops, stock, used_later, value_of_leftover)
    needs = _still_needed(demands, promised, stock, on_order)
    offers = [pack for pack in packs if pack.in_force(on) and _good_enough(pack, floor_grade)]
    rows, missing = _rows(needs, packs, offers, on)
    worths = _worths(offers, needs, value_of_leftover, used_later)
    task = _task(rows, _to_choose_from(offers, rows, needs, shops), shops, worths)
    question = sha256(repr((task, missing, on)).encode()).hexdigest()
    counts, bound = task.again(found, question) or cheapest(task.case, task.alone, time_limit_s)
    return Plan(
        orders=_orders(task.packs, counts, shops, rows, on),
        missing=tuple(missing),
        from_stock=needs.from_stock,
        from_on_order=needs.from_on_order,
        total=task.cost(counts),
        leftovers_worth=task.worth(counts),
        saves=task.net(task.alone) - task.net(counts),
        gap=task.gap(counts, bound),
        question=question,
    )


def _check(
    packs: Iterable[PackOffer],
    shops: Mapping[str, SupplierTerms],
    stock: Amounts,
    used_later: Amounts,
    part: Decimal,
) -> None:
    for pack in packs:
        if pack.supplier not in shops:
            raise ValueError(
                f"supplier of {pack.id}: expected one of {', '.join(shops)}, got {pack.supplier}"
            )
    amounts = {"stock": stock, "used_later": used_later}
    for what, held in amounts.items():
        for key, many in held.items():
            whole_amount(f"{what} of {key}", many)
    exact_amount("value_of_leftover", part)
    if part > 1:
        raise ValueError(f"value_of_leftover: expected a part from 0 to 1, got {part}")


def _good_enough(pack: PackOffer, floor: Grade | None) -> bool:
    return floor is None or pack.grade is None or pack.grade >= floor


@dataclass(frozen=True, slots=True, kw_only=True)
class _Needs:
    """What is to be bought, after what the studio has or has coming."""

    keys: frozenset[str]  # all that is asked for, covered already or not
    open: Mapping[str, Sequence[tuple[date, int]]]  # by day, the earliest first
    over: Amounts  # of stock and on order, beyond the demands
    from_stock: Amounts
    from_on_order: Amounts


def _still_needed(
    demands: Iterable[Demand],
    promised: Iterable[Demand],
    stock: Amounts,
    on_order: Iterable[ComingSupply],
) -> _Needs:
    asked, elsewhere = _by_day(demands), _by_day(promised)
    arrivals: dict[str, Counter[date]] = defaultdict(Counter)
    for order in on_order:
        arrivals[order.key][order.on] += order.quantity
    still: dict[str, list[tuple[date, int]]] = {}
    from_stock: Counter[str] = Counter()
    from_on_order: Counter[str] = Counter()
    for key, days in asked.items():
        shelf = stock.get(key, 0)
        short = short_by_day(days, elsewhere[key], shelf, arrivals[key])
        if short.days:
            still[key] = short.days
        had = days.total() - sum(many for _, many in short.days)
        from_stock[key] = min(had, max(shelf - short.kept, 0))
        from_on_order[key] = had - from_stock[key]
    coming = Counter({key: days.total() for key, days in arrivals.items()})
    return _Needs(
        keys=frozenset(asked),
        open=still,
        over=Counter(stock) + coming - from_stock - from_on_order,
        from_stock=+from_stock,
        from_on_order=+from_on_order,
    )


def _by_day(demands: Iterable[Demand]) -> dict[str, Counter[date]]:
    by_key: dict[str, Counter[date]] = defaultdict(Counter)
    for demand in demands:
        by_key[demand.key][demand.needed_by or date.max] += demand.quantity
    return by_key


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """So much of a key by a day, the days before included, out of these offers."""

    key: str
    need: int
    offers: tuple[int, ...]


def _rows(
    needs: _Needs, packs: Sequence[PackOffer], offers: Sequence[PackOffer], on: date
) -> tuple[list[_Row], list[MissingSupply]]:
    """What the offers have to cover, and what they cannot. One row for days that the same offers serve."""
    holders: dict[str, list[int]] = defaultdict(list)
    for i, pack in enumerate(offers):
        for key in pack.contents:
            holders[key].append(i)
    rows, missing = [], []
    for key, days in needs.open.items():
        by_offers: dict[tuple[int, ...], int] = {}
        total = 0
        for day, many in days:
            in_time = tuple(i for i in holders[key] if offers[i].arrives(on) <= day)
            if in_time:
                total += many
                by_offers[in_time] = total
                continue
            reason, earliest = _why_not(key, packs, [offers[i] for i in holders[key]], on)
            missing.append(
                MissingSupply(
                    key=key,
                    quantity=many,
                    needed_by=None if day == date.max else day,
                    reason=reason,
                    earliest=earliest,
                )
            )
        rows += [_Row(key=key, need=n, offers=held) for held, n in by_offers.items()]
    return rows, missing


def _why_not(
    key: str, packs: Iterable[PackOffer], offers: Sequence[PackOffer], on: date
) -> tuple[Reason, date | None]:
    if offers:
        return "too late", min(pack.arrives(on) for pack in offers)
    known = [pack for pack in packs if key in pack.contents]
    if any(pack.in_force(on) for pack in known):
        return "grade too low", None
    return ("price not in force" if known else "no pack"), None


def _worths(
    offers: Iterable[PackOffer], needs: _Needs, part: Decimal, used_later: Amounts
) -> dict[str, tuple[int, Fraction]]:
    """For keys of which leftovers will be used: of how many, and what each is worth.

    The lowest price a piece of the packs that hold nothing else; where there are none, of the kits.
    """
    rates: dict[str, tuple[bool, Fraction]] = {}
    for pack in offers:
        rate = len(pack.contents) > 1, Fraction(pack.price) / sum(pack.contents.values())
        for key in pack.contents:
            rates[key] = min(rate, rates.get(key, rate))
    more = {key: many - needs.over.get(key, 0) for key, many in used_later.items()}
    return {
        key: (many, rates[key][1] * Fraction(part))
        for key, many in more.items()
        if part and many > 0 and key in rates
    }


def _places(amount: Decimal) -> int:
    exponent = amount.as_tuple().exponent
    return -min(exponent, 0) if isinstance(exponent, int) else 0


def _to_choose_from(
    offers: Sequence[PackOffer],
    rows: Iterable[_Row],
    needs: _Needs,
    shops: Mapping[str, SupplierTerms],
) -> dict[int, PackOffer]:
    """Offers that cover something, and others of what is asked for that can fill up an order."""
    covering = {i for row in rows for i in row.offers}
    return {
        i: pack
        for i, pack in enumerate(offers)
        if i in covering
        or (covering and shops[pack.supplier].minimum and needs.keys & pack.contents.keys())
    }


@dataclass(frozen=True, kw_only=True)
class _Task:
    """The programme in whole minor units, and the way back."""

    case: Case
    packs: tuple[PackOffer, ...]  # as the case numbers its choices
    places: int  # decimal places of a minor unit

    @cached_property
    def alone(self) -> Counts:
        """Each line's cheapest packs, without an eye for the others."""
        return trimmed(self.case, line_by_line(self.case))

    def cost(self, counts: Counts) -> Decimal:
        return Decimal(self.case.cost(counts)).scaleb(-self.places)

    def worth(self, counts: Counts) -> Decimal:
        worth = self.case.worth(counts)
        minor = round_half_up(Decimal(worth.numerator) / worth.denominator, 0)
        return minor.scaleb(-self.places)

    def net(self, counts: Counts) -> Decimal:
        return self.cost(counts) - self.worth(counts)

    def again(self, found: Found | None, question: str) -> tuple[Counts, Fraction] | None:
        """What was found before, and a net cost below which none lies; None where it is no plan for the question."""
        if found is None or found.question != question:
            return None
        counts = tuple(found.counts.get(pack.id, 0) for pack in self.packs)
        return (counts, -self.case.most_worth) if self.case.holds(counts) else None

    def gap(self, counts: Counts, bound: Fraction) -> Decimal:
        """To four places, never less than it is."""
        gap = (self.case.net(counts) - bound) / max(self.case.cost(counts), 1)
        exact_gap = Decimal(gap.numerator) / gap.denominator
        return exact_gap.quantize(Decimal("0.0001"), rounding=ROUND_CEILING)


def _task(
    rows: Sequence[_Row],
    offers: Mapping[int, PackOffer],
    shops: Mapping[str, SupplierTerms],
    worths: Mapping[str, tuple[int, Fraction]],
) -> _Task:
    at = {offer: i for i, offer in enumerate(offers)}
    charges = [amount for shop in shops.values() for amount in (shop.delivery, shop.minimum)]
    places = max(map(_places, (*charges, *(pack.price for pack in offers.values()))), default=0)
    needs = {row.key: row.need for row in rows}
    held = {key for pack in offers.values() for key in pack.contents}
    number = {name: s for s, name in enumerate(shops)}

    def minor(amount: Decimal) -> int:
        return int(amount.scaleb(places))

    def choice(pack: PackOffer) -> PackChoice:
        contents = {k: n for k, n in pack.contents.items() if k in needs or k in worths}
        supplier = number[pack.supplier]
        price = minor(pack.price)
        return PackChoice(price=price, contents=contents, supplier=supplier, minimum=pack.minimum)

    case = Case(
        choices=tuple(choice(pack) for pack in offers.values()),
        covers=tuple(
            Cover(key=row.key, need=row.need, choices=tuple(at[i] for i in row.offers))
            for row in rows
        ),
        charges=tuple(
            Charge(delivery=minor(shop.delivery), minimum=minor(shop.minimum))
            for shop in shops.values()
        ),
        needs=needs,
        leftovers={
            key: Leftover(at_most=many, each=each * 10**places)
            for key, (many, each) in worths.items()
            if key in held
        },
    )
    return _Task(case=case, packs=tuple(offers.values()), places=places)


def _orders(
    packs: Sequence[PackOffer],
    counts: Counts,
    shops: Mapping[str, SupplierTerms],
    rows: Sequence[_Row],
    on: date,
) -> tuple[PlannedOrder, ...]:
    """The orders by supplier. What comes first covers first; of what comes together, kits and large packs."""
    still = Counter({row.key: row.need for row in rows})
    bought: dict[str, dict[int, Bought]] = defaultdict(dict)
    for i in sorted(
        (i for i, count in enumerate(counts) if count),
        key=lambda i: (
            packs[i].lead_days,
            -len(packs[i].contents),
            -sum(packs[i].contents.values()),
        ),
    ):
        pack, count = packs[i], counts[i]
        held = {key: many * count for key, many in pack.contents.items()}
        covers = {key: min(many, still[key]) for key, many in held.items() if still[key]}
        still.subtract(covers)
        bought[pack.supplier][i] = Bought(
            pack=pack,
            count=count,
            cost=pack.price * count,
            arrives=pack.arrives(on),
            covers=covers,
            left=dict(Counter(held) - Counter(covers)),
        )
    return tuple(
        PlannedOrder(supplier=shop, lines=tuple(line for _, line in sorted(bought[name].items())))
        for name, shop in shops.items()
        if name in bought
    )

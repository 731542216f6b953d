"""Buying plans against computed optima, searches that try everything, and laws."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from itertools import product
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pricing.stores.plan import solver
from pricing.stores.plan.buying import (
    ComingSupply,
    Demand,
    Found,
    Grade,
    MissingSupply,
    PackOffer,
    Plan,
    SupplierTerms,
    plan,
)
from tests.bench_buying import Scene, a_month, a_scene
from tests.depth import examples

TODAY = date(2026, 3, 2)
SHOP = SupplierTerms(name="North")
NO_SUPPLIES: Mapping[str, int] = {}


def in_days(days: int) -> date:
    return TODAY + timedelta(days=days)


def a_pack(id: str, price: str, **facts: Any) -> PackOffer:
    contents = {k: v for k, v in facts.items() if k in ("w", "p", "g", "white", "blush", "tie")}
    rest = {k: v for k, v in facts.items() if k not in contents}
    return PackOffer(
        id=id, **{"supplier": "North", "contents": contents, "price": Decimal(price), **rest}
    )


def bought(made: Plan) -> dict[str, int]:
    return {line.pack.id: line.count for line in made.bought}


def need(**quantities: int) -> list[Demand]:
    return [Demand(key=key, quantity=quantity) for key, quantity in quantities.items()]


MIXED = [
    a_pack("w25", "6.50", w=25),
    a_pack("w100", "22.00", w=100),
    a_pack("p25", "7.00", p=25),
    a_pack("p50", "12.50", p=50),
    a_pack("g10", "8.00", g=10),
    a_pack("kitA", "24.00", w=50, p=30, g=10),
    a_pack("kitB", "15.00", w=20, p=20, g=5),
]


def test_mixed_kits_and_packs_come_out_at_the_computed_optimum() -> None:
    # Computed: OR-Tools CP-SAT, and trying everything agrees.
    made = plan(need(w=130, p=85, g=18), MIXED, [SHOP], on=TODAY)
    assert made.total == Decimal("68.00")
    assert bought(made) == {"w25": 2, "p25": 1, "kitA": 2}
    assert made.proven


def test_three_sizes_of_one_pack_come_out_at_the_computed_optimum() -> None:
    packs = [a_pack("25", "6.50", w=25), a_pack("50", "12.00", w=50), a_pack("100", "21.00", w=100)]
    made = plan(need(w=130), packs, [SHOP], on=TODAY)
    assert (made.total, bought(made), made.saves) == (Decimal("33.00"), {"50": 1, "100": 1}, 0)


def test_each_pack_says_what_it_covers_and_what_is_left() -> None:
    made = plan(need(w=130, p=85, g=18), MIXED, [SHOP], on=TODAY)
    lines = {line.pack.id: line for line in made.bought}
    assert lines["kitA"].covers == {"w": 100, "p": 60, "g": 18}
    assert lines["kitA"].left == {"g": 2}
    assert lines["kitA"].cost == Decimal("48.00")
    assert (lines["w25"].covers, lines["w25"].left) == ({"w": 30}, {"w": 20})
    assert (lines["p25"].covers, lines["p25"].left) == ({"p": 25}, {})
    assert made.left == {"g": 2, "w": 20}


def test_the_saving_is_against_each_line_alone() -> None:
    # Alone: w 22 + 2 × 6.50 = 35, p 12.50 + 2 × 7 = 26.50 or 2 × 12.50 = 25, g 2 × 8 = 16.
    made = plan(need(w=130, p=85, g=18), MIXED, [SHOP], on=TODAY)
    assert made.saves == Decimal("76.00") - Decimal("68.00")


def test_stock_then_what_is_on_order_are_used_first() -> None:
    made = plan(
        need(w=130), MIXED[:2], [SHOP], on=TODAY, stock={"w": 70},
        on_order=[ComingSupply(key="w", quantity=40, on=TODAY), ComingSupply(key="p", quantity=9, on=TODAY)],
    )  # fmt: skip
    assert (made.from_stock, made.from_on_order) == ({"w": 70}, {"w": 40})
    assert bought(made) == {"w25": 1}
    assert made.left == {"w": 5}


def test_what_is_on_order_serves_from_the_day_on_which_it_comes() -> None:
    # Own arithmetic: 10 come on the fifth day; 10 are asked for on the fourth, 10 on the sixth.
    packs = [a_pack("ten", "4.00", w=10)]
    later = [ComingSupply(key="w", quantity=10, on=in_days(5))]
    asked = [Demand(key="w", quantity=10, needed_by=in_days(day)) for day in (4, 6)]
    made = plan(asked, packs, [SHOP], on=TODAY, on_order=later)
    assert (bought(made), made.from_on_order) == ({"ten": 1}, {"w": 10})
    one = plan(asked[:1], packs, [SHOP], on=TODAY, on_order=later)
    assert (bought(one), one.from_on_order) == ({"ten": 1}, {})
    late = plan(asked[1:], packs, [SHOP], on=TODAY, on_order=later)
    assert (late.orders, late.from_on_order) == ((), {"w": 10})
    soon = plan(asked[:1], packs, [SHOP], on=TODAY, on_order=[replace(later[0], on=in_days(4))])
    assert soon.orders == ()


def test_what_the_shelf_holds_buys_nothing() -> None:
    made = plan(need(w=130), MIXED, [SHOP], on=TODAY, stock={"w": 130})
    assert (made.orders, made.total, made.gap, made.saves) == ((), 0, 0, 0)


def test_one_delivery_can_be_dearer_than_dearer_packs() -> None:
    packs = [
        a_pack("w", "10.00", w=50),
        a_pack("p", "9.00", p=50, supplier="South"),
        a_pack("p'", "12.00", p=50),
    ]
    shops = [
        SupplierTerms(name="North", delivery=Decimal("5.00")),
        SupplierTerms(name="South", delivery=Decimal("5.00")),
    ]
    made = plan(need(w=50, p=50), packs, shops, on=TODAY)
    assert (bought(made), made.total, made.saves) == (
        {"w": 1, "p'": 1},
        Decimal("27.00"),
        Decimal("2.00"),
    )
    [order] = made.orders
    assert (order.goods, order.total) == (Decimal("22.00"), Decimal("27.00"))


def test_an_order_reaches_the_minimum_in_the_cheapest_way() -> None:
    packs = [a_pack("small", "4.00", w=10), a_pack("large", "21.00", w=100)]
    made = plan(
        need(w=10), packs, [SupplierTerms(name="North", minimum=Decimal("20.00"))], on=TODAY
    )
    assert (bought(made), made.total) == ({"small": 5}, Decimal("20.00"))


def test_an_order_is_filled_up_with_what_the_jobs_use_if_nothing_else_is_cheaper() -> None:
    packs = [a_pack("w", "19.00", w=10), a_pack("p", "2.00", p=10), a_pack("g", "1.00", g=10)]
    shop = SupplierTerms(name="North", minimum=Decimal("20.00"))
    made = plan(need(w=10, p=10), packs, [shop], on=TODAY, stock={"p": 10})
    assert (bought(made), made.left) == ({"w": 1, "p": 1}, {"p": 10})  # g is in no job


def test_packs_that_come_too_late_do_not_count() -> None:
    packs = [a_pack("slow", "5.00", w=50, lead_days=10), a_pack("fast", "9.00", w=50, lead_days=2)]
    demands = [
        Demand(key="w", quantity=40, needed_by=in_days(5)),
        Demand(key="w", quantity=60, needed_by=in_days(10)),
    ]
    made = plan(demands, packs, [SHOP], on=TODAY)
    assert bought(made) == {"slow": 1, "fast": 1}
    assert {line.pack.id: line.arrives for line in made.bought} == {
        "slow": in_days(10),
        "fast": in_days(2),
    }
    soon = plan([replace(d, needed_by=in_days(9)) for d in demands], packs, [SHOP], on=TODAY)
    assert bought(soon) == {"fast": 2}


def test_the_shelf_serves_the_earliest_demand() -> None:
    packs = [a_pack("slow", "5.00", w=50, lead_days=10), a_pack("fast", "9.00", w=50, lead_days=2)]
    demands = [
        Demand(key="w", quantity=40, needed_by=in_days(20)),
        Demand(key="w", quantity=40, needed_by=in_days(5)),
    ]
    assert bought(plan(demands, packs, [SHOP], on=TODAY, stock={"w": 40})) == {"slow": 1}


def test_client_work_takes_no_pack_below_its_grade() -> None:
    packs = [
        a_pack("party", "5.00", w=50, grade=Grade.PARTY),
        a_pack("pro", "9.00", w=50, grade=Grade.PROFESSIONAL),
        a_pack("tie", "2.00", tie=100),
    ]
    assert bought(plan(need(w=50, tie=1), packs, [SHOP], on=TODAY)) == {"party": 1, "tie": 1}
    made = plan(need(w=50, tie=1), packs, [SHOP], on=TODAY, floor_grade=Grade.PROFESSIONAL)
    assert bought(made) == {"pro": 1, "tie": 1}


def test_a_price_holds_from_its_first_day_to_its_last() -> None:
    packs = [
        a_pack("now", "9.00", w=50, valid_from=in_days(-9), valid_until=TODAY),
        a_pack("past", "5.00", w=50, valid_until=in_days(-1)),
        a_pack("to come", "5.00", w=50, valid_from=in_days(1)),
    ]
    assert bought(plan(need(w=50), packs, [SHOP], on=TODAY)) == {"now": 1}


def test_a_pack_sold_by_the_dozen_is_bought_by_the_dozen_or_not_at_all() -> None:
    packs = [a_pack("one", "3.00", w=10), a_pack("many", "2.00", w=10, minimum=12)]
    assert bought(plan(need(w=70), packs, [SHOP], on=TODAY)) == {"one": 7}
    assert bought(plan(need(w=90), packs, [SHOP], on=TODAY)) == {"many": 12}
    assert bought(plan(need(w=140), packs, [SHOP], on=TODAY)) == {"many": 14}


def test_what_cannot_be_had_is_named_with_its_reason_and_the_rest_is_planned() -> None:
    packs = [
        a_pack("w50", "9.00", w=50, lead_days=7),
        a_pack("p50", "9.00", p=50, valid_until=in_days(-1)),
        a_pack("g50", "9.00", g=50, grade=Grade.PARTY),
    ]
    demands = [
        *need(p=5, g=6, tie=7, w=40),
        Demand(key="w", quantity=30, needed_by=in_days(3)),
        Demand(key="w", quantity=20, needed_by=in_days(7)),
    ]
    made = plan(demands, packs, [SHOP], on=TODAY, stock={"w": 10}, floor_grade=Grade.PROFESSIONAL)
    assert {m.key: (m.quantity, m.needed_by, m.reason, m.earliest) for m in made.missing} == {
        "p": (5, None, "price not in force", None),
        "g": (6, None, "grade too low", None),
        "tie": (7, None, "no pack", None),
        "w": (20, in_days(3), "too late", in_days(7)),
    }
    assert bought(made) == {"w50": 2}
    assert made.bought[0].covers == {"w": 60}
    assert made.from_stock == {"w": 10}


def test_leftovers_that_will_be_used_count_and_no_more_of_them() -> None:
    packs = [a_pack("50", "10.00", w=50), a_pack("100", "14.00", w=100)]
    facts: dict[str, Any] = {"on": TODAY, "value_of_leftover": Decimal("0.9")}
    assert bought(plan(need(w=50), packs, [SHOP], **facts)) == {"50": 1}
    few = plan(need(w=50), packs, [SHOP], used_later={"w": 31}, **facts)
    assert bought(few) == {"50": 1}  # 31 × 0.14 × 0.9 = 3.91: not worth 4.00
    some = plan(need(w=50), packs, [SHOP], used_later={"w": 32}, **facts)
    assert bought(some) == {"100": 1}  # 32 × 0.14 × 0.9 = 4.03
    assert (some.total, some.leftovers_worth, some.saves) == (
        Decimal("14.00"),
        Decimal("4.03"),
        Decimal("0.03"),
    )
    shelf = plan(need(w=50), packs, [SHOP], used_later={"w": 32}, stock={"w": 50}, **facts)
    assert shelf.orders == ()


# Own arithmetic: 46 lie there, 46 are promised elsewhere, 46 are asked for.
@pytest.mark.parametrize(
    ("ours", "theirs", "counts", "stock"),
    [(30, 9, {"fast": 1}, {}), (9, 30, {"slow": 1}, {}), (9, 9, {"fast": 1}, {}), (9, 30, {}, {"w": 92})],
)  # fmt: skip
def test_what_is_promised_elsewhere_is_left_or_made_good_by_its_day(
    ours: int, theirs: int, counts: dict[str, int], stock: dict[str, int]
) -> None:
    packs = [a_pack("slow", "5.00", w=50, lead_days=10), a_pack("fast", "9.00", w=50, lead_days=2)]
    made = plan(
        [Demand(key="w", quantity=46, needed_by=in_days(ours))],
        packs if ours < 30 else packs[1:],
        [SHOP],
        on=TODAY,
        stock=stock or {"w": 46},
        promised=[Demand(key="w", quantity=46, needed_by=in_days(theirs))],
    )
    assert (bought(made), made.missing) == (counts, ())
    assert made.from_stock == ({} if counts else {"w": 46})


def test_what_others_lack_in_any_case_is_theirs_to_buy() -> None:
    others = [Demand(key="w", quantity=60, needed_by=in_days(9))]
    made = plan(need(w=20), MIXED[:2], [SHOP], on=TODAY, stock={"w": 50}, promised=others)
    assert (bought(made), made.from_stock) == ({"w25": 1}, {})


def test_prices_in_parts_of_a_penny_add_up_exactly() -> None:
    made = plan(
        need(w=7, tie=3), [a_pack("w", "0.105", w=1), a_pack("t", "1", tie=1)], [SHOP], on=TODAY
    )
    assert made.total == Decimal("3.735")


# --- trying everything -------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Setting:
    demands: list[Demand]
    packs: list[PackOffer]
    suppliers: list[SupplierTerms]
    stock: dict[str, int]
    on_order: list[ComingSupply]
    part: Decimal
    later: dict[str, int]
    promised: list[Demand] = field(default_factory=list)

    def made(self, **facts: Any) -> Plan:
        held = {"stock": self.stock, "on_order": self.on_order, **facts}
        return plan(
            self.demands,
            self.packs,
            self.suppliers,
            on=TODAY,
            value_of_leftover=self.part,
            used_later=self.later,
            promised=self.promised,
            **held,
        )


@st.composite
def small_settings(draw: st.DrawFn, *, leftovers: bool = True) -> Setting:
    keys = ["white", "blush", "tie"][: draw(st.integers(1, 3))]
    few = st.integers(0, 4)
    days = st.none() | st.integers(0, 3).map(in_days)
    some = st.dictionaries(st.sampled_from(keys), st.integers(1, 6), min_size=1)
    pounds = st.integers(0, 12).map(Decimal)
    packs = [
        PackOffer(
            id=str(n), supplier=draw(st.sampled_from(["North", "South"])), contents=draw(some),
            price=draw(st.integers(4, 30)) / Decimal(2), lead_days=draw(st.integers(0, 2)),
            minimum=draw(st.sampled_from([1, 1, 1, 2])),
        )
        for n in range(draw(st.integers(1, 4)))
    ]  # fmt: skip
    return Setting(
        demands=[
            Demand(key=key, quantity=draw(st.integers(0, 9)), needed_by=draw(days))
            for key in keys
            for _ in range(draw(st.integers(1, 2)))
        ],
        packs=packs,
        suppliers=[
            SupplierTerms(name=name, delivery=draw(pounds), minimum=draw(pounds))
            for name in ("North", "South")
        ],
        stock=draw(st.dictionaries(st.sampled_from(keys), few)),
        on_order=[
            ComingSupply(
                key=draw(st.sampled_from(keys)),
                quantity=draw(few),
                on=in_days(draw(st.integers(0, 4))),
            )
            for _ in range(draw(st.integers(0, 3)))
        ],
        part=Decimal(draw(st.sampled_from(["0", "0.7", "1"]))) if leftovers else Decimal(0),
        later=draw(st.dictionaries(st.sampled_from(keys), few)),
        promised=[
            Demand(key=draw(st.sampled_from(keys)), quantity=draw(few), needed_by=draw(days))
            for _ in range(draw(st.integers(0, 2)))
        ],
    )


def open_needs(setting: Setting, made: Plan) -> list[tuple[str, date, int]]:
    """By key and day: what has to have been bought by then, the missing left out.

    Those to whom something is promised buy what they would have lacked in any case, by the day they lack it.
    """
    needs = []
    for key in {demand.key for demand in setting.demands}:
        ours = [d for d in setting.demands if d.key == key]
        theirs = [d for d in setting.promised if d.key == key]
        missing = [m for m in made.missing if m.key == key]
        bought_by_them = most = 0
        for day in sorted({d.needed_by or date.max for d in ours + theirs}):
            came = sum(c.quantity for c in setting.on_order if c.key == key and c.on <= day)
            lie_there = setting.stock.get(key, 0) + came
            bought_by_them = max(bought_by_them, until(theirs, day) - lie_there)
            short = until(ours + theirs, day) - lie_there - bought_by_them
            if short > most:
                most = short
                needs.append((key, day, short - until(missing, day)))
    return needs


def until(asked: Iterable[Demand | MissingSupply], day: date) -> int:
    return sum(a.quantity for a in asked if (a.needed_by or date.max) <= day)


def to_buy(setting: Setting, made: Plan) -> dict[str, int]:
    """By key, all days together."""
    return {d.key: 0 for d in setting.demands} | {
        k: n for k, _, n in sorted(open_needs(setting, made))
    }


def enough(setting: Setting, made: Plan, counts: Mapping[str, int]) -> bool:
    return all(
        sum(
            counts.get(p.id, 0) * p.contents.get(key, 0)
            for p in setting.packs
            if p.arrives(TODAY) <= day
        )
        >= quantity
        for key, day, quantity in open_needs(setting, made)
    )


def cost(setting: Setting, counts: Mapping[str, int]) -> Decimal | None:
    """What suppliers charge; None when one of them does not take the order."""
    total = Decimal(0)
    for shop in setting.suppliers:
        lines = [(p, counts.get(p.id, 0)) for p in setting.packs if p.supplier == shop.name]
        goods = sum((p.price * n for p, n in lines), Decimal(0))
        if any(0 < n < p.minimum for p, n in lines) or 0 < goods < shop.minimum:
            return None
        total += goods + shop.delivery if goods else 0
    return total


def worth(setting: Setting, made: Plan, counts: Mapping[str, int]) -> Fraction:
    total = Fraction(0)
    for key, later in setting.later.items():
        rates = [
            (len(p.contents) > 1, Fraction(p.price) / sum(p.contents.values()))
            for p in setting.packs
            if key in p.contents
        ]
        asked = sum(d.quantity for d in setting.demands if d.key == key) - sum(
            m.quantity for m in made.missing if m.key == key
        )
        shelf = setting.stock.get(key, 0)
        shelf += sum(c.quantity for c in setting.on_order if c.key == key)
        held = sum(counts.get(p.id, 0) * p.contents.get(key, 0) for p in setting.packs)
        buy = to_buy(setting, made).get(key, 0)
        unused = shelf - (asked - buy)
        left = min(max(held - buy, 0), max(later - unused, 0))
        if rates:
            total += left * min(rates)[1] * Fraction(setting.part)
    return total


def least_by_trying(setting: Setting, made: Plan) -> Fraction | None:
    wanted = to_buy(setting, made)
    minimum = {shop.name: shop.minimum for shop in setting.suppliers}
    useful = [
        p for p in setting.packs
        if any(q > 0 and p.contents.get(k, 0) and p.arrives(TODAY) <= d for k, d, q in open_needs(setting, made))
        or (any(wanted.values()) and minimum[p.supplier] and wanted.keys() & p.contents)  # to fill up an order
    ]  # fmt: skip
    most = [
        max(
            p.minimum,
            *(-(-(wanted.get(k, 0) + setting.later.get(k, 0)) // n) for k, n in p.contents.items()),
        )
        + int(-(-minimum[p.supplier] // p.price))
        for p in useful
    ]
    best: Fraction | None = None
    for numbers in product(*(range(m + 1) for m in most)):
        counts = {p.id: n for p, n in zip(useful, numbers, strict=True)}
        paid = cost(setting, counts)
        net = None if paid is None else Fraction(paid) - worth(setting, made, counts)
        if net is not None and (best is None or net < best) and enough(setting, made, counts):
            best = net
    return best


def holds(setting: Setting, made: Plan) -> None:
    counts = bought(made)
    assert enough(setting, made, counts)
    assert made.total == cost(setting, counts) == sum(order.total for order in made.orders)
    covered: Counter[str] = Counter()
    for line in made.bought:
        covered.update(line.covers)
        for key, many in line.pack.contents.items():
            assert line.covers.get(key, 0) + line.left.get(key, 0) == many * line.count
    asked: Counter[str] = Counter()
    for demand in setting.demands:
        asked[demand.key] += demand.quantity
    for missed in made.missing:
        asked[missed.key] -= missed.quantity
    assert covered + Counter(made.from_stock) + Counter(made.from_on_order) == +asked
    assert made.saves >= 0
    assert made.gap >= 0


@settings(deadline=None, max_examples=examples(100))
@given(small_settings())
def test_no_search_finds_a_cheaper_plan(setting: Setting) -> None:
    made = setting.made()
    holds(setting, made)
    assert made.proven
    counts = bought(made)
    assert Fraction(made.total) - worth(setting, made, counts) == least_by_trying(setting, made)


@settings(deadline=None, max_examples=examples(60))
@given(
    small_settings(leftovers=False), st.sampled_from(["white", "blush", "tie"]), st.integers(1, 9)
)
def test_more_stock_never_costs_more(setting: Setting, key: str, more: int) -> None:
    before = setting.made()
    after = setting.made(stock={**setting.stock, key: setting.stock.get(key, 0) + more})
    if before.missing == after.missing:
        assert after.total <= before.total


@settings(deadline=None, max_examples=examples(40))
@given(small_settings(leftovers=False))
def test_a_supplier_more_never_costs_more(setting: Setting) -> None:
    one = replace(setting, packs=[replace(p, supplier="North") for p in setting.packs])
    more = [replace(p, id=f"{p.id}'", supplier="South") for p in one.packs]
    assert replace(one, packs=[*one.packs, *more]).made().total <= one.made().total


# --- of middling size --------------------------------------------------------------------------


def a_job(seed: int, keys: int = 12, packs: int = 40, kits: int = 4) -> Setting:
    """Too large to try everything; every number of each kit can be tried."""
    chance = random.Random(seed)
    names = [f"colour {n}" for n in range(keys)]
    offers = [
        PackOffer(id=f"{n}", supplier=chance.choice(["North", "South"]), price=Decimal(size * chance.randint(15, 25)) / 100, contents={name: size})
        for n, (name, size) in enumerate((name, chance.choice([10, 25, 50])) for name in [*names, *chance.choices(names, k=packs - keys - kits)])
    ] + [
        PackOffer(id=f"kit {n}", supplier=chance.choice(["North", "South"]), price=Decimal(chance.randint(600, 1100)) / 100, contents=dict.fromkeys(chance.sample(names, 4), 15))
        for n in range(kits)
    ]  # fmt: skip
    return Setting(
        demands=[Demand(key=name, quantity=chance.randint(5, 90)) for name in names],
        packs=offers,
        suppliers=[SupplierTerms(name="North", delivery=Decimal("4.95")), SupplierTerms(name="South", delivery=Decimal("7.50"))],
        stock={}, on_order=[], part=Decimal(0), later={},
    )  # fmt: skip


def least_by_every_kit(setting: Setting) -> Decimal:
    """Every number of each kit, from every set of suppliers; what they leave of a line by a table of its own."""
    needs = {demand.key: demand.quantity for demand in setting.demands}
    best = Decimal("Infinity")
    for shops in ({"North"}, {"South"}, {"North", "South"}):
        offers = [pack for pack in setting.packs if pack.supplier in shops]
        delivery = sum((s.delivery for s in setting.suppliers if s.name in shops), Decimal(0))
        kits = [pack for pack in offers if len(pack.contents) > 1]
        tables = {
            key: table(needs[key], [p for p in offers if set(p.contents) == {key}]) for key in needs
        }
        uses = [range(max(-(-needs[k] // n) for k, n in kit.contents.items()) + 1) for kit in kits]
        for numbers in product(*uses):
            given: Counter[str] = Counter()
            total = delivery
            for kit, number in zip(kits, numbers, strict=True):
                total += kit.price * number
                given.update({key: many * number for key, many in kit.contents.items()})
            total += sum(tables[key][max(many - given[key], 0)] for key, many in needs.items())
            best = min(best, total)
    return best


def table(need: int, packs: Iterable[PackOffer]) -> list[Decimal]:
    """The least that so many of one key cost, by how many."""
    lots = [(pack.price, *pack.contents.values()) for pack in packs]
    least = [Decimal(0)]
    for many in range(1, need + 1):
        costs = (price + least[max(many - size, 0)] for price, size in lots)
        least.append(min(costs, default=Decimal("Infinity")))
    return least


@pytest.mark.parametrize("seed", range(6))
def test_every_number_of_every_kit_leads_to_no_cheaper_plan(seed: int) -> None:
    job = a_job(seed)
    made = job.made()
    holds(job, made)
    assert (made.total, made.proven) == (least_by_every_kit(job), True)
    assert made.saves > 0


def whole(scene: Scene) -> Setting:
    return Setting(
        demands=scene.demands, packs=scene.packs, suppliers=scene.suppliers, stock=scene.stock,
        on_order=[], part=scene.part, later=scene.later, promised=scene.promised,
    )  # fmt: skip


@pytest.mark.parametrize(("seed", "packs"), [(1, 40), (2, 60), (3, 60), (1, 120), (2, 120)])
def test_an_ordinary_month_is_planned_to_half_a_percent(seed: int, packs: int) -> None:
    month = whole(a_month(seed, packs=packs))
    made = month.made()
    holds(month, made)
    assert made.saves > 0
    assert made.gap <= Decimal("0.005")


def test_the_same_month_is_planned_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no clock ends the search: before the proof, by its nodes, with the proof."""
    month = whole(a_month(5, packs=80))
    gaps = set()
    for nodes in (0, 3, 1_000):
        monkeypatch.setattr(solver, "PROOF_NODES", nodes)
        made, again = (month.made(time_limit_s=600) for _ in range(2))
        assert made == again
        gaps.add(made.gap)
    assert len(gaps) > 1
    assert min(gaps) == 0


def test_with_little_time_a_season_is_planned_whole_and_the_gap_is_told() -> None:
    season = whole(a_scene(1, colours=40, packs=500, suppliers=6, jobs=20))
    made = season.made(time_limit_s=2)
    holds(season, made)
    assert made.saves > 0
    assert 0 < made.gap <= 1


# --- what the solver may answer ----------------------------------------------------------------

type Answer = Callable[[Any], tuple[Any, float | None]]  # of its own answer: columns and bound


def answered(patch: pytest.MonkeyPatch, answer: Answer) -> list[float]:
    """The solver's answer is replaced; how near each call was asked to come."""
    true, asked = solver.milp, []

    def milp(*words: Any, options: dict[str, float], **facts: Any) -> SimpleNamespace:
        asked.append(options["mip_rel_gap"])
        x, bound = answer(true(*words, options=options, **facts))
        return SimpleNamespace(x=x, mip_dual_bound=bound)

    patch.setattr(solver, "milp", milp)
    return asked


@pytest.mark.parametrize("bound", [None, float("-inf"), float("inf"), float("nan")])
def test_where_the_solver_finds_nothing_the_plan_is_whole_and_nothing_is_proven(
    monkeypatch: pytest.MonkeyPatch, bound: float | None
) -> None:
    answered(monkeypatch, lambda true: (None, bound))
    made = a_job(1).made()
    holds(a_job(1), made)
    assert (made.gap, made.proven, made.saves) == (1, False, 0)


def test_without_time_nothing_is_searched_and_leftovers_may_be_worth_more_than_all_costs(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Own arithmetic: 10.00 for 50; 60 left over are worth 12.00 at most, so a plan could still be 22.00 cheaper."""
    monkeypatch.setattr(solver, "milp", None)
    packs, later = [a_pack("50", "10.00", w=50)], {"w": 60}
    made = plan(
        need(w=50), packs, [SHOP], on=TODAY,
        value_of_leftover=Decimal(1), used_later=later, time_limit_s=0,
    )  # fmt: skip
    assert (bought(made), made.gap) == ({"50": 1}, Decimal("2.2"))


def test_a_bound_without_a_plan_still_says_how_far_the_plan_may_be_off(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    least = least_by_every_kit(a_job(1))
    answered(monkeypatch, lambda true: (None, true.mip_dual_bound))
    made = a_job(1).made()
    holds(a_job(1), made)
    assert made.saves == 0
    assert 0 <= made.gap - (made.total - least) / made.total < Decimal("0.0051")


@pytest.mark.parametrize("wrong", [lambda x: x * 0, lambda x: x - 0.6 * (x > 0), lambda x: -x])
def test_an_answer_that_does_not_hold_in_whole_numbers_is_refused(
    monkeypatch: pytest.MonkeyPatch, wrong: Callable[[Any], Any]
) -> None:
    answered(monkeypatch, lambda true: (wrong(true.x), true.mip_dual_bound))
    made = a_job(1).made()
    holds(a_job(1), made)
    assert (made.saves, made.proven) == (0, False)


def test_an_answer_a_little_off_whole_numbers_is_rounded(monkeypatch: pytest.MonkeyPatch) -> None:
    expected = a_job(1).made()
    answered(monkeypatch, lambda true: (true.x - 1e-6, true.mip_dual_bound + 1e-7))
    assert a_job(1).made() == expected


def test_a_bound_above_the_cost_leaves_no_gap_below_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    answered(monkeypatch, lambda true: (true.x, true.mip_dual_bound * 1.01))
    assert a_job(1).made().gap == 0


def test_what_is_proven_at_once_is_not_searched_again(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = answered(monkeypatch, lambda true: (true.x, true.mip_dual_bound))
    assert plan(need(w=50), MIXED, [SHOP], on=TODAY).proven
    assert asked == [0.005]


def test_a_second_search_that_proves_less_takes_nothing_back(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    least = 100 * float(a_job(1).made().total)
    bounds = iter((least / 1.004, least / 2))
    asked = answered(monkeypatch, lambda true: (true.x, next(bounds)))
    assert Decimal("0.003") < a_job(1).made().gap < Decimal("0.005")
    assert asked == [0.005, 0]


def test_a_plan_near_enough_is_proven_while_half_the_time_lasts(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    far = a_job(1).made().total / 2
    asked = answered(monkeypatch, lambda true: (true.x, 100 * float(far)))
    # The clock as it is read: at the start, and before each of the two calls.
    for reads, calls in (([0, 0, 4.9], 2), ([0, 0, 5], 1), ([0, 0, 9], 1)):
        times = iter(reads)
        monkeypatch.setattr(solver, "monotonic", lambda times=times: next(times))
        asked.clear()
        assert not a_job(1).made(time_limit_s=10).proven
        assert asked == [0.005, 0][:calls]


def test_a_plan_that_was_found_is_taken_again_for_the_same_question_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked = need(w=130, p=85, g=18)
    best = plan(asked, MIXED, [SHOP], on=TODAY)
    counts = {"w25": 2, "w100": 1, "p25": 2, "p50": 1, "g10": 2}  # 13 + 22 + 14 + 12.50 + 16
    found = Found(question=best.question, counts=counts)

    def others() -> list[Plan]:
        dearer = [replace(pack, price=pack.price + 1) for pack in MIXED]
        return [
            plan(need(w=131, p=85, g=18), MIXED, [SHOP], on=TODAY, found=found),
            plan(asked, MIXED, [SHOP], on=TODAY, stock={"w": 1}, found=found),
            plan(asked, dearer, [SHOP], on=TODAY, found=found),
            plan(asked, MIXED, [replace(SHOP, minimum=Decimal(1))], on=TODAY, found=found),
            plan(asked, MIXED, [SHOP], on=in_days(1), found=found),
            plan(asked, MIXED, [SHOP], on=TODAY, found=replace(found, counts={"w25": 1})),
        ]

    assert all(made.proven and bought(made) != counts for made in others())
    assert len({made.question for made in others()}) == 6
    assert plan(asked, MIXED, [SHOP], on=TODAY, found=best.found).orders == best.orders
    monkeypatch.setattr(solver, "milp", None)
    made = plan(asked, MIXED, [SHOP], on=TODAY, found=found)
    assert (bought(made), made.total, made.question) == (counts, Decimal("77.50"), best.question)
    assert (made.gap, made.proven, made.found) == (1, False, found)


def test_a_very_long_line_is_bought_by_the_best_rate() -> None:
    packs = [a_pack("1", "0.30", w=1), a_pack("7", "1.40", w=7), a_pack("1000", "190.00", w=1000)]
    made = plan(need(w=1_000_003), packs, [SHOP], on=TODAY)
    assert (bought(made), made.proven) == ({"1": 3, "1000": 1000}, True)


@pytest.mark.parametrize(
    ("wrong", "error", "sentence"),
    [
        (
            lambda: PackOffer(id="x", supplier="N", contents={"w": 1}, price=1.5),  # type: ignore[arg-type]
            TypeError,
            "price of x: expected Decimal, got float",
        ),
        (lambda: a_pack("x", "0", w=1), ValueError, "price of x: expected more than 0, got 0"),
        (lambda: a_pack("x", "-1", w=1), ValueError, "price of x: expected 0 or more, got -1"),
        (
            lambda: a_pack("x", "1", w=0),
            ValueError,
            "w in x: expected a whole number from 1, got 0",
        ),
        (lambda: a_pack("x", "1"), ValueError, "contents of x: expected some supply, got none"),
        (
            lambda: a_pack("x", "1", w=1, lead_days=-1),
            ValueError,
            "lead_days of x: expected a whole number from 0, got -1",
        ),
        (
            lambda: SupplierTerms(name="N", delivery=Decimal("NaN")),
            ValueError,
            "delivery of N: expected 0 or more, got NaN",
        ),
        (
            lambda: Demand(key="w", quantity=-1),
            ValueError,
            "quantity of w: expected a whole number from 0, got -1",
        ),
        (
            lambda: plan([], MIXED, [], on=TODAY),
            ValueError,
            "supplier of w25: expected one of , got North",
        ),
        (
            lambda: plan([], [], [], on=TODAY, stock={"w": -1}),
            ValueError,
            "stock of w: expected a whole number from 0, got -1",
        ),
        (
            lambda: ComingSupply(key="w", quantity=-1, on=TODAY),
            ValueError,
            "on order of w: expected a whole number from 0, got -1",
        ),
        (
            lambda: plan([], [], [], on=TODAY, value_of_leftover=Decimal(2)),
            ValueError,
            "value_of_leftover: expected a part from 0 to 1, got 2",
        ),
    ],
)
def test_impossible_figures_are_refused_in_a_sentence(
    wrong: Any, error: type[Exception], sentence: str
) -> None:
    with pytest.raises(error, match=f"^{sentence}$"):
        wrong()

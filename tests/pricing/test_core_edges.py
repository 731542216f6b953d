"""The pricing core at its edges: the value at which each rule turns over."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest

from pricing.core.book import Book, PackPrice, Rates
from pricing.core.cancelling import Settlement, part_from, part_up_to, split_paid, worth_of_groups
from pricing.core.crediting import cut_line, left_after_credits, nearest_beside, set_apart
from pricing.core.crosscheck import JobFigures, cross_check
from pricing.core.money import Money, add_up
from pricing.core.quote import WORK_AT, CostKind, CostLine, Terms, make_quote
from pricing.core.quote_data import Costing, QuotedWork
from pricing.core.shares import largest_remainder
from pricing.core.spares import chance_enough, spares
from pricing.core.supply_keys import UnreadableKey, parse_key
from pricing.core.tax import TaxGroup, TaxLine
from pricing.stores.plan.covering import Case, Charge, Cover, Leftover, PackChoice
from pricing.stores.plan.greedy import filled_up, line_by_line, trimmed
from pricing.stores.plan.shortage import short_by_day

VAT = TaxGroup(code="S", name="VAT", percent=Decimal(20))
TODAY = date(2026, 6, 1)


def gbp(amount: str | int) -> Money:
    return Money(Decimal(amount), "GBP")


# Shares


@pytest.mark.parametrize("weights", [[2, -1], [Fraction(-1, 2), 3], [0, 0], []])
def test_weights_that_share_nothing_are_refused(weights: list[int | Fraction]) -> None:
    with pytest.raises(ValueError, match="expected none below zero and one above it"):
        largest_remainder(10, weights)


@pytest.mark.parametrize(
    ("total", "weights", "shares"),
    [(10, [1, 1, 1], [4, 3, 3]), (-10, [1, 1, 1], [-4, -3, -3]), (0, [2, 1], [0, 0]), (1, [0, 1], [0, 1]), (2, [1, 1, 1], [1, 1, 0])],
)  # fmt: skip
def test_ties_go_to_the_first_and_what_is_below_nothing_is_shared_alike(
    total: int, weights: list[int], shares: list[int]
) -> None:
    assert largest_remainder(total, weights) == shares


# Money


def test_amounts_are_compared_at_the_penny() -> None:
    less, same, more = gbp("1.00"), gbp("1.00"), gbp("1.01")
    assert (less < same, less <= same, less > same, less >= same) == (False, True, False, True)
    assert (less < more, less <= more, less > more, less >= more) == (True, True, False, False)
    assert not gbp("0.004")
    assert gbp("0.005")
    for wrong in (
        lambda: gbp(1) < Money(Decimal(1), "EUR"),
        lambda: gbp(1) + Money(Decimal(1), "EUR"),
    ):
        with pytest.raises(ValueError, match="expected GBP, got EUR"):
            wrong()
    for odd in (
        lambda: gbp(1) * 0.5,
        lambda: Money(1.0, "GBP"),
        lambda: Money("1", "GBP"),
        lambda: gbp(1) <= 1,
    ):
        with pytest.raises(TypeError, match="expected"):
            odd()


# Spares


@pytest.mark.parametrize(
    ("needed", "loss", "run_out"), [(-1, 0.1, 0.1), (1, -0.01, 0.1), (1, 1.0, 0.1), (1, 0.1, 0.0), (1, 0.1, 1.0)]
)  # fmt: skip
def test_chances_that_are_none_are_refused(needed: int, loss: float, run_out: float) -> None:
    with pytest.raises(ValueError, match="expected needed >= 0"):
        spares(needed, loss_rate=loss, run_out=run_out)


def test_nothing_needs_no_spare_and_no_loss_neither() -> None:
    assert spares(0, loss_rate=0.5, run_out=0.01) == 0
    assert spares(1, loss_rate=0.0, run_out=0.01) == 0
    assert chance_enough(0, 0, 0.9) == 1.0
    # One of one survives with 1 − p; with a spare it is 1 − p².
    assert spares(1, loss_rate=0.1, run_out=0.1) == 0
    assert spares(1, loss_rate=0.1, run_out=0.0999) == 1


# What a practitioner looks at


@pytest.mark.parametrize(
    ("net", "far"), [("135", False), ("135.01", True), ("65", False), ("64.99", True)]
)
def test_a_figure_is_far_from_more_than_a_third_and_a_bit(net: str, far: bool) -> None:
    """More than 35 % off the median of the last jobs (own rule)."""
    last = JobFigures(net=Decimal(100), balls=1, metres=Decimal(1), minutes=Decimal(60))
    now = JobFigures(net=Decimal(net), balls=1, metres=Decimal(1), minutes=Decimal(60))
    assert {check.far for check in cross_check(now, [last], "GBP")} == {far}


def test_what_cannot_be_worked_out_is_left_out() -> None:
    nothing = JobFigures(net=Decimal(50), balls=0, metres=Decimal(0), minutes=Decimal(0))
    some = JobFigures(net=Decimal(90), balls=3, metres=Decimal(2), minutes=Decimal(120))
    assert cross_check(nothing, [some], "GBP") == ()
    checks = cross_check(some, [nothing], "GBP")
    assert [(c.what, c.now, c.usual, c.far) for c in checks] == [
        ("a balloon", gbp(30), None, False), ("a metre", gbp(45), None, False), ("an hour of work", gbp(45), None, False),
    ]  # fmt: skip


# Short by which day


def day(n: int) -> date:
    return TODAY + timedelta(days=n)


def test_what_comes_on_the_day_is_there_on_the_day() -> None:
    asked, none = Counter({day(2): 10}), Counter[date]()
    assert short_by_day(asked, none, 4, Counter({day(2): 6})).days == []
    assert short_by_day(asked, none, 4, Counter({day(3): 6})).days == [(day(2), 6)]
    assert short_by_day(asked, none, 4, Counter({day(2): 5})).days == [(day(2), 1)]
    assert short_by_day(asked, none, 0, none).days == [(day(2), 10)]


def test_what_was_promised_to_others_is_kept_or_made_good() -> None:
    # Ten lie there; others were promised six on the fourth day. Five are asked for on the second: one more by the fourth.
    made = short_by_day(Counter({day(2): 5}), Counter({day(4): 6}), 10, Counter())
    assert (made.days, made.kept) == ([(day(4), 1)], 6)
    # What others lack in any case is theirs to buy.
    made = short_by_day(Counter({day(2): 5}), Counter({day(4): 16}), 10, Counter())
    assert (made.days, made.kept) == ([(day(4), 5)], 10)


# Covering


def a_case(**facts: object) -> Case:
    """Two packs of one supplier and one of another, for 25 of a key."""
    known: dict[str, object] = {
        "choices": (
            PackChoice(price=1000, contents={"k": 10}, supplier=0),
            PackChoice(price=350, contents={"k": 5}, supplier=0, minimum=2),
            PackChoice(price=600, contents={"k": 5}, supplier=1),
        ),
        "covers": (Cover(key="k", need=25, choices=(0, 1, 2)),),
        "charges": (Charge(delivery=0, minimum=0), Charge(delivery=0, minimum=0)),
        "needs": {"k": 25}, "leftovers": {}, **facts,
    }  # fmt: skip
    return Case(**known)  # type: ignore[arg-type]


def test_a_line_alone_takes_the_packs_of_least_cost() -> None:
    # By hand: fives come by two (700 for 10). 25: two tens of pairs and 5 more: pairs 1400 + 600 = 2000.
    counts = line_by_line(a_case())
    assert counts == (0, 4, 1)
    assert a_case().cost(counts) == 2000
    assert a_case().holds(counts)


@pytest.mark.parametrize(
    ("counts", "holds"),
    [((0, 5, 0), True), ((0, 4, 1), True), ((2, 0, 1), True), ((2, 0, 0), False), ((2, 1, 0), False), ((0, 0, 5), True), ((0, 0, 4), False)],
)  # fmt: skip
def test_a_plan_holds_where_nothing_is_short_and_every_order_is_taken(
    counts: tuple[int, ...], holds: bool
) -> None:
    assert a_case().holds(counts) is holds


@pytest.mark.parametrize(("minimum", "holds"), [(2999, True), (3000, True), (3001, False)])
def test_an_order_at_its_minimum_is_taken(minimum: int, holds: bool) -> None:
    case = a_case(charges=(Charge(delivery=0, minimum=0), Charge(delivery=0, minimum=minimum)))
    assert case.holds((0, 0, 5)) is holds


def test_an_order_is_filled_up_by_the_pack_that_does_it_for_least() -> None:
    charges = (Charge(delivery=0, minimum=1900), Charge(delivery=0, minimum=0))
    case = a_case(charges=charges)
    # 1000 bought, 900 short: one ten more is 1000, three fives are 1050.
    assert filled_up(case, (1, 0, 0)) == (2, 0, 0)
    # 1400 bought, 500 short: two fives are 700, a ten 1000.
    assert filled_up(case, (0, 4, 0)) == (0, 6, 0)
    assert filled_up(case, (2, 0, 0)) == (2, 0, 0)
    assert filled_up(case, (0, 0, 5)) == (0, 0, 5)  # the other supplier asks for nothing


def test_what_can_be_left_out_is() -> None:
    assert trimmed(a_case(), (1, 4, 1)) == (0, 4, 1)
    assert trimmed(a_case(), (0, 4, 1)) == (0, 4, 1)
    assert trimmed(a_case(), (3, 2, 0)) == (2, 2, 0)
    kept = a_case(leftovers={"k": Leftover(at_most=50, each=Fraction(300))})
    assert trimmed(kept, (3, 2, 0)) == (3, 2, 0)  # what is left is worth more than it costs


# Papers in parts


GROUPS = (TaxLine(group=VAT, net=gbp("100.00"), tax=gbp("20.00")),)


@pytest.mark.parametrize(
    ("most", "kept"), [("120.00", "120.00"), ("119.99", "119.99"), ("0.02", "0.02"), ("0.01", "0.01"), ("0", "0"), ("500", "120")]
)  # fmt: skip
def test_the_most_that_papers_hold_within_a_sum(most: str, kept: str) -> None:
    part = part_up_to(GROUPS, gbp(most))
    assert worth_of_groups(part, "GBP") <= gbp(most)
    assert worth_of_groups(part, "GBP") == gbp(kept)


@pytest.mark.parametrize("least", ["0.01", "1.00", "60.00", "119.99", "120.00"])
def test_the_least_that_papers_hold_above_a_sum(least: str) -> None:
    part = part_from(GROUPS, gbp(least))
    assert worth_of_groups(part, "GBP") >= gbp(least)
    (line,) = part
    assert line.tax == line.net.percent(Decimal(20))
    fewer = line.net - gbp("0.01")
    if fewer and set_apart(GROUPS, fewer):
        assert worth_of_groups(set_apart(GROUPS, fewer), "GBP") < gbp(least)


@pytest.mark.parametrize("net", ["0", "-1", "100.01"])
def test_a_part_of_nothing_or_of_more_than_is_left_is_refused(net: str) -> None:
    with pytest.raises(ValueError, match=r"net: expected above 0 and at most 100\.00"):
        set_apart(GROUPS, gbp(net))


def test_nothing_and_all_of_a_group_are_sound() -> None:
    (line,) = GROUPS
    assert cut_line(line, gbp(0)) == TaxLine(group=VAT, net=gbp(0), tax=gbp(0))
    assert cut_line(line, gbp(100)) == line
    assert set_apart(GROUPS, gbp(100)) == GROUPS
    # 0.02 at 20 % rounds to 0.00 and leaves 99.98 at 20.00 (19.996): sound.
    assert cut_line(line, gbp("0.02")) == TaxLine(group=VAT, net=gbp("0.02"), tax=gbp(0))
    # 0.03 rounds to 0.01 and leaves 19.99 where 99.97 says 19.99 (19.994): sound. 2.5 pence each way are not.
    assert cut_line(line, gbp("0.03")) is not None
    five = TaxLine(
        group=TaxGroup(code="S", name="V", percent=Decimal(50)), net=gbp("0.02"), tax=gbp("0.01")
    )
    assert cut_line(five, gbp("0.01")) is None  # half a penny is rounded up on both
    assert nearest_beside((five,), gbp("0.01")) == (gbp("0.02"),)


def test_what_is_left_after_credit_notes() -> None:
    part = (TaxLine(group=VAT, net=gbp("40"), tax=gbp("8")),)
    (left,) = left_after_credits(GROUPS, [part, part])
    assert (left.net, left.tax) == (gbp(20), gbp(4))
    assert left_after_credits(GROUPS, [GROUPS]) == ()


@pytest.mark.parametrize(
    ("paid", "kept", "refund", "owed"), [(100, 100, 0, 0), (101, 100, 1, 0), (99, 100, 0, 1), (0, 0, 0, 0), (-5, 10, 0, 15)]
)  # fmt: skip
def test_what_goes_back_or_is_owed(paid: int, kept: int, refund: int, owed: int) -> None:
    made = split_paid(gbp(paid), gbp(kept), Decimal(50))
    assert (made.refund, made.owed) == (gbp(refund), gbp(owed))
    again = made.keeping(gbp(kept))
    assert again == made


def test_a_settlement_that_makes_no_sense_is_refused() -> None:
    good = {"percent": Decimal(1), "kept": gbp(0), "refund": gbp(0), "owed": gbp(0)}
    Settlement(**good)
    for name in ("kept", "refund", "owed"):
        with pytest.raises(ValueError, match=rf"{name}: expected none below zero, got -0\.01"):
            Settlement(**{**good, name: gbp("-0.01")})
    with pytest.raises(ValueError, match=r"expected none while something is owed, got 1\.00"):
        Settlement(**{**good, "refund": gbp(1), "owed": gbp(1)})


# A price of nothing


NO_RATES = Rates(
    workshop_hour=Decimal(0), site_hour=Decimal(0), travel_km=Decimal(0), overhead_percent=Decimal(0),
    margin_percent=Decimal(0), round_to=Decimal(5), tax_inside=True,
)  # fmt: skip


def test_a_price_of_nothing_is_rounded_to_nothing() -> None:
    book = Book(currency="GBP", prices={}, rates=NO_RATES, tax=VAT)
    made = make_quote((), (), book, Terms(deposit_percent=Decimal(30)))
    assert (made.price, made.totals.total) == (gbp(0), gbp(0))


def test_a_key_is_priced_by_its_longest_beginning_and_never_by_its_first_word() -> None:
    price = {
        parse_key(key): PackPrice(name=key, pack_price=Decimal(1), pack_count=Decimal(1))
        for key in ("a/b", "a/b/c/d")
    }
    book = Book(currency="GBP", prices=price, rates=NO_RATES, tax=VAT)
    found = {
        key: (hit.name if (hit := book.find(parse_key(key))) else None)
        for key in ("a/x", "a/b", "a/b/c", "a/b/c/d", "a/b/c/d/e")
    }
    assert found == {
        "a/x": None,
        "a/b": "a/b",
        "a/b/c": "a/b",
        "a/b/c/d": "a/b/c/d",
        "a/b/c/d/e": "a/b/c/d",
    }
    assert (book.knows(parse_key("a/b/z")), book.knows(parse_key("a/z"))) == (True, False)
    with pytest.raises(UnreadableKey):
        parse_key("a")


def test_goods_and_work_have_a_tax_each() -> None:
    zero = TaxGroup(code="Z", name="VAT", percent=Decimal(0))
    both = Book(currency="GBP", prices={}, rates=NO_RATES, tax=VAT, work_tax=zero)
    assert [both.tax_of(kind).code for kind in ("materials", "hire", "labour", "travel")] == [
        "S",
        "S",
        "Z",
        "Z",
    ]
    one = Book(currency="GBP", prices={}, rates=NO_RATES, tax=VAT)
    assert {one.tax_of(kind).code for kind in ("materials", "hire", "labour", "travel")} == {"S"}


def test_minutes_and_cost_of_work_at_each_place() -> None:
    def line(label: str, quantity: int, cost: int, kind: CostKind = "labour") -> CostLine:
        return CostLine(
            label=label, kind=kind, quantity=Decimal(quantity), unit="min", unit_cost=Decimal(1), cost=gbp(cost),
        )  # fmt: skip

    def costing(*lines: CostLine) -> Costing:
        return Costing(cost=add_up((x.cost for x in lines), "GBP"), margin=gbp(0), lines=lines)

    def work(minutes: int, cost: int) -> QuotedWork:
        return QuotedWork(minutes=Decimal(minutes), cost=gbp(cost))

    kept = costing(
        line(f"{WORK_AT}workshop", 90, 30), line(f"{WORK_AT}workshop", 30, 10),
        line(f"{WORK_AT}site", 60, 25), line("by night or at the weekend", 60, 5), line("van", 3, 9, "travel"),
        line("ivory", 30, 4, "materials"), line("spoil", 4, 1, "materials"),
    )  # fmt: skip
    assert kept.work == {"workshop": work(120, 40), "site": work(60, 30)}
    assert costing(line("odd", 60, 5)).work == {"site": work(0, 5)}
    assert (kept.materials, costing().materials) == (gbp(5), gbp(0))

"""Counts and minutes into a price."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from math import floor
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.core import crosscheck
from pricing.core.book import Book, PackPrice, Rates
from pricing.core.money import Money, add_up
from pricing.core.need import Labour, Need
from pricing.core.packs import whole_packs
from pricing.core.quote import Quote, Terms, make_quote, price_for
from pricing.core.quote_data import figures_data
from pricing.core.supply_keys import parse_key
from pricing.core.tax import TaxGroup


def gbp(text: str | int) -> Money:
    return Money(Decimal(text), "GBP")


def a_book(**rates: Any) -> Book:
    figures = {
        "workshop_hour": Decimal(12), "site_hour": Decimal(18), "travel_km": Decimal("0.5"),
        "overhead_percent": Decimal(10), "margin_percent": Decimal(40), **rates,
    }  # fmt: skip
    prices = {
        parse_key("balloon/11 in"): PackPrice(
            name="11 in", pack_price=Decimal(13), pack_count=Decimal(100)
        ),
        parse_key("balloon/11 in/gold"): PackPrice(
            name="gold", pack_price=Decimal(20), pack_count=Decimal(50)
        ),
        parse_key("frame/ring"): PackPrice(
            name="ring", pack_price=Decimal(18), pack_count=Decimal(1)
        ),
    }
    vat = TaxGroup(code="S", name="VAT", percent=Decimal(20))
    return Book(currency="GBP", prices=prices, rates=Rates(**figures), tax=vat)


def need(key: str, quantity: str, **facts: Any) -> Need:
    return Need(key=parse_key(key), label=key, quantity=Decimal(quantity), **facts)


def quote(*needs: Need, minutes: str = "0", book: Book | None = None, **terms: Any) -> Quote:
    work = [Labour(operation="x", place="workshop", times=Decimal(1), minutes=Decimal(minutes))]
    return make_quote(needs, work, book or a_book(), Terms(deposit_percent=Decimal(30), **terms))


def test_the_build_up_by_hand() -> None:
    made = quote(
        need("balloon/11 in/ivory", "190", spare=Decimal(10)),  # 200 × 0.13 = 26.00
        need("frame/ring", "1", use="hire"),  # 18.00
        minutes="60",  # 12.00
        travel_km=Decimal(20), trips=2,  # 20 × 2 × 2 × 0.5 = 40.00
        extra=(("parking", gbp(4)),),
    )  # fmt: skip
    # 100.00, overhead 10 % = 10.00, cost 110.00, price 110/0.6 = 183.33, VAT 36.67
    assert dict(made.by_kind()) == {
        "materials": gbp(26), "labour": gbp(12), "hire": gbp(18), "travel": gbp(40), "extra": gbp(4),
        "overhead": gbp(10),
    }  # fmt: skip
    assert (made.cost, made.net, made.totals.tax, made.totals.total) == (
        gbp(110), gbp("183.33"), gbp("36.67"), gbp(220),
    )  # fmt: skip
    assert made.deposit == gbp(66)


def test_goods_and_work_are_taxed_apart_where_the_law_tells_them_apart() -> None:
    # Cost: 26.00 of goods and 74.00 of work; price 100/0.6 = 166.67, shared 43.33 and 123.34 by largest remainder.
    # Taxed on each group's own net, EN 16931 BR-CO-17: 43.33 × 20 % = 8.67; 123.34 × 5 % = 6.17.
    book = replace(
        a_book(overhead_percent=Decimal(0)),
        work_tax=TaxGroup(code="S", name="VAT", percent=Decimal(5)),
    )
    made = quote(need("balloon/11 in/ivory", "200"), minutes="370", book=book)
    assert [(line.net, line.tax) for line in made.totals.groups] == [
        (gbp("43.33"), gbp("8.67")), (gbp("123.34"), gbp("6.17")),
    ]  # fmt: skip
    assert made.totals.total == gbp("181.51")
    cheaper = quote(need("balloon/11 in/ivory", "200"), minutes="370", book=book, discount=gbp(10))
    assert [line.net for line in cheaper.totals.groups] == [gbp("40.73"), gbp("115.94")]
    assert cheaper.net == gbp("156.67")


@pytest.mark.parametrize(
    ("margin", "price", "markup"),
    # Arithmetic: a margin is part of the price, a markup part of the cost. Cost 100, margin 40 % → 166.67;
    # markup 40 % → 140.00, whose margin is 28.571429 %.
    [("40", "166.67", "66.67"), ("28.571429", "140.00", "40.00")],
)
def test_markup_is_not_margin(margin: str, price: str, markup: str) -> None:
    assert price_for(gbp(100), Decimal(margin)) == gbp(price)
    made = quote(
        extra=(("cost", gbp(100)),),
        book=a_book(overhead_percent=Decimal(0)),
        margin_percent=Decimal(margin),
    )
    assert round(made.markup_percent, 2) == Decimal(markup)


def test_the_longest_beginning_of_a_key_prices_it() -> None:
    book = a_book()
    assert book.find(parse_key("balloon/11 in/gold")).unit_price == Decimal("0.4")  # type: ignore[union-attr]
    assert book.find(parse_key("balloon/11 in/ivory")).unit_price == Decimal("0.13")  # type: ignore[union-attr]
    assert book.find(parse_key("balloon/36 in/ivory")) is None
    assert book.find(parse_key("frame/arch")) is None


def test_a_need_without_a_price_is_told_and_leaves_the_quote_incomplete() -> None:
    made = quote(need("greenery/ivy", "4"), need("balloon/11 in/ivory", "4"))
    assert made.unpriced == ("greenery/ivy",)
    assert not made.is_complete


def test_the_least_price_of_a_job_holds() -> None:
    assert quote(book=a_book(minimum_charge=Decimal(90))).net == gbp(90)


def test_a_discount_beyond_the_price_is_refused() -> None:
    with pytest.raises(ValueError, match="Discount: expected at most the price"):
        quote(extra=(("cost", gbp(6)),), discount=gbp(1000))


@pytest.mark.parametrize("margin", ["-1", "100", "140"])
def test_an_impossible_margin_is_refused(margin: str) -> None:
    with pytest.raises(ValueError, match="margin_percent"):
        price_for(gbp(100), Decimal(margin))


quantities = st.lists(st.decimals(0, 500, places=1), min_size=1, max_size=6)


@given(
    quantities,
    st.decimals(0, 600, places=2),
    st.decimals(0, 90, places=1),
    st.decimals(0, 20, places=2),
)
def test_lines_add_up_to_the_cost_and_groups_to_the_total(
    amounts: list[Decimal], minutes: Decimal, margin: Decimal, discount: Decimal
) -> None:
    needs = [need("balloon/11 in/ivory", str(a)) for a in amounts]
    made = quote(
        *needs, minutes=str(minutes), margin_percent=margin, discount=Money(discount, "GBP"),
        extra=(("cost", gbp(30)),),
    )  # fmt: skip
    assert add_up((line.cost for line in made.lines), "GBP") == made.cost
    assert made.net + made.totals.tax == made.totals.total
    assert made.price - made.totals.allowances == made.net
    assert made.for_client().balance + made.deposit == made.totals.total
    assert made.totals.tax.amount >= 0


def test_the_clients_figures_hold_nothing_of_cost_or_margin() -> None:
    made = quote(need("balloon/11 in/ivory", "190"), minutes="60")
    data = figures_data(made.for_client())
    assert set(data) == {
        "currency", "price", "discount", "net", "tax", "total", "deposit", "balance", "groups",
    }  # fmt: skip
    assert str(made.cost.amount) not in str(data)
    assert str(made.margin.amount) not in str(data)


def test_whole_packs_are_pulled() -> None:
    assert whole_packs(Decimal(100), Decimal(50)).packs == 2
    assert whole_packs(Decimal("100.1"), Decimal(50)).packs == 3
    assert whole_packs(Decimal(0), Decimal(50)).packs == 0
    with pytest.raises(ValueError, match="expected a pack above 0"):
        whole_packs(Decimal(1), Decimal(0))


def test_the_whole_build_up_by_hand() -> None:
    book = a_book(
        spoil_percent=Decimal(10), odd_hours_percent=Decimal(50), risk_percent=Decimal(5), travel_hour=Decimal(20),
        rush_percent=Decimal(10), round_to=Decimal(5), floor_margin_percent=Decimal(60),
    )  # fmt: skip
    site = [Labour(operation="x", place="site", times=Decimal(1), minutes=Decimal(60))]
    made = make_quote(
        [need("balloon/11 in/ivory", "200")], site, book,
        Terms(
            deposit_percent=Decimal(30), travel_km=Decimal(20), trips=1, tolls=gbp(6), venue_cost=gbp(15),
            odd_hours=True, rush=True, strike_fee=gbp(25),
        ),
    )  # fmt: skip
    # 26.00 materials, 2.60 spoil; 18.00 labour, 9.00 odd hours; 40 km × 0.5 = 20.00, 40/40 h × 20 = 20.00, tolls 6.00;
    # venue 15.00: 116.60. Overhead 10 % = 11.66; risk 5 % of 128.26 = 6.41: cost 134.67.
    assert dict(made.by_kind()) == {
        "materials": gbp("28.60"), "labour": gbp(27), "travel": gbp(46), "venue": gbp(15),
        "overhead": gbp("11.66"), "risk": gbp("6.41"),
    }  # fmt: skip
    assert made.cost == gbp("134.67")
    # price 134.67/0.6 = 224.45; rush 10 % = 22.45 (22.445 half up); late take-down 25: 271.90; up to 275.
    assert made.built_up == (
        ("cost", gbp("134.67")), ("margin", gbp("89.78")), ("short notice", gbp("22.45")),
        ("late take-down", gbp(25)), ("rounded up", gbp("3.10")),
    )  # fmt: skip
    assert made.price == gbp(275)
    assert made.under_floor  # 51.0 % is less than 60 %


@given(st.integers(1, 500), st.sampled_from([0, 1, 5, 10]), st.booleans(), st.integers(0, 200))
def test_the_steps_add_up_to_the_price(balls: int, step: int, rush: bool, least: int) -> None:
    book = a_book(round_to=Decimal(step), rush_percent=Decimal(15), minimum_charge=Decimal(least))
    made = quote(need("balloon/11 in/ivory", str(balls)), book=book, rush=rush)
    assert add_up((m for _, m in made.built_up), "GBP") == made.price
    assert made.price >= gbp(least)
    assert not step or made.price.amount % step == 0
    assert made.price >= made.cost


def test_the_next_price_stands_beside_the_last_ones() -> None:
    last = [
        crosscheck.JobFigures(net=Decimal(n), balls=100, metres=Decimal(5), minutes=Decimal(120)) for n in (200, 300, 250)
    ]  # fmt: skip
    now = crosscheck.JobFigures(net=Decimal(500), balls=100, metres=Decimal(4), minutes=Decimal(0))
    checks = crosscheck.cross_check(now, last, "GBP")
    assert [(c.what, c.now, c.usual, c.far) for c in checks] == [
        ("a balloon", gbp(5), gbp("2.50"), True), ("a metre", gbp(125), gbp(50), True),
    ]  # fmt: skip
    assert crosscheck.cross_check(now, [], "GBP")[0].usual is None
    # A foot is 0.3048 m (international yard and pound agreement, 1959): 125 × 0.3048 = 38.10.
    by_foot = crosscheck.cross_check(now, last, "GBP", crosscheck.FOOT)[1]
    assert (by_foot.what, by_foot.now, by_foot.far) == ("a foot", gbp("38.10"), True)


# --- tax in the price, by the line, not at all; whole packs; a crew on the road ---


def test_a_price_can_read_well_with_its_tax_in_it() -> None:
    """250.00 with 21 % in it is 206.61 and 43.39 (own arithmetic: 250/1.21).

    Before: 94.00 of work and 18.00 of hire, a tenth on top 123.20, with its margin 205.33, with its tax 248.45.
    """
    book = replace(
        a_book(round_to=Decimal(50), tax_inside=True),
        tax=TaxGroup(code="S", name="VAT", percent=Decimal(21)),
    )
    made = quote(need("frame/ring", "1", use="hire"), minutes="470", book=book)
    assert (made.totals.total, made.net, made.totals.tax) == (gbp(250), gbp("206.61"), gbp("43.39"))
    assert made.built_up[-1][0] == "rounded up, its tax included"
    assert add_up((step for _, step in made.built_up), "GBP") == made.price


def test_a_sum_that_no_net_and_tax_make_gives_way_to_the_next() -> None:
    """With 20 % none makes 99.99: 83.32 and its tax are 99.98, 83.33 and its tax 100.00."""
    made = quote(
        need("frame/ring", "1", use="hire"), minutes="60",
        book=a_book(round_to=Decimal("99.99"), tax_inside=True),
    )  # fmt: skip
    assert made.totals.total == gbp("199.98")  # twice the step: once it cannot be had


@given(
    st.decimals(1, 5000, places=2), st.sampled_from(["0", "5", "10", "19", "20", "21", "25"]),
    st.sampled_from(["1", "5", "10", "25"]), st.booleans(),
)  # fmt: skip
def test_with_its_tax_in_it_the_total_is_a_multiple_and_adds_up(
    extra: Decimal, percent: str, step: str, apart: bool
) -> None:
    vat = TaxGroup(code="S", name="VAT", percent=Decimal(percent))
    half = TaxGroup(code="S", name="VAT", percent=Decimal(percent) / 2)
    book = replace(
        a_book(round_to=Decimal(step), tax_inside=True), tax=vat, work_tax=half if apart else None
    )
    made = quote(
        need("balloon/11 in/ivory", "200"), book=book, extra=(("thing", Money(extra, "GBP")),)
    )
    assert made.totals.total.amount % Decimal(step) == 0
    assert made.totals.total == made.net + made.totals.tax
    for line in made.totals.groups:  # EN 16931 BR-CO-17
        assert line.tax == line.net.percent(line.group.percent)
    without = quote(
        need("balloon/11 in/ivory", "200"), book=replace(book, rates=replace(book.rates, round_to=Decimal(0))),
        extra=(("thing", Money(extra, "GBP")),),
    )  # fmt: skip
    assert without.net <= made.net


def test_a_job_pays_for_whole_packs_where_the_studio_wants_it() -> None:
    some = need("balloon/11 in/ivory", "101", spare=Decimal(4))
    used, packs = (
        quote(some, book=a_book(whole_packs=flag, overhead_percent=Decimal(0))).cost
        for flag in (False, True)
    )
    assert (used, packs) == (gbp("13.65"), gbp("26.00"))  # 105 × 0.13; two packs of 100


def test_everybody_on_the_road_is_paid() -> None:
    book = a_book(travel_hour=Decimal(10), overhead_percent=Decimal(0))
    way = {"travel_km": Decimal(20), "trips": 2}  # 80 km, two hours
    costs = [quote(book=book, crew=crew, **way).cost for crew in (1, 3)]
    assert costs == [gbp(60), gbp(100)]


def test_an_hour_is_not_cut_to_minutes_before_it_is_multiplied() -> None:
    # 150.165 min at 20.00 an hour: 150.165 × 20 / 60 = 50.055 exactly, which is 50.06 half up (by hand).
    book = a_book(workshop_hour=Decimal(20), overhead_percent=Decimal(0))
    assert quote(minutes="150.165", book=book).cost == gbp("50.06")
    # 0.15 of thirds of 0.10 is 0.005, which is 0.01 half up; a third cut to digits makes 0.00499…
    thirds = PackPrice(name="thirds", pack_price=Decimal("0.10"), pack_count=Decimal(3))
    some = replace(book, prices={parse_key("tape/thirds"): thirds})
    assert quote(need("tape/thirds", "0.15"), book=some).cost == gbp("0.01")


@given(
    st.decimals(0, 5000, places=3), st.decimals(0, 200, places=2), st.decimals(0, 5000, places=3),
    st.decimals("0.01", 900, places=2), st.integers(1, 400),
)  # fmt: skip
def test_every_line_is_its_exact_product_rounded_once(
    minutes: Decimal, hour: Decimal, count: Decimal, price: Decimal, pack: int
) -> None:
    """Against the standard library's exact fractions."""
    packs = PackPrice(name="x", pack_price=price, pack_count=Decimal(pack))
    book = replace(a_book(workshop_hour=hour), prices={parse_key("tape/x"): packs})
    made = quote(need("tape/x", str(count)), minutes=str(minutes), book=book)
    exact = {
        "materials": Fraction(count) * Fraction(price) / pack,
        "labour": Fraction(minutes) * Fraction(hour) / 60,
    }
    for line in made.lines:
        if line.kind in exact:
            assert line.cost.minor == floor(exact[line.kind] * 100 + Fraction(1, 2))

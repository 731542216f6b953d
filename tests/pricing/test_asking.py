"""A total turned round: what it leaves, and the terms that come to it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pricing.core.asking import AskedTotal, ask_total, net_within
from pricing.core.book import Book, PackPrice, Rates
from pricing.core.money import Money
from pricing.core.need import Labour, Need
from pricing.core.quote import Quote, Terms, make_quote
from pricing.core.supply_keys import SupplyKey
from pricing.core.tax import TaxGroup
from tests.depth import examples

VAT, WORK = (TaxGroup(code="S", name="VAT", percent=Decimal(p)) for p in (20, 5))
NEEDS = (
    Need(
        key=SupplyKey("balloon", "11 in"),
        label="11 in balloon",
        quantity=Decimal(100),
        unit="each",
        use="consumable",
    ),
)
HOURS = (Labour(operation="make", place="workshop", times=Decimal(1), minutes=Decimal(300)),)


def gbp(text: str | Decimal) -> Money:
    return Money(Decimal(text), "GBP")


def a_book(*, work_tax: TaxGroup | None = None, **rates: str) -> Book:
    known = {
        "workshop_hour": "20",
        "site_hour": "20",
        "travel_km": "0",
        "overhead_percent": "0",
        "margin_percent": "45",
    }
    return Book(
        currency="GBP", tax=VAT, work_tax=work_tax,
        prices={SupplyKey("balloon", "11 in"): PackPrice(name="b", pack_price=Decimal(20), pack_count=Decimal(100))},
        rates=Rates(**{name: Decimal(value) for name, value in {**known, **rates}.items()}),
    )  # fmt: skip


def asked(total: str, book: Book, **terms: Decimal) -> tuple[AskedTotal, Quote, Terms]:
    """Cost 120: 100 of work, 20 of balloons. At 45 % a price of 218.18, with 20 % of tax 261.82."""

    def price(terms: Terms) -> Quote:
        return make_quote(NEEDS, HOURS, book, terms)

    mine = Terms(deposit_percent=Decimal(30), **terms)
    return ask_total(gbp(total), price, mine), price(mine), mine


def test_a_worked_example() -> None:
    """240 with its tax is 200 before it: 80 over the cost of 120 is 40 % of 200, by hand."""
    found, quote, _ = asked("240", a_book())
    assert (quote.cost, quote.totals.total) == (gbp(120), gbp("261.82"))
    assert (found.net, found.margin, found.margin_percent) == (gbp(200), gbp(80), 40)
    assert found.discount == gbp("18.18")
    assert found.margin_wanted == Decimal("40")
    assert found.comes_to == gbp(240)


def test_more_than_the_price_is_no_discount_but_a_margin() -> None:
    found, _, _ = asked("360", a_book())  # 300 before tax: 180 of 300 is 60 %
    assert found.discount is None
    assert (found.margin_percent, found.margin_wanted) == (60, 60)


def test_less_than_it_costs_is_said() -> None:
    found, _, _ = asked("120", a_book())
    assert found.margin == gbp(-20)
    assert found.margin_percent == -20
    assert found.margin_wanted is None
    assert found.discount == gbp("118.18")


def test_the_least_job_leaves_the_discount_alone() -> None:
    found, _, _ = asked("240", a_book(minimum_charge="250"))
    assert found.margin_wanted is None
    assert found.discount == gbp(50)


def test_nothing_is_no_total() -> None:
    with pytest.raises(ValueError, match="expected above 0, got 0"):
        asked("0", a_book())


@given(st.integers(2, 100_000), st.booleans(), st.integers(0, 90), st.integers(0, 5000))
@settings(max_examples=examples(60))
def test_what_is_taken_over_comes_to_what_was_asked(
    minor: int, two: bool, margin: int, off: int
) -> None:
    """A law: the discount makes the very total; the margin makes it or the least more that it can."""
    book = a_book(work_tax=WORK if two else None, margin_percent=str(margin))
    total = Money.of_minor(minor, "GBP")
    bare = make_quote(NEEDS, HOURS, book, Terms(deposit_percent=Decimal(0)))
    discount = min(Money.of_minor(off, "GBP"), bare.price)
    found, quote, terms = asked(str(total.amount), book, discount=discount)  # type: ignore[arg-type]
    assert found.margin == found.net - quote.cost

    def with_(**changes: object) -> Quote:
        return make_quote(NEEDS, HOURS, book, replace(terms, **changes))  # type: ignore[arg-type]

    if found.discount is not None:
        assert with_(discount=found.discount).totals.total == total
    if found.margin_wanted is not None and found.margin_wanted > 0:
        assert with_(margin_percent=found.margin_wanted).totals.total == found.comes_to >= total
        assert with_(margin_percent=found.margin_wanted - Decimal("0.01")).totals.total < total
    assert net_within(total, quote) == found.net

"""Figures to begin with: by currency, marked, and never a supplier that nobody knows."""

from __future__ import annotations

import re
from decimal import Decimal
from importlib import import_module

import pytest
from babel.numbers import list_currencies
from django.apps import apps

from pricing.book.price_book import book_for
from pricing.book.starter import DEMO_PACKS, DEMO_SUPPLIERS, stock_starter, stock_suppliers
from pricing.book.starter_sets import (
    ROUGH,
    SETS,
    SUPPLIES,
    starter_book,
    starter_for,
    starter_rates,
    starter_rows,
)  # fmt: skip
from pricing.models import Pack, Price, PurchaseOrder, RateCard, Supplier
from studio.access import Access
from tests.factories import StudioFactory, an_access

BEFORE = import_module("pricing.migrations.0009_examples_of_before")


@pytest.mark.parametrize("currency", [*SETS, *ROUGH])
def test_a_set_is_whole(currency: str) -> None:
    assert currency in list_currencies()  # ISO 4217, as Unicode CLDR has it
    found = starter_for(currency)
    assert found
    assert found.least > found.hour > 0
    prices = [price for _, price in starter_rows(currency)]
    assert len(prices) == len(SUPPLIES)
    assert all(price and price > 0 for price in prices)


def test_what_is_shown_before_is_what_is_stocked(db: None) -> None:
    """The book that worked pieces are priced with and the rows of a studio opened with the same figures agree."""
    access = an_access(studio=StudioFactory.create(currency="USD"))
    typed = {"hour": Decimal("37.50"), "least": Decimal(200)}
    stock_starter(access, tax_name="Sales tax", tax_percent=Decimal(7), **typed)
    made = book_for(access, access.studio.today())
    shown = starter_book("USD", tax_name="Sales tax", tax_percent=Decimal(7), **typed)
    assert made == shown
    assert made.rates.is_example
    assert all(price.is_example for price in made.prices.values())


def test_a_currency_without_a_set_wants_both_figures(db: None) -> None:
    access = an_access(studio=StudioFactory.create(currency="XPF"))
    with pytest.raises(ValueError, match="no examples in XPF"):
        stock_starter(access, tax_name="TGC", tax_percent=Decimal(11))


def as_before(access: Access) -> Access:
    """The price book as earlier versions stocked it."""
    stock_starter(access, tax_name="VAT", tax_percent=Decimal(20))
    stock_suppliers(access, since=access.studio.today())
    Price.objects.update(is_example=False)
    RateCard.objects.update(is_example=False, workshop_hour=16, site_hour=19, minimum_charge=120)
    return access


def test_studios_of_before_get_their_examples_marked(db: None) -> None:
    access = as_before(an_access())
    own = Price.objects.get(supply__key="balloon/11 in")
    Price.objects.filter(pk=own.pk).update(pack_price=Decimal("11.20"))
    BEFORE.mark_examples(apps, None)
    assert set(access.rows(Price).filter(is_example=False)) == {own}
    assert access.rows(RateCard).get().is_example
    RateCard.objects.update(is_example=False, site_hour=25)
    BEFORE.mark_examples(apps, None)
    assert not access.rows(RateCard).get().is_example


def test_made_up_suppliers_leave_real_studios_where_nobody_used_them(db: None) -> None:
    access = as_before(an_access())
    first, second = (Supplier.objects.get(name=name) for name, *_ in DEMO_SUPPLIERS)
    access.add(PurchaseOrder, supplier=first, number=1)
    BEFORE.drop_made_up_suppliers(apps, None)
    assert set(Supplier.objects.all()) == {first}
    assert not Pack.objects.filter(supplier=second).exists()
    assert Pack.objects.filter(supplier=first).exists()


def test_a_made_up_supplier_that_somebody_changed_stays(db: None) -> None:
    as_before(an_access())
    pack = Pack.objects.filter(supplier__name=DEMO_SUPPLIERS[1][0]).first()
    assert pack
    Pack.objects.filter(pk=pack.pk).update(price=9, version=2)
    BEFORE.drop_made_up_suppliers(apps, None)
    assert set(Pack.objects.all()) == {pack}


def test_the_invented_studio_keeps_what_was_invented_for_it(db: None) -> None:
    as_before(an_access(studio=StudioFactory.create(mail=BEFORE.DEMO)))
    BEFORE.mark_examples(apps, None)
    BEFORE.drop_made_up_suppliers(apps, None)
    assert not Price.objects.filter(is_example=True).exists()
    assert Supplier.objects.count() == 2


@pytest.mark.parametrize("currency", [*SETS, *ROUGH])
def test_a_kilometre_and_a_pack_cost_the_same_worth_in_every_currency(currency: str) -> None:
    """Both are a pound's figure in the currency's money, to two figures: within a twentieth of one another."""

    def figures(of: str) -> tuple[Decimal, Decimal]:
        rates = starter_rates(of, hour=Decimal(1), least=Decimal(1))
        return rates.travel_km, sum(
            (price or Decimal(0) for _, price in starter_rows(of)), Decimal(0)
        )

    (km, packs), (home_km, home_packs) = figures(currency), figures("GBP")
    assert (km / home_km) / (packs / home_packs) == pytest.approx(Decimal(1), abs=Decimal("0.06"))


def test_invented_packs_hold_what_their_names_say_and_come_from_whom_their_codes_say(
    access: Access,
) -> None:
    """A code of the first supplier begins with W, of the second with D; lengths stand in metres."""
    stock = Pack.objects.select_related("supplier").filter(studio=access.studio)
    assert stock.count() == len(DEMO_PACKS)
    for pack in stock:
        first, second = (name for name, *_ in DEMO_SUPPLIERS)
        assert pack.supplier.name == {"W": first, "D": second}[pack.code[0]]
        words = pack.name.removesuffix(", one colour")
        length = re.search(r", (\d+) m$", words)
        counts = [int(length[1])] if length else [
            int(n) for n in re.findall(r"(?:^|: |, )(\d+) (?=\D)", words)
        ]  # fmt: skip
        # jsonb keeps no order
        assert sorted(int(n) for n in pack.contents.values()) == sorted(counts), pack.name

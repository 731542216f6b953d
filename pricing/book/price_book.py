"""From rows to the price book in force on a date."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import fields
from datetime import date
from decimal import Decimal
from functools import cache
from typing import TYPE_CHECKING

from django.db.models import QuerySet

from pricing.book.models import FromADay, InForce
from pricing.core.book import Book, PackPrice, Rates
from pricing.core.supply_keys import parse_key
from pricing.core.tax import TaxGroup, rated
from pricing.models import Price, RateCard

if TYPE_CHECKING:
    from studio.access import Access


class NoRates(LookupError):
    """No rate card is in force on that day."""


def in_force[Row: InForce](access: Access, model: type[Row], on: date) -> QuerySet[Row]:
    """Rows of a kind that have begun by a date, newest first."""
    rows = access.rows(model)
    assert isinstance(rows, FromADay)
    found: QuerySet[Row] = rows.in_force(on)
    return found


def prices_on(access: Access, on: date) -> dict[int, Price]:
    """The price in force of each supply, by the supply's row."""
    newest: dict[int, Price] = {}
    for price in in_force(access, Price, on).select_related("supply"):
        newest.setdefault(price.supply_id, price)
    return newest


def rates_on(access: Access, on: date) -> RateCard:
    """The rate card in force. Raises NoRates when none has begun."""
    card = in_force(access, RateCard, on).first()
    if card is None:
        raise NoRates(f"Rates: expected some in force on {on}, got none. Enter them under Stores.")
    return card


def book_for(access: Access, on: date) -> Book:
    """The whole price book on a date, in two queries. Raises NoRates."""
    return _book(access, rates_on(access, on), prices_on(access, on).values())


def books_since(access: Access) -> Callable[[date], Book]:
    """The price book of any date, for pages that look back over many: two queries in all.

    A date before the first rates gets those; NoRates where there are none.
    """
    cards = list(access.rows(RateCard).order_by("-valid_from", "-pk"))
    prices = list(access.rows(Price).select_related("supply").order_by("-valid_from", "-pk"))
    if not cards:
        raise NoRates("Rates: expected some, got none. Enter them under Stores.")

    @cache
    def book_on(on: date) -> Book:
        newest: dict[int, Price] = {}
        for price in prices:
            if price.valid_from <= on:
                newest.setdefault(price.supply_id, price)
        card = next((card for card in cards if card.valid_from <= on), cards[-1])
        return _book(access, card, newest.values())

    return book_on


def _book(access: Access, card: RateCard, in_force: Iterable[Price]) -> Book:
    prices = {
        parse_key(price.supply.key): PackPrice(
            name=price.supply.name,
            pack_price=price.pack_price,
            pack_count=price.pack_count,
            shelf=price.supply.shelf,
            is_example=price.is_example,
        )
        for price in in_force
    }
    return Book(
        currency=access.studio.currency,
        prices=prices,
        rates=Rates(**{field.name: getattr(card, field.name) for field in fields(Rates)}),
        **card_taxes(card),
    )


def card_taxes(card: RateCard) -> dict[str, TaxGroup]:
    """One group for everything, or one for goods and hire and another for work."""
    if card.work_tax_percent in (None, card.tax_percent):
        return {"tax": tax_group(card, card.tax_percent)}
    return {
        "tax": tax_group(card, card.tax_percent, "goods and hire"),
        "work_tax": tax_group(card, card.work_tax_percent, "work and travel"),
    }


def tax_group(card: RateCard, percent: Decimal, covers: str = "") -> TaxGroup:
    return rated(card.tax_name, percent, by_line=card.tax_by_line, covers=covers)

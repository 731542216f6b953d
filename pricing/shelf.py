"""From rows to the price book in force on a date."""

from __future__ import annotations

from dataclasses import fields
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from pricing.core.book import Book, PackPrice, Rates
from pricing.core.tax import TaxGroup
from pricing.models import Price, RateCard

if TYPE_CHECKING:
    from studio.door import SeatAt


class NoRates(LookupError):
    """No rate card is in force on that day."""


def prices_on(seat: SeatAt, on: date) -> dict[int, Price]:
    """The price in force of each supply, by the supply's row."""
    newest: dict[int, Price] = {}
    for price in seat.rows(Price).in_force(on).select_related("supply"):
        newest.setdefault(price.supply_id, price)
    return newest


def rates_on(seat: SeatAt, on: date) -> RateCard:
    """The rate card in force. Raises NoRates when none has begun."""
    card = seat.rows(RateCard).in_force(on).first()
    if card is None:
        raise NoRates(f"Rates: expected some in force on {on}, got none. Enter them under Stores.")
    return card


def book_for(seat: SeatAt, on: date) -> Book:
    """The whole price book on a date, in two queries. Raises NoRates."""
    card = rates_on(seat, on)
    prices = {
        price.supply.key: PackPrice(
            name=price.supply.name,
            pack_price=price.pack_price,
            pack_count=price.pack_count,
            shelf=price.supply.shelf,
        )
        for price in prices_on(seat, on).values()
    }
    return Book(
        currency=seat.studio.currency,
        prices=prices,
        rates=Rates(**{field.name: getattr(card, field.name) for field in fields(Rates)}),
        tax=tax_group(card.tax_name, card.tax_percent),
        work_tax=None
        if card.work_tax_percent in (None, card.tax_percent)
        else tax_group(card.tax_name, card.work_tax_percent),
    )


def tax_group(name: str, percent: Decimal) -> TaxGroup:
    """Standard, or zero-rated (UNCL 5305 codes S and Z)."""
    return TaxGroup(code="S" if percent else "Z", name=name, percent=percent)

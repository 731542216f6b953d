"""Figures to begin with, by currency: invented examples, common practice, no source. A studio puts in its own.

An hour and the least job are set so that 11 ft of garland on an arch comes to what makers of some years ask for it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from pricing.core.book import Book, PackPrice, Rates
from pricing.core.supply_keys import parse_key
from pricing.core.tax import rated

type Row = tuple[str, str, str, str, Decimal, Decimal, str]  # as in SUPPLIES, in a currency

# key, name, use, unit, pack count, pack price in pounds, shelf.
SUPPLIES = (
    ("balloon/5 in", "5 in balloon", "consumable", "each", "100", "7.50", "A1"),
    ("balloon/9 in", "9 in balloon", "consumable", "each", "100", "10.00", "A1"),
    ("balloon/11 in", "11 in balloon", "consumable", "each", "100", "13.00", "A2"),
    ("balloon/16 in", "16 in balloon", "consumable", "each", "50", "17.50", "A3"),
    ("balloon/18 in", "18 in balloon", "consumable", "each", "25", "14.00", "A3"),
    ("balloon/24 in", "24 in balloon", "consumable", "each", "10", "13.00", "A4"),
    ("balloon/36 in", "36 in balloon", "consumable", "each", "5", "14.00", "A4"),
    ("tie/260", "260 modelling balloon, for ties", "consumable", "each", "100", "8.00", "A5"),
    ("greenery/mixed leaf", "mixed leaf strand", "consumable", "each", "6", "21.00", "B1"),
    ("greenery/eucalyptus", "eucalyptus strand", "consumable", "each", "6", "24.00", "B1"),
    ("greenery/ivy", "ivy strand", "consumable", "each", "12", "30.00", "B1"),
    ("ribbon/10 mm", "ribbon, 10 mm", "consumable", "m", "25", "4.50", "B2"),
    ("ribbon/25 mm", "ribbon, 25 mm", "consumable", "m", "25", "7.00", "B2"),
    ("fastener/cable tie", "cable tie", "consumable", "each", "100", "3.50", "C1"),
    ("tape/low profile", "low-profile tape", "consumable", "m", "25", "6.00", "C1"),
    ("fastener/adhesive dot", "adhesive dot", "consumable", "each", "100", "4.00", "C1"),
    ("fastener/hook", "removable hook", "consumable", "each", "10", "9.00", "C1"),
    ("line/fishing", "fishing line", "consumable", "m", "100", "5.00", "C1"),
    ("stem/mixed leaf", "mixed leaf stem", "consumable", "each", "10", "8.00", "B1"),
    ("stem/eucalyptus", "eucalyptus stem", "consumable", "each", "10", "11.00", "B1"),
    ("ribbon/5 mm", "curling ribbon, 5 mm", "consumable", "m", "225", "3.00", "B2"),
    ("gas/helium", "helium, by the cylinder", "consumable", "m³", "9", "260.00", "G1"),
    ("weight/floater", "weight for floaters", "consumable", "each", "10", "6.00", "C2"),
    ("stick/floater", "stick with cup", "consumable", "each", "50", "6.00", "C2"),
    ("frame/ring", "ring frame", "hire", "each", "1", "18.00", "K1"),
    ("frame/arch", "arch frame", "hire", "each", "1", "22.00", "K1"),
    ("frame/rail", "rail and uprights", "hire", "each", "1", "9.00", "K2"),
    ("frame/panel", "panel with stand", "hire", "each", "1", "24.00", "K2"),
    ("frame/column", "pole and base plate", "hire", "each", "1", "8.00", "K2"),
    ("frame/bent rod", "rod with feet", "hire", "each", "1", "8.00", "K1"),
    ("weight/ballast", "ballast weight, 20 kg", "hire", "each", "1", "2.00", "K3"),
)
MARGIN, OVERHEAD, KM = Decimal(45), Decimal(12), Decimal("0.45")  # of a pound a kilometre


@dataclass(frozen=True, slots=True, kw_only=True)
class StarterSet:
    factor: Decimal  # what a pound of SUPPLIES is there, roughly
    hour: Decimal  # what an hour of work earns, before overhead and margin
    least: Decimal  # the least price of a job, before tax
    tax_name: str = "Tax"
    tax_percent: Decimal = Decimal(0)


def _set(factor: str, hour: str, least: str, tax: str = "Tax", percent: str = "0") -> StarterSet:
    return StarterSet(
        factor=Decimal(factor), hour=Decimal(hour), least=Decimal(least), tax_name=tax,
        tax_percent=Decimal(percent),
    )  # fmt: skip


# Taxes from memory: the usual rate where there is one; many small studios charge none.
SETS = {
    "USD": _set("1.25", "40", "180", "Sales tax", "0"), "GBP": _set("1", "28", "120", "VAT", "20"),
    "EUR": _set("1.15", "30", "140", "VAT", "20"), "CAD": _set("1.7", "45", "220", "GST", "5"),
    "AUD": _set("1.9", "50", "240", "GST", "10"), "NZD": _set("2.1", "50", "250", "GST", "15"),
}  # fmt: skip
# Elsewhere a pound's worth, to two figures and from memory: an order of size, no more.
ROUGH = {
    "AED": "4.7", "CHF": "1.2", "CZK": "29", "DKK": "8.7", "HKD": "10", "HUF": "470", "ILS": "4.7", "INR": "110",
    "ISK": "170", "JPY": "190", "KRW": "1700", "KWD": "0.39", "MXN": "24", "MYR": "5.8", "NOK": "13", "PHP": "73",
    "PLN": "5", "RON": "5.8", "SAR": "4.8", "SEK": "13", "SGD": "1.7", "THB": "44", "TWD": "40", "ZAR": "23",
}  # fmt: skip


def starter_for(currency: str) -> StarterSet | None:
    """The figures of a currency; None where there are none to begin with."""
    if currency in SETS or currency not in ROUGH:
        return SETS.get(currency)
    factor, home = Decimal(ROUGH[currency]), SETS["GBP"]
    return StarterSet(
        factor=factor, hour=two_figures(home.hour * factor), least=two_figures(home.least * factor)
    )


def two_figures(value: Decimal) -> Decimal:
    """Rounded to two figures that count.

    >>> two_figures(Decimal("16.25")), two_figures(Decimal("2470")), two_figures(Decimal("0.117"))
    (Decimal('16'), Decimal('2500'), Decimal('0.12'))
    """
    return Decimal(f"{Decimal(f'{value:.1e}'):f}") if value else value


def starter_rows(currency: str) -> Iterator[tuple[tuple[str, ...], Decimal | None]]:
    """Every supply with its pack price in a currency; None where there is no figure."""
    found = starter_for(currency)
    for row in SUPPLIES:
        price = Decimal(row[5])
        if found is None:
            yield row, None
        else:
            yield row, price if found.factor == 1 else two_figures(price * found.factor)


def starter_rates(currency: str, *, hour: Decimal, least: Decimal) -> Rates:
    """Rates with what an hour earns, in the workshop and on site alike, and the least job."""
    found = starter_for(currency)
    return Rates(
        workshop_hour=hour, site_hour=hour, travel_km=two_figures(KM * found.factor) if found else Decimal(0),
        overhead_percent=OVERHEAD, margin_percent=MARGIN, minimum_charge=least, is_example=True,
    )  # fmt: skip


def starter_book(
    currency: str, *, hour: Decimal, least: Decimal, tax_name: str, tax_percent: Decimal
) -> Book:
    """The price book that a studio opened with these figures would have."""
    prices = {
        parse_key(key): PackPrice(
            name=name, pack_price=price, pack_count=Decimal(count), shelf=shelf, is_example=True
        )
        for (key, name, _, _, count, _, shelf), price in starter_rows(currency)
        if price is not None
    }  # fmt: skip
    tax = rated(tax_name, tax_percent)
    rates = starter_rates(currency, hour=hour, least=least)
    return Book(currency=currency, prices=prices, rates=rates, tax=tax)

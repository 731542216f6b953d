"""A price book to begin with, marked as examples until the studio confirms it or puts its own in its place."""

from __future__ import annotations

from dataclasses import fields
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from pricing.book.starter_sets import StarterSet, starter_for, starter_rates, starter_rows
from pricing.models import Pack, Price, RateCard, Supplier, Supply

if TYPE_CHECKING:
    from studio.access import Access

# Invented suppliers, named so that nobody takes them for real ones.
DEMO_SUPPLIERS = (
    # name, delivery, least order, days
    ("Example wholesale (demo)", "6.50", "40.00", 3),
    ("Example corner depot (demo)", "0", "0", 1),
)
# supplier, code, name, contents, price, grade. Invented figures; without a colour a pack comes in any.
DEMO_PACKS = (
    (
        0,
        "W5-100",
        "100 balloons of 5 in, one colour",
        {"balloon/5 in": 100},
        "7.20",
        "professional",
    ),
    (
        0,
        "W11-100",
        "100 balloons of 11 in, one colour",
        {"balloon/11 in": 100},
        "12.40",
        "professional",
    ),
    (
        0,
        "W11-25",
        "25 balloons of 11 in, one colour",
        {"balloon/11 in": 25},
        "4.10",
        "professional",
    ),
    (
        0,
        "W16-50",
        "50 balloons of 16 in, one colour",
        {"balloon/16 in": 50},
        "16.80",
        "professional",
    ),
    (
        0,
        "W24-10",
        "10 balloons of 24 in, one colour",
        {"balloon/24 in": 10},
        "12.50",
        "professional",
    ),
    (0, "W260-100", "100 modelling balloons, 260", {"tie/260": 100}, "7.60", "professional"),
    (0, "WL-6", "6 mixed leaf strands", {"greenery/mixed leaf": 6}, "20.00", ""),
    (0, "WC-100", "100 cable ties", {"fastener/cable tie": 100}, "3.20", ""),
    (0, "WT-25", "low-profile tape, 25 m", {"tape/low profile": 25}, "5.60", ""),
    (0, "WR10-25", "ribbon 10 mm, 25 m, one colour", {"ribbon/10 mm": 25}, "4.20", ""),
    (
        0,
        "WK-1",
        "kit: 100 of 11 in ivory, 50 of 5 in ivory",
        {"balloon/11 in/ivory": 100, "balloon/5 in/ivory": 50},
        "14.90",
        "professional",
    ),
    (1, "D5-20", "20 balloons of 5 in, one colour", {"balloon/5 in": 20}, "2.60", "professional"),
    (
        1,
        "D11-20",
        "20 balloons of 11 in, one colour",
        {"balloon/11 in": 20},
        "4.20",
        "professional",
    ),
    (1, "D11-50P", "50 balloons of 11 in, party grade", {"balloon/11 in": 50}, "5.00", "party"),
    (1, "D16-5", "5 balloons of 16 in, one colour", {"balloon/16 in": 5}, "2.90", "professional"),
    (1, "D260-20", "20 modelling balloons, 260", {"tie/260": 20}, "2.40", "professional"),
    (1, "DL-1", "1 mixed leaf strand", {"greenery/mixed leaf": 1}, "4.50", ""),
    (1, "DC-50", "50 cable ties", {"fastener/cable tie": 50}, "2.20", ""),
    (1, "DT-10", "low-profile tape, 10 m", {"tape/low profile": 10}, "3.30", ""),
    (1, "DR10-10", "ribbon 10 mm, 10 m, one colour", {"ribbon/10 mm": 10}, "2.50", ""),
)


def stock_suppliers(access: Access, *, since: date) -> None:
    """Two invented suppliers to try the buying plan with: for the demo and for tests, never for a real studio."""
    suppliers = [
        access.add(
            Supplier, name=name, delivery=Decimal(delivery), minimum=Decimal(least), lead_days=days
        )
        for name, delivery, least, days in DEMO_SUPPLIERS
    ]
    for at, code, name, contents, price, grade in DEMO_PACKS:
        access.add(
            Pack, supplier=suppliers[at], code=code, name=name, contents=contents,
            price=Decimal(price), grade=grade, valid_from=since,
        )  # fmt: skip


def stock_starter(
    access: Access, *, tax_name: str, tax_percent: Decimal, hour: Decimal | None = None,
    least: Decimal | None = None, since: date | None = None,
) -> None:  # fmt: skip
    """Give a new studio supplies, prices and rates from a day on, all marked as examples.

    `hour` is what an hour of work earns, `least` the least price of a job; without them, the usual ones.
    ValueError in a currency that has no usual ones.
    """
    since, currency = since or access.studio.today(), access.studio.currency
    usual = starter_for(currency)
    if usual is None and (hour is None or least is None):
        raise ValueError(
            f"hour and least: expected both, since there are no examples in {currency}"
        )
    for (key, name, use, unit, count, _, shelf), price in starter_rows(currency):
        supply = access.add(Supply, key=key, name=name, use=use, unit=unit, shelf=shelf)
        if price is not None:
            access.add(
                Price, supply=supply, valid_from=since, pack_count=Decimal(count), pack_price=price,
                is_example=True,
            )  # fmt: skip
    rates = starter_rates(
        currency,
        hour=usual.hour if hour is None and usual else hour or Decimal(0),
        least=usual.least if least is None and usual else least or Decimal(0),
    )
    facts = {field.name: getattr(rates, field.name) for field in fields(rates)}
    access.add(RateCard, valid_from=since, tax_name=tax_name, tax_percent=tax_percent, **facts)


def stock_on_opening(sender: object, access: Access, **facts: Any) -> None:
    names = ("tax_name", "tax_percent", "hour", "least")
    stock_starter(access, **{name: facts[name] for name in names})


def offer_figures(sender: object, currency: str, **_: Any) -> StarterSet | None:
    """What the first start proposes for a currency."""
    return starter_for(currency)

"""A price book to begin with. Its figures are examples: the studio puts its own in their place."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from pricing.models import Pack, Price, RateCard, Supplier, Supply

if TYPE_CHECKING:
    from studio.door import SeatAt

# key, name, use, unit, pack count, pack price, shelf. Invented figures.
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


def stock_suppliers(seat: SeatAt, *, since: date) -> None:
    """Give a new studio two invented suppliers to try the buying plan with."""
    suppliers = [
        seat.add(
            Supplier, name=name, delivery=Decimal(delivery), minimum=Decimal(least), lead_days=days
        )
        for name, delivery, least, days in DEMO_SUPPLIERS
    ]
    for at, code, name, contents, price, grade in DEMO_PACKS:
        seat.add(
            Pack, supplier=suppliers[at], code=code, name=name, contents=contents,
            price=Decimal(price), grade=grade, valid_from=since,
        )  # fmt: skip


def stock_starter(
    seat: SeatAt, *, tax_name: str, tax_percent: Decimal, since: date | None = None
) -> None:
    """Give a new studio supplies, prices and rates from a day on."""
    since = since or seat.studio.today()
    for key, name, use, unit, count, price, shelf in SUPPLIES:
        supply = seat.add(Supply, key=key, name=name, use=use, unit=unit, shelf=shelf)
        seat.add(
            Price,
            supply=supply,
            valid_from=since,
            pack_count=Decimal(count),
            pack_price=Decimal(price),
        )
    stock_suppliers(seat, since=since)
    seat.add(
        RateCard, valid_from=since, workshop_hour=Decimal(16), site_hour=Decimal(19),
        travel_km=Decimal("0.45"), overhead_percent=Decimal(12), margin_percent=Decimal(45),
        minimum_charge=Decimal(120), tax_name=tax_name, tax_percent=tax_percent,
    )  # fmt: skip


def stock_on_opening(sender: object, seat: SeatAt, **facts: Any) -> None:
    stock_starter(seat, tax_name=facts["tax_name"], tax_percent=facts["tax_percent"])

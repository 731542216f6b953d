"""A price book to begin with. Its figures are examples: the studio puts its own in their place."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.utils import timezone

from pricing.models import Price, RateCard, Supply

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


def stock_starter(
    seat: SeatAt, *, tax_name: str, tax_percent: Decimal, since: date | None = None
) -> None:
    """Give a new studio supplies, prices and rates from a day on."""
    since = since or timezone.localdate()
    for key, name, use, unit, count, price, shelf in SUPPLIES:
        supply = seat.add(Supply, key=key, name=name, use=use, unit=unit, shelf=shelf)
        seat.add(
            Price,
            supply=supply,
            valid_from=since,
            pack_count=Decimal(count),
            pack_price=Decimal(price),
        )
    seat.add(
        RateCard, valid_from=since, workshop_hour=Decimal(16), site_hour=Decimal(19),
        travel_km=Decimal("0.45"), overhead_percent=Decimal(12), margin_percent=Decimal(45),
        minimum_charge=Decimal(120), tax_name=tax_name, tax_percent=tax_percent,
    )  # fmt: skip


def stock_on_opening(sender: object, seat: SeatAt, **facts: Any) -> None:
    stock_starter(seat, tax_name=facts["tax_name"], tax_percent=facts["tax_percent"])

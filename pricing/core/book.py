"""The price book in force on a date, as a value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from pricing.core.supply_keys import SupplyKey
from pricing.core.tax import TaxGroup


@dataclass(frozen=True, slots=True, kw_only=True)
class PackPrice:
    """What a supply costs: so much for a pack of so many (each or metres), before tax."""

    name: str
    pack_price: Decimal
    pack_count: Decimal
    shelf: str = ""
    is_example: bool = False  # nobody in the studio has confirmed it

    @property
    def unit_price(self) -> Decimal:
        """For the eye: cut to the digits that a Decimal keeps. Reckon with `unit_cost`."""
        return self.pack_price / self.pack_count

    @property
    def unit_cost(self) -> Fraction:
        """Exact."""
        return Fraction(self.pack_price) / Fraction(self.pack_count)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """What the studio asks for its own time and ways, before tax."""

    workshop_hour: Decimal
    site_hour: Decimal
    travel_km: Decimal  # for each kilometre driven
    overhead_percent: Decimal  # on everything else
    margin_percent: Decimal  # part of the price, not of the cost
    minimum_charge: Decimal = Decimal(0)
    travel_hour: Decimal = Decimal(0)  # of one person on the road
    spoil_percent: Decimal = Decimal(0)  # on materials: what breaks before it is counted
    odd_hours_percent: Decimal = Decimal(0)  # more for work on site by night or at the weekend
    risk_percent: Decimal = Decimal(0)  # on cost
    rush_percent: Decimal = Decimal(0)  # on the price of a job at short notice
    floor_margin_percent: Decimal = Decimal(0)  # below it the price is warned of
    round_to: Decimal = Decimal(0)  # the price is rounded up to a multiple of it; 0: not
    whole_packs: bool = False  # the job pays for whole packs, not for what it uses of them
    tax_inside: bool = False  # the price is rounded with its tax in it
    tax_by_line: bool = False  # tax is rounded on each line, not once a group
    is_example: bool = False  # nobody in the studio has confirmed them


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    currency: str
    prices: Mapping[SupplyKey, PackPrice]
    rates: Rates
    tax: TaxGroup  # on goods and hire, and on work too unless it has its own
    work_tax: TaxGroup | None = None  # on labour, travel and extras, where the law tells them apart

    def tax_of(self, kind: str) -> TaxGroup:
        """The tax group that a kind of cost is sold under."""
        return self.tax if kind in ("materials", "hire") or not self.work_tax else self.work_tax

    def find(self, key: SupplyKey) -> PackPrice | None:
        """The most particular price that covers a key: of 11 in balloons in ivory, else of any 11 in balloons."""
        return next((self.prices[wider] for wider in key.widening() if wider in self.prices), None)

    def knows(self, key: SupplyKey) -> bool:
        """Whether a supply has a price."""
        return self.find(key) is not None

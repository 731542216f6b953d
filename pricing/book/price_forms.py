"""Forms of the price book."""

from __future__ import annotations

from contextlib import suppress
from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError

from pricing.book.dated import FromDayForm
from pricing.core.supply_keys import UnreadableKey, typed_key, write_key
from pricing.models import Price, RateCard, Supply
from studio.editing import ModelForm, VersionedForm

# 1 mile is 1.609344 km exactly (international yard and pound agreement, 1959).
A_MILE_COSTS = "1 mile is 1.609 km: what a mile costs, divided by 1.609."
DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class SupplyForm(VersionedForm):
    class Meta:
        model = Supply
        fields: ClassVar = ["name", "key", "use", "unit", "shelf"]
        help_texts: ClassVar = {
            "key": "How a design asks for it, from the general to the particular: balloon/11 in, "
            "or balloon/11 in/old gold for one colour at its own price.",
        }

    def __init__(self, *args: Any, taken: set[str] = frozenset(), **options: Any) -> None:  # type: ignore[assignment]
        super().__init__(*args, **options)
        self.taken = taken

    def clean_key(self) -> str:
        key = str(self.cleaned_data["key"])
        with suppress(UnreadableKey):  # the model's validator says so
            key = write_key(typed_key(key))
        if key in self.taken:
            raise ValidationError(
                f"Key: expected one of its own, got {key}, which another supply has."
            )
        return key


class SupplyPriceForm(FromDayForm):
    """A price from a day on; the ones before stay as they are."""

    class Meta:
        model = Price
        fields: ClassVar = ["pack_price", "pack_count", "valid_from"]
        labels: ClassVar = {
            "pack_price": "Pack price, before tax",
            "pack_count": "In a pack (pieces or metres)",
            "valid_from": "From",
        }
        widgets: ClassVar = {"valid_from": DAY}

    def clean_pack_price(self) -> Any:
        return at_least(self, "pack_price", 0)

    def clean_pack_count(self) -> Any:
        if self.cleaned_data["pack_count"] <= 0:
            raise ValidationError(
                f"In a pack: expected more than 0, got {self.cleaned_data['pack_count']}."
            )
        return self.cleaned_data["pack_count"]


class RatesForm(FromDayForm):
    """Rates from a day on."""

    class Meta:
        model = RateCard
        fields: ClassVar = [
            "workshop_hour", "site_hour", "travel_km", "overhead_percent", "margin_percent",
            "minimum_charge", "travel_hour", "spoil_percent", "odd_hours_percent", "risk_percent",
            "rush_percent", "floor_margin_percent", "round_to", "tax_name", "tax_percent", "work_tax_percent",
            "tax_inside", "tax_by_line", "whole_packs", "valid_from",
        ]  # fmt: skip
        labels: ClassVar = {
            "workshop_hour": "An hour in the workshop",
            "site_hour": "An hour on site",
            "travel_km": "A kilometre driven",
            "overhead_percent": "Overhead, % of cost",
            "margin_percent": "Margin, % of the price",
            "minimum_charge": "Least price of a job",
            "travel_hour": "An hour on the road",
            "spoil_percent": "Spoil, % of materials",
            "odd_hours_percent": "Night and weekend on site, % more",
            "risk_percent": "Risk, % of cost",
            "rush_percent": "Short notice, % of the price",
            "floor_margin_percent": "Warn below a margin of, %",
            "round_to": "Round the price up to a multiple of",
            "tax_name": "Tax is called",
            "tax_percent": "Tax on goods and hire, %",
            "work_tax_percent": "Tax on labour and travel, %",
            "tax_inside": "Round the price with its tax in it",
            "tax_by_line": "Round tax on each line, not once a group",
            "whole_packs": "A job pays for whole packs",
            "valid_from": "From",
        }
        help_texts: ClassVar = {
            "tax_by_line": "Laws leave that choice open; stay with one.",
            "whole_packs": "Else for what it uses of them, spares included.",
            "work_tax_percent": "Empty: the same. Local law decides; ask whoever keeps your books.",
            "margin_percent": "Of the price, not of the cost: 40 % of a price of 100 leaves 60 for cost.",
        }
        widgets: ClassVar = {"valid_from": DAY}

    def __init__(self, *args: Any, units: str = "metric", **options: Any) -> None:
        super().__init__(*args, **options)
        for name in self.MAY_BE_NOTHING:
            self.fields[name].required = False
        if units == "imperial":
            self.fields["travel_km"].help_text = A_MILE_COSTS

    MAY_BE_NOTHING: ClassVar = (
        "travel_hour", "spoil_percent", "odd_hours_percent", "risk_percent", "rush_percent",
        "floor_margin_percent", "round_to",
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or self.cleaned_data
        for name in self.MAY_BE_NOTHING:
            if name in facts and facts[name] is None:
                facts[name] = Decimal(0)
        for name in facts:
            if name not in ("tax_name", "valid_from", "seen") and facts[name] is not None:
                try:
                    at_least(self, name, 0)
                except ValidationError as error:
                    self.add_error(name, error)
        if facts.get("margin_percent", 0) >= 100:
            self.add_error(
                "margin_percent", f"Margin: expected below 100 %, got {facts['margin_percent']}."
            )
        return facts


def at_least(form: ModelForm, name: str, least: int) -> Any:
    value = form.cleaned_data[name]
    if value < least:
        raise ValidationError(f"{form.fields[name].label}: expected at least {least}, got {value}.")
    return value

"""What one job adds to the price book."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, ClassVar

from django import forms

from jobs.models import Job
from jobs.pages.fields import CountField, MoneyField, fit_amounts
from pricing.core.money import minor_places
from studio.editing import VersionedForm

AMOUNTS = ("extra_cost", "discount", "tolls", "venue_cost", "strike_fee")


class JobPriceForm(VersionedForm):
    use_required_attribute = False
    travel_km = MoneyField(
        label="Way to the venue, km", min_value=0, max_digits=7, decimal_places=1
    )
    trips = CountField(label="Trips there and back", min_value=0, max_value=20)
    margin_percent = MoneyField(
        label="Margin for this job, %", required=False, min_value=0, max_digits=5, decimal_places=2,
        help_text="Empty: the margin of the price book.",
    )  # fmt: skip
    extra_cost = MoneyField(label="Extra cost", min_value=0, max_digits=10, decimal_places=3)
    discount = MoneyField(
        label="Discount, before tax", min_value=0, max_digits=10, decimal_places=3
    )

    tolls = MoneyField(
        label="Tolls and parking", required=False, min_value=0, max_digits=10, decimal_places=3
    )
    venue_cost = MoneyField(
        label="Venue’s charges", required=False, min_value=0, max_digits=10, decimal_places=3
    )
    strike_fee = MoneyField(
        label="Late take-down fee", required=False, min_value=0, max_digits=10, decimal_places=3,
        help_text="On the price, not on the cost.",
    )  # fmt: skip

    crew = CountField(label="People who go", min_value=1, max_value=20)

    class Meta:
        model = Job
        fields: ClassVar = [
            "travel_km", "trips", "crew", "tolls", "venue_cost", "odd_hours", "rush", "strike_fee", "margin_percent",
            "extra_label", "extra_cost", "discount", "tax_treatment", "tax_reason",
        ]  # fmt: skip
        labels: ClassVar = {
            "extra_label": "Extra cost for",
            "odd_hours": "By night or at the weekend",
            "rush": "At short notice",
            "tax_treatment": "Tax",
            "tax_reason": "Why exempt",
        }
        help_texts: ClassVar = {
            "tax_treatment": "Local law decides; ask whoever keeps your books.",
            "tax_reason": "As the law words it; it stands on the invoice.",
        }

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        fit_amounts(self, self.instance.studio)
        if self.instance.studio.units == "imperial":
            self.fields["travel_km"].help_text = "1 mile is 1.609 km: 10 miles are 16.1 km."
        for field in self.fields.values():
            field.error_messages["required"] = (
                f"{field.label}: expected a value (0 for none), got nothing."
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name in ("tolls", "venue_cost", "strike_fee"):  # empty is nothing
            if name in cleaned and cleaned[name] is None:
                cleaned[name] = Decimal(0)
        for name in AMOUNTS:
            self.must_fit_the_currency(name, cleaned.get(name))
        if cleaned.get("tax_treatment") == Job.Tax.EXEMPT and not cleaned.get("tax_reason"):
            self.add_error("tax_reason", "Why exempt: expected the reason, got nothing.")
        return cleaned

    def must_fit_the_currency(self, name: str, amount: Decimal | None) -> None:
        """An amount finer than the currency would be rounded unseen: it is refused."""
        places = minor_places(self.instance.studio.currency)
        if amount is not None and amount != round(amount, places):
            self.add_error(
                name,
                f"{self.fields[name].label}: expected at most {places} decimals, got {amount}.",
            )

    def clean_margin_percent(self) -> Any:
        margin = self.cleaned_data["margin_percent"]
        if margin is not None and margin >= 100:
            raise forms.ValidationError(f"Margin: expected below 100 %, got {margin} %.")
        return margin


class AskTotalForm(forms.Form):
    """What the studio would like to ask, to see what it leaves."""

    asked = MoneyField(
        label="Or type what the client pays", required=False, max_digits=10, decimal_places=3,
        help_text="Tax included. See what it leaves, then take it as a discount or as the margin of this job.",
    )  # fmt: skip

    def clean_asked(self) -> Decimal | None:
        asked: Decimal | None = self.cleaned_data["asked"]
        if asked is not None and asked <= 0:
            raise forms.ValidationError(f"What the client pays: expected more than 0, got {asked}.")
        return asked


class BudgetForm(forms.Form):
    """What the client would pay at the most."""

    budget = MoneyField(
        label="The client would pay at the most", min_value=1, max_digits=10, decimal_places=3,
        help_text="Tax included.",
        error_messages={"required": "The client would pay at the most: expected an amount, got nothing."},
    )  # fmt: skip

"""What a piece must fit, and how long one truly took."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms

from jobs.pages.fields import CountField, InStudioUnits, LengthField, MoneyField

if TYPE_CHECKING:
    from studio.models import Studio


class FitForm(InStudioUnits, forms.Form):
    span_m = LengthField(label="Width there is", help_text="Free wall or floor, side to side.")
    budget = MoneyField(
        label="The client would pay up to", required=False, max_digits=10, decimal_places=3,
        min_value=1, help_text="Tax included. Empty: no limit.",
    )  # fmt: skip

    def __init__(self, *args: Any, studio: Studio, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fit(studio)

    def clean_span_m(self) -> float:
        span: float = self.cleaned_data["span_m"]
        if not 0.5 <= span <= 30:
            raise forms.ValidationError(
                f"Width there is: expected 0.5 m to 30 m, got {span:.2f} m."
            )
        return span


class TrueMinutes(forms.Form):
    true_minutes = CountField(label="True minutes", required=False, min_value=1, max_value=100_000)

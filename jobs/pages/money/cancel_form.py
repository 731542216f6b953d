"""What is said of a job that is called off."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from django import forms
from django.utils.timezone import localdate

if TYPE_CHECKING:
    pass


class CancelForm(forms.Form):
    """When it was called off and why, and whether the studio keeps less than its scale says."""

    on = forms.DateField(
        label="Called off on",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="The day the client told you.",
    )
    percent = forms.DecimalField(
        label="Keep, %", required=False, min_value=0, max_value=100, max_digits=5, decimal_places=2,
        help_text="Empty: as your scale says. Less is yours to choose.",
    )  # fmt: skip
    why = forms.CharField(label="Why", max_length=200, required=False)

    def clean_on(self) -> date:
        on: date = self.cleaned_data["on"]
        if on > localdate():
            raise forms.ValidationError(
                f"Called off on: expected today or a day before, got {on:%d %B %Y}."
            )
        return on

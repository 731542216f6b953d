"""Forms of an event that is called off, or goes to another day."""

from __future__ import annotations

from datetime import date

from django import forms
from django.utils.timezone import localdate

from jobs.forms.fields import MomentField


class CallOffForm(forms.Form):
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


class PostponeForm(forms.Form):
    """The new start; everything else goes along."""

    start = MomentField(
        label="New start of the event", help_text="End, set-up and clearing move along with it."
    )
    why = forms.CharField(label="Why", max_length=200, required=False)

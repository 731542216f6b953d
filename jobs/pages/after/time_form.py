"""Time that a job took, as somebody writes it down."""

from __future__ import annotations

from datetime import date

from django import forms
from django.utils.timezone import localdate

from jobs.models import TimeTaken
from jobs.pages.fields import CountField, MinutesField

DAY_MIN = 24 * 60


class TimeForm(forms.Form):
    place = forms.ChoiceField(label="Where", choices=TimeTaken.Place.choices)
    people = CountField(label="People", min_value=1, max_value=40, initial=1)
    minutes = MinutesField(
        label="Minutes each",
        most=DAY_MIN,
        help_text="Such as 95 or 1:35. The road is not part of it.",
    )
    on = forms.DateField(
        label="Date", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    words = forms.CharField(
        label="What was done",
        required=False,
        max_length=120,
        help_text="Such as clusters, set-up, take-down.",
    )

    use_required_attribute = False  # the server's sentences are better than the browser's

    def __init__(self, *args: object, **options: object) -> None:
        super().__init__(*args, **options)  # type: ignore[arg-type]
        for field in self.fields.values():
            field.error_messages["required"] = f"{field.label}: expected a value, got nothing."

    def clean_on(self) -> date:
        on: date = self.cleaned_data["on"]
        if on > localdate():
            raise forms.ValidationError(f"Date: expected today or earlier, got {on:%Y-%m-%d}.")
        return on

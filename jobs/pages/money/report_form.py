"""Which time a report looks at."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from studio.query_values import FIRST, LAST

LONGEST_YEARS = 10


class DayField(forms.DateField):
    """A day, with the browser's own input; every refusal says what came."""

    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")

    def to_python(self, value: Any) -> date | None:
        try:
            day = super().to_python(value)
        except forms.ValidationError:
            day = None
        if day is None or not FIRST <= day <= LAST:
            raise forms.ValidationError(
                f"{self.label}: expected a day from {FIRST.year} to {LAST.year} such as 2026-03-01, "
                f"got {f'“{value}”' if value else 'nothing'}."
            )
        return day


class SpanForm(forms.Form):
    since = DayField(label="From")
    until = DayField(label="To")

    def clean(self) -> dict[str, Any]:
        told = super().clean() or {}
        since, until = told.get("since"), told.get("until")
        if since and until and until < since:
            self.add_error("until", f"To: expected {since} or later, got {until}.")
        elif since and until and until.year - since.year > LONGEST_YEARS:
            self.add_error(
                "until", f"To: expected at most {LONGEST_YEARS} years after {since}, got {until}."
            )
        return told

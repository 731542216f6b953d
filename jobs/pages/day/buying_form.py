"""For which jobs, until when, of which grade."""

from __future__ import annotations

from typing import Any

from django import forms


class BuyingForm(forms.Form):
    jobs = forms.MultipleChoiceField(
        label="For", required=False, widget=forms.CheckboxSelectMultiple,
        help_text="None ticked: everything that is reserved.",
    )  # fmt: skip
    until = forms.DateField(
        label="Needed until", required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Needed until: expected a day such as 2026-06-20."},
    )  # fmt: skip
    party = forms.BooleanField(label="Party grade will do", required=False)

    def __init__(self, *args: Any, jobs: list[tuple[str, str]], **options: Any) -> None:
        super().__init__(*args, **options)
        self.reserved = jobs
        self.fields["jobs"].choices = jobs  # type: ignore[attr-defined]

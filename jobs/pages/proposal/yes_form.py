"""The client’s yes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from jobs.proposal.choices import letter_of
from jobs.proposal.frozen import OfferedChoice

# A choice or a tick asks the proposal's address what it comes to.
TOLD_AT_ONCE = {
    "data-hx-trigger": "change",
    "data-hx-target": "#comes-to",
    "data-hx-sync": "closest form:replace",
}


class YesForm(forms.Form):
    """The client's choice, name and tick; nothing is ticked beforehand. `ways` are all of the offer, `totals` are its
    alternatives by letter, each in words with its total.

    `at` is the proposal's address: the page may stand at another one, after a question that could not be taken.
    """

    name = forms.CharField(
        label="Your full name", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "name"}),
        error_messages={"required": "Your full name: expected a name, got nothing."},
    )  # fmt: skip
    agreed = forms.BooleanField(
        error_messages={"required": "The tick: expected it to be set before you go on, got none."}
    )

    def __init__(
        self, *args: Any, wording: str, totals: list[tuple[str, str]], ways: Sequence[OfferedChoice],
        at: str, **options: Any,
    ) -> None:  # fmt: skip
        super().__init__(*args, **options)
        self.fields["agreed"].label = wording
        self.ways = ways
        told_at_once = {"data-hx-post": at, **TOLD_AT_ONCE}
        self.letters = [letter for letter, _ in totals]
        if len(totals) > 1:
            self.fields["choice"] = forms.ChoiceField(
                label="Your choice", choices=totals, widget=forms.RadioSelect(attrs=told_at_once),
                error_messages={"required": "Your choice: expected one of them, got none."},
            )  # fmt: skip
        for way in ways:
            if way.extras and not way.ticked:
                of = f" to {way.letter}" if len(totals) > 1 else ""
                self.fields[f"extras_{way.letter}"] = forms.MultipleChoiceField(
                    label=f"Extras{of}", required=False, choices=[(n, n) for n in way.extras],
                    widget=forms.CheckboxSelectMultiple(attrs=told_at_once),
                )  # fmt: skip
        extras = [name for name in self.fields if name.startswith("extras_")]
        self.order_fields(["choice", *extras, "name", "agreed"])

    def clean(self) -> dict[str, Any]:
        """Adds `key`: the way that was chosen, "" where the offer leaves no choice."""
        cleaned = super().clean() or self.cleaned_data
        cleaned["key"] = ""
        if len(self.ways) > 1 and "choice" not in self.errors:
            letter = cleaned.get("choice") or self.letters[0]
            ticked = cleaned.get(f"extras_{letter}", [])
            others = [n for n in self.fields if n.startswith("extras_") and n[-1] != letter]
            if stray := [x for name in others for x in cleaned.get(name, [])]:
                raise forms.ValidationError(
                    f"Extras: expected those of choice {letter}, got “{stray[0]}”, which belongs to another."
                )
            cleaned["key"], reason = letter_of(self.ways, letter, ticked)
            if reason:
                self.add_error(f"extras_{letter}", f"Extras: {reason}")
        return cleaned

    @property
    def key(self) -> str:
        """The way that stands in the form so far; that without extras where it is not clear yet."""
        if len(self.ways) == 1:
            return ""
        said = getattr(self, "cleaned_data", {})
        return said.get("key") or said.get("choice") or self.letters[0]

"""Forms of the proposal, the client's yes, and payments."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from jobs.models import Payment
from jobs.pages.fields import MoneyField
from jobs.proposal.choices import letter_of
from jobs.proposal.frozen import OfferedChoice
from jobs.proposal.offering import Words
from pricing.core.money import minor_places


class WordsForm(forms.Form):
    """The studio's own words on a proposal."""

    greeting = forms.CharField(
        label="Greeting", max_length=1000, widget=forms.Textarea(attrs={"rows": 3})
    )
    note = forms.CharField(
        label="A note to the client", max_length=2000, required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )  # fmt: skip

    photo = forms.BooleanField(label="The room’s photo behind the picture", required=False)

    def __init__(
        self, *args: Any, others: list[tuple[str, str]], pictured: bool, **options: Any
    ) -> None:
        super().__init__(*args, **options)
        if not pictured:
            del self.fields["photo"]
        if others:
            self.fields["letters"] = forms.MultipleChoiceField(
                label="The client may also choose", required=False, choices=others,
                widget=forms.CheckboxSelectMultiple,
            )  # fmt: skip

    @property
    def words(self) -> Words:
        """What stands in the form, sound or not."""
        letters = self["letters"].value() if "letters" in self.fields else None
        return Words(
            greeting=str(self["greeting"].value() or ""),
            note=str(self["note"].value() or ""),
            letters=tuple(letters or ()),
            photo="photo" in self.fields and bool(self["photo"].value()),
        )


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


class PaymentForm(forms.Form):
    """Money that came, went back or bounced. Amounts are typed above zero; `cleaned_data` has them signed."""

    kind = forms.ChoiceField(
        label="What", choices=Payment.Kind.choices, initial=Payment.Kind.CAME, required=False
    )
    on = forms.DateField(
        label="Date", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    amount = MoneyField(
        label="Amount", max_digits=11, decimal_places=3,
        help_text="Below zero only where it puts an entry right.",
    )  # fmt: skip
    how = forms.ChoiceField(label="How", choices=Payment.How.choices)
    reference = forms.CharField(label="Reference", max_length=80, required=False)
    of = forms.ChoiceField(
        label="Which entry", required=False, help_text="Where one bounced or is put right."
    )

    def __init__(
        self, *args: Any, currency: str, entries: list[tuple[Payment, str]], **options: Any
    ) -> None:
        """`entries` are those that can be put right, each with its words."""
        super().__init__(*args, **options)
        self.currency = currency
        self.entries = {str(entry.pk): entry for entry, _ in entries}
        named = [(str(entry.pk), words) for entry, words in entries]
        self.fields["of"].choices = [("", "none"), *named]  # type: ignore[attr-defined]
        if not entries:
            del self.fields["of"]

    def is_sure(self, doubts: list[str]) -> bool:
        """Whether these very doubts were asked about and ticked; another slip is asked about anew."""
        return self.data.get("sure") == " ".join(doubts)

    def ask(self, doubts: list[str]) -> None:
        """Ask about them: what was typed stays, and a tick, empty at first, is added."""
        told = " ".join(doubts)
        self.data = {name: value for name, value in self.data.items() if name != "sure"}
        tick = forms.CheckboxInput(attrs={"value": told})
        self.fields["sure"] = forms.BooleanField(
            label="It is right as it stands", required=False, widget=tick
        )
        self.add_error("sure", f"{told} Is that right? Then tick, and press again.")

    def clean_kind(self) -> str:
        return self.cleaned_data["kind"] or Payment.Kind.CAME

    def clean_amount(self) -> Decimal:
        amount: Decimal = self.cleaned_data["amount"]
        places = minor_places(self.currency)
        if not amount or amount != round(amount, places):
            raise forms.ValidationError(
                f"Amount: expected an amount other than zero with at most {places} decimals, got {amount}."
            )
        return amount

    def clean(self) -> dict[str, Any]:
        """Signs the amount, and names the entry where one is meant."""
        cleaned = super().clean() or self.cleaned_data
        kind, amount = cleaned.get("kind"), cleaned.get("amount")
        righting = kind in (Payment.Kind.BOUNCED, Payment.Kind.PUT_RIGHT)
        cleaned["of"] = self.entries.get(cleaned.get("of", "")) if righting else None
        if righting and cleaned["of"] is None:
            self.add_error(
                "of" if self.entries else None, "Which entry: expected one of this job, got none."
            )
        if amount and amount < 0 and kind != Payment.Kind.PUT_RIGHT:
            self.add_error(
                "amount",
                f"Amount: expected more than zero, got {amount}. For money given back, or a wrong entry, say so "
                "under “What”.",
            )
        elif amount and kind in (Payment.Kind.REFUND, Payment.Kind.BOUNCED):
            cleaned["amount"] = -amount
        return cleaned


class CreditForm(forms.Form):
    """How much of an invoice is given back, and why."""

    net = MoneyField(label="Net to credit", required=False, max_digits=11, decimal_places=3)
    why = forms.CharField(label="Why", max_length=200, required=False)

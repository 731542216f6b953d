"""Forms of the proposal, the client's yes, and payments."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from jobs.forms.fields import MoneyField
from jobs.models import Payment
from jobs.offering import Words
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


class YesForm(forms.Form):
    """The client's name and tick."""

    name = forms.CharField(
        label="Your full name", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "name"}),
        error_messages={"required": "Your full name: expected a name, got nothing."},
    )  # fmt: skip
    agreed = forms.BooleanField(
        error_messages={"required": "The tick: expected it to be set before you go on, got none."}
    )

    def __init__(
        self, *args: Any, wording: str, choices: list[tuple[str, str]], **options: Any
    ) -> None:
        super().__init__(*args, **options)
        self.fields["agreed"].label = wording
        if choices:
            self.fields["choice"] = forms.ChoiceField(
                label="Your choice", choices=choices, widget=forms.RadioSelect,
                error_messages={"required": "Your choice: expected one of them, got none."},
            )  # fmt: skip
            self.order_fields(["choice", "name", "agreed"])


class PaymentForm(forms.Form):
    """Money that came, or went back."""

    on = forms.DateField(
        label="Date", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    amount = MoneyField(
        label="Amount", max_digits=11, decimal_places=3,
        help_text="Below zero for money given back, or to put a wrong entry right.",
    )  # fmt: skip
    how = forms.ChoiceField(label="How", choices=Payment.How.choices)
    reference = forms.CharField(label="Reference", max_length=80, required=False)

    def __init__(self, *args: Any, currency: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.currency = currency

    def clean_amount(self) -> Decimal:
        amount: Decimal = self.cleaned_data["amount"]
        places = minor_places(self.currency)
        if not amount or amount != round(amount, places):
            raise forms.ValidationError(
                f"Amount: expected an amount other than zero with at most {places} decimals, got {amount}."
            )
        return amount


class CreditForm(forms.Form):
    """How much of an invoice is given back, and why."""

    net = MoneyField(label="Net to credit", required=False, max_digits=11, decimal_places=2)
    why = forms.CharField(label="Why", max_length=200, required=False)

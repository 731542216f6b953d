"""Forms of the proposal, the client's yes, and payments."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from jobs.forms.fields import MoneyField
from jobs.models import Payment
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


class YesForm(forms.Form):
    """The client's name and tick."""

    name = forms.CharField(
        label="Your full name", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "name"}),
        error_messages={"required": "Your full name: expected a name, got nothing."},
    )  # fmt: skip
    agreed = forms.BooleanField(
        error_messages={"required": "The tick: expected it to be set before you go on, got none."}
    )

    def __init__(self, *args: Any, wording: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["agreed"].label = wording


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

"""Payments and credit notes as somebody writes them down."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from jobs.models import Payment
from jobs.pages.fields import MoneyField
from pricing.core.money import minor_places


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

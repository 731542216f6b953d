"""Forms of shelves, kit, suppliers and packs."""

from __future__ import annotations

import re
from collections.abc import Collection
from decimal import Decimal
from typing import Any, ClassVar

from django import forms

from pricing.core.money import minor_places
from pricing.core.names import supply_key
from pricing.core.supply_keys import SupplyKey, UnreadableKey, typed_key, write_key
from pricing.models import KitItem, KitNote, Pack, StockMove, Supplier
from studio.editing import VersionedForm

Kind = StockMove.Kind
DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
A_KEY = "words parted by slashes such as balloon/11 in/ivory"


class MoveForm(forms.Form):
    """A move on the shelves by hand."""

    kind = forms.ChoiceField(
        label="What happened", choices=[c for c in Kind.choices if c[0] != Kind.COUNTED]
    )
    key = forms.CharField(
        label="Supply", max_length=160, widget=forms.TextInput(attrs={"list": "supplies"}),
        help_text="By its name, as lists say it: 11 in balloon, ivory.",
    )  # fmt: skip
    quantity = forms.DecimalField(label="How many", max_digits=9, decimal_places=3)
    shelf = forms.CharField(label="Shelf", max_length=40, required=False)
    to = forms.CharField(label="To shelf", max_length=40, required=False, help_text="When moved.")
    why = forms.CharField(label="Why", max_length=200, required=False)

    def __init__(self, *args: Any, known: Collection[SupplyKey] = (), **options: Any) -> None:
        """`known` are the keys of what the studio has or has a price for."""
        super().__init__(*args, **options)
        self.known = known

    def clean_key(self) -> str:
        said = self.cleaned_data["key"]
        key = supply_key(said, self.known)
        if key is None:
            raise forms.ValidationError(
                "Supply: expected one of the list, or a balloon, ribbon or plant by its name such as "
                f"11 in balloon, ivory; got “{said}”."
            )
        return write_key(key)

    def clean_quantity(self) -> Decimal:
        many: Decimal = self.cleaned_data["quantity"]
        if many <= 0:
            raise forms.ValidationError(f"How many: expected more than 0, got {many}.")
        return many

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("kind") == Kind.MOVED and not cleaned.get("to"):
            self.add_error("to", "To shelf: expected a shelf to move to, got nothing.")
        return cleaned


def a_key(text: str, label: str) -> str:
    key = text.strip()
    try:
        return write_key(typed_key(key))
    except UnreadableKey:
        raise forms.ValidationError(f"{label}: expected {A_KEY}, got “{key}”.") from None


class KitForm(VersionedForm):
    """A thing of the hire kit; how many are made alike at once."""

    copies = forms.IntegerField(
        label="How many alike", min_value=1, max_value=200, initial=1, required=False
    )

    class Meta:
        model = KitItem
        fields: ClassVar = [
            "name", "key", "mark", "condition", "out_of_use", "service_on", "hours", "service_hours",
        ]  # fmt: skip
        labels: ClassVar = {
            "mark": "Told apart by",
            "out_of_use": "Out of use",
            "service_on": "Look over by",
            "hours": "Hours run",
            "service_hours": "Look over at hours",
        }
        help_texts: ClassVar = {
            "key": "As designs ask for it: frame/ring, weight/ballast, tool/pump, tool/ladder, tool/sizing template, "
            "tool/wind meter. Others of your own are kept and not promised.",
            "mark": "Such as no. 2, or 2 m.",
        }
        widgets: ClassVar = {"service_on": DAY}

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if self.instance.pk:
            del self.fields["copies"]

    def clean_key(self) -> str:
        return a_key(str(self.cleaned_data["key"]), "Key")


class ChargeForm(forms.Form):
    """What the client pays for a thing that came back broken."""

    amount = forms.DecimalField(label="To charge, before tax", required=False)

    def __init__(self, *args: Any, currency: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.places = minor_places(currency)

    def clean_amount(self) -> Decimal | None:
        amount: Decimal | None = self.cleaned_data["amount"]
        if amount is not None and not (
            0 <= amount < 10**6 and amount == round(amount, self.places)
        ):
            raise forms.ValidationError(
                f"To charge: expected an amount of 0 or more with at most {self.places} decimals, got {amount}."
            )
        return amount


class CheckInForm(ChargeForm):
    """How a thing came back."""

    kind = forms.ChoiceField(
        label="Came back",
        choices=[
            (KitNote.Kind.CONDITION, "fine, or worn"),
            (KitNote.Kind.CHARGED, "broken, charged to the client"),
            (KitNote.Kind.SPOILED, "broken, our loss"),
        ],
    )
    what = forms.CharField(label="What was found", max_length=300, required=False)
    hours = forms.FloatField(label="Hours run", min_value=0, max_value=500, required=False)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("amount") and cleaned.get("kind") != KitNote.Kind.CHARGED:
            words = f"expected none where the client is not charged, got {cleaned['amount']}."
            self.add_error("amount", f"To charge: {words}")
        return cleaned


class SupplierForm(VersionedForm):
    class Meta:
        model = Supplier
        fields: ClassVar = ["name", "mail", "lead_days", "delivery", "minimum"]
        labels: ClassVar = {
            "name": "Supplier",
            "mail": "E-mail",
            "lead_days": "Days until it is here",
            "delivery": "Delivery, each order",
            "minimum": "Least order",
        }

    def __init__(self, *args: Any, taken: set[str] = frozenset(), **options: Any) -> None:  # type: ignore[assignment]
        super().__init__(*args, **options)
        self.taken = taken

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"]).strip()
        if name in self.taken:
            raise forms.ValidationError(f"Supplier: expected each name once, got “{name}” again.")
        return name

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name in ("delivery", "minimum"):
            if (value := cleaned.get(name)) is not None and value < 0:
                self.add_error(name, f"{self.fields[name].label}: expected 0 or more, got {value}.")
        return cleaned


class PackForm(VersionedForm):
    """A pack: contents typed as "balloon/11 in = 100", one line for each supply."""

    contents = forms.CharField(
        label="Holds", widget=forms.Textarea(attrs={"rows": 3}),
        help_text="One line for each supply: balloon/11 in/ivory = 50. Without a colour it comes in any.",
    )  # fmt: skip

    class Meta:
        model = Pack
        fields: ClassVar = [
            "supplier", "code", "name", "contents", "price", "lead_days", "least", "grade",
            "valid_from", "valid_until",
        ]  # fmt: skip
        labels: ClassVar = {
            "code": "Their code",
            "price": "Price, before tax",
            "lead_days": "Days until it is here",
            "least": "Sold from, packs",
            "valid_from": "Price from",
            "valid_until": "Price until",
        }
        help_texts: ClassVar = {"lead_days": "Empty: the supplier’s own."}
        widgets: ClassVar = {"valid_from": DAY, "valid_until": DAY}

    def __init__(self, *args: Any, suppliers: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["supplier"].queryset = suppliers  # type: ignore[attr-defined]
        if self.instance.pk:
            self.initial["contents"] = write_contents(self.instance.contents)

    def clean_contents(self) -> dict[str, int]:
        try:
            return read_contents(self.cleaned_data["contents"], parted=r"[\r\n;]+")
        except ValueError as reason:
            raise forms.ValidationError(f"Holds: {reason}") from None

    def clean_price(self) -> Decimal:
        price: Decimal = self.cleaned_data["price"]
        if price <= 0:
            raise forms.ValidationError(f"Price: expected more than 0, got {price}.")
        return price

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        first, last = cleaned.get("valid_from"), cleaned.get("valid_until")
        if first and last and last < first:
            self.add_error("valid_until", f"Price until: expected {first} or later, got {last}.")
        return cleaned


def read_contents(text: str, *, parted: str = ";") -> dict[str, int]:
    """ "balloon/11 in/ivory = 50; balloon/5 in/ivory = 25" as {key: how many}. Raises ValueError with a sentence."""
    found: dict[str, int] = {}
    for line in filter(None, (part.strip() for part in re.split(parted, text))):
        said, _, many = (part.strip() for part in line.rpartition("="))
        try:
            key = write_key(typed_key(said))
        except UnreadableKey:
            key = ""
        if not key or not re.fullmatch(r"[1-9]\d{0,6}", many):
            raise ValueError(
                f"expected a supply and a count such as balloon/11 in/ivory = 50, got “{line}”."
            )
        if key in found:
            raise ValueError(f"expected each supply once, got {key} again.")
        found[key] = int(many)
    if not found:
        raise ValueError("expected at least one supply and its count, got nothing.")
    return found


def write_contents(contents: dict[str, Any], parted: str = "\n") -> str:
    return parted.join(f"{key} = {many}" for key, many in contents.items())

"""The first start: what the studio is, what its work must earn, and who signs in."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, ClassVar

from babel.numbers import get_currency_precision
from django import forms
from django.contrib.auth.password_validation import validate_password

from studio.first_prices import Figures, FirstPiece, FirstPrices, hour_for, pieces_for, proposal_for
from studio.forms import FactsForm
from studio.models import Studio

AMOUNTS = ("hour", "least")
FROM_FIGURES = (*AMOUNTS, "tax_name", "tax_percent")


class FirstForm(FactsForm):
    """The short set-up of a studio that does not exist yet, and its owner."""

    stages = call_off_scale = reminders = None  # type: ignore[assignment]  # later, among the facts
    person = forms.CharField(label="Your name", max_length=120)
    person_mail = forms.EmailField(label="Your e-mail, to sign in")
    password = forms.CharField(
        label="Your password", widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="At least ten characters.",
    )  # fmt: skip

    class Meta(FactsForm.Meta):
        fields: ClassVar = [
            "name", "address", "country", "mail", "phone", "currency", "language", "timezone", "units",
            "paper", "terms",
        ]  # fmt: skip

    PERSON: ClassVar = ("person", "person_mail", "password")

    def __init__(self, *args: Any, initial: dict[str, Any] | None = None, **options: Any) -> None:
        bare = Studio()
        usual = {name: getattr(bare, name) for name in ("currency", "language", "timezone")}
        super().__init__(*args, initial={**usual, **(initial or {})}, **options)

    @property
    def studio_fields(self) -> list[forms.BoundField]:
        return [field for field in self.visible_fields() if field.name not in self.PERSON]

    @property
    def person_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.PERSON]

    def clean_password(self) -> str:
        validate_password(self.cleaned_data["password"])
        return str(self.cleaned_data["password"])


def amount_field(label: str, help_text: str, **options: Any) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, help_text=help_text, max_digits=9, decimal_places=3, min_value=0,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        error_messages={
            "required": f"{label}: expected an amount, got nothing.",
            "invalid": f"{label}: expected an amount such as 40 or 32.50, got something else.",
            "min_value": f"{label}: expected 0 or more, got less.",
        },
        **options,
    )  # fmt: skip


class EarningForm(forms.Form):
    """What an hour must earn and what the least job is; a price that somebody would ask makes the hour."""

    hour = amount_field(
        "An hour of work must earn",
        "Yours or a helper’s, in the workshop and on site. Overhead and what the studio keeps come on top.",
    )
    least = amount_field("The least job costs", "Before tax. No quote comes out below it.")
    tax_name = forms.CharField(
        label="Tax is called", max_length=20,
        error_messages={"required": "Tax is called: expected a word such as VAT, got nothing."},
    )  # fmt: skip
    tax_percent = forms.DecimalField(
        label="Tax, %", min_value=0, max_value=100, decimal_places=3,
        error_messages={"required": "Tax, %: expected a number (0 for none), got nothing."},
        help_text="0 where you charge none. Local law decides; ask whoever keeps your books.",
    )  # fmt: skip
    piece = forms.ChoiceField(label="Or begin from a price: for", required=False)
    asked = amount_field("I would ask, tax included", "", required=False)
    proposed_for = forms.CharField(required=False, widget=forms.HiddenInput)  # whose figures stand

    def __init__(self, data: Mapping[str, Any] | None = None, **options: Any) -> None:
        self.currency = (data or {}).get("currency") or Studio().currency
        self.typed_units = (data or {}).get("units", "")
        super().__init__(
            self._with_figures(data) if data is not None else None,
            initial=self._proposed(),
            **options,
        )
        nothing = dict.fromkeys(("hour", "least", "tax_percent"), Decimal(0))
        known = [(p.key, p.name) for p in pieces_for(self._figures({**nothing, "tax_name": ""}))]
        self.fields["piece"].choices = known  # type: ignore[attr-defined]
        if not known:  # no prices to begin with
            del self.fields["piece"], self.fields["asked"]

    def _proposed(self) -> dict[str, Any]:
        return {"proposed_for": self.currency, **figures_of(proposal_for(self.currency))}

    def _with_figures(self, data: Mapping[str, Any]) -> Mapping[str, Any]:
        """Another currency brings its own figures in place of those that nobody touched."""
        before = str(data.get("proposed_for", ""))
        if not before or before == self.currency:
            return data
        old, new = (figures_of(proposal_for(c)) for c in (before, self.currency))
        fresh: Any = data.copy()  # type: ignore[attr-defined]  # a QueryDict
        for name in FROM_FIGURES:
            if fresh.get(name, "") == str(old.get(name, "")) and (new or name in AMOUNTS):
                fresh[name] = str(new.get(name, ""))
        fresh["proposed_for"] = self.currency
        return fresh  # type: ignore[no-any-return]

    def figures(self) -> Figures | None:
        """What was typed, once it is whole; what is proposed while nothing was typed."""
        said = self.initial if not self.is_bound else self.cleaned_data if self.is_valid() else {}
        if any(said.get(name) is None for name in FROM_FIGURES):
            return None
        return self._figures({name: said[name] for name in FROM_FIGURES})

    def _figures(self, said: dict[str, Any]) -> Figures:
        return Figures(
            currency=self.currency, language=self.data.get("language") or Studio().language,
            units="imperial" if self.typed_units == Studio.Units.IMPERIAL else "metric", **said,
        )  # fmt: skip

    @property
    def pieces(self) -> tuple[FirstPiece, ...]:
        """The worked pieces with the prices that follow; none before the figures are whole."""
        figures = self.figures()
        return pieces_for(figures) if figures else ()

    def with_hour_of_price(self) -> EarningForm:
        """The same form with the hour that the typed price makes, or with a sentence beside the price."""
        figures = self.figures()
        if figures is None:
            return self
        asked, piece = self.cleaned_data.get("asked"), self.cleaned_data.get("piece")
        if asked is None or not piece:
            self.add_error("asked", "I would ask: expected an amount, got nothing.")
            return self
        hour = hour_for(figures, piece, asked)
        if isinstance(hour, str):
            self.add_error("asked", f"I would ask: {hour}")
            return self
        places = get_currency_precision(self.currency)
        again: Any = self.data.copy()  # type: ignore[attr-defined]  # a QueryDict
        again["hour"] = f"{hour:.{places}f}"
        return EarningForm(again)

    @property
    def figure_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in FROM_FIGURES]

    @property
    def price_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in ("piece", "asked") if name in self.fields]


def figures_of(found: FirstPrices | None) -> dict[str, Decimal | str]:
    """The proposed figures by field; nothing where there are none."""
    return {name: getattr(found, name) for name in FROM_FIGURES} if found else {}

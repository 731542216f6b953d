"""Forms of the studio's own room: opening it, its facts, its people, signing in."""

from __future__ import annotations

import re
import zoneinfo
from decimal import Decimal
from typing import Any, ClassVar

from babel import Locale
from babel.numbers import list_currencies
from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.password_validation import validate_password
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.http import HttpRequest

from studio.editing import VersionedForm
from studio.models import Person, Seat, Studio

TRIES, WINDOW_S = 8, 15 * 60
LANGUAGES = [
    "en-GB",
    "en-US",
    "en-IE",
    "en-CA",
    "en-AU",
    "en-NZ",
    "en-ZA",
    "en-IN",
    "de-DE",
    "fr-FR",
    "es-ES",
]


class SignInForm(AuthenticationForm):
    """Counts failures before any password is hashed, since hashing is what a flood would cost us."""

    error_messages = {  # noqa: RUF012  Django declares it so
        "invalid_login": "E-mail and password: expected a pair that belongs together, got another.",
        "inactive": "This person no longer signs in here.",
    }

    def __init__(self, request: HttpRequest | None = None, *args: Any, **options: Any) -> None:
        super().__init__(request, *args, **options)
        self.fields["username"].label = "E-mail"
        self.fields["username"].widget.attrs["autocomplete"] = "email"

    def clean(self) -> dict[str, Any]:
        mail = str(self.cleaned_data.get("username", "")).lower()
        address = self.request.META.get("REMOTE_ADDR", "") if self.request else ""
        keys = [f"sign-in:{mail}", f"sign-in-from:{address}"]
        if any(int(cache.get(key, 0)) >= TRIES for key in keys):
            raise ValidationError("Too many tries. Wait a quarter of an hour, then try again.")
        try:
            return super().clean()
        except ValidationError:
            for key in keys:
                cache.add(key, 0, WINDOW_S)
                cache.incr(key)
            raise


class FactsForm(VersionedForm):
    """What the studio is and how it writes, measures and asks for money."""

    currency = forms.ChoiceField(
        choices=[(c, c) for c in sorted(list_currencies("en_GB")) if len(c) == 3]
    )
    language = forms.ChoiceField(
        label="Dates and money written as in",
        choices=[(tag, Locale.parse(tag, sep="-").get_display_name("en")) for tag in LANGUAGES],
    )
    timezone = forms.ChoiceField(
        label="Time zone",
        choices=[(z, z) for z in sorted(zoneinfo.available_timezones()) if z[0].isupper()],
    )

    class Meta:
        model = Studio
        fields: ClassVar = [
            "name", "address", "mail", "phone", "currency", "language", "timezone", "units", "paper",
            "tax_number", "deposit_percent", "deposit_days", "balance_days", "offer_days", "latex_days", "terms",
            "iban", "bic", "bank_details",
        ]  # fmt: skip
        labels: ClassVar = {
            "name": "Studio", "mail": "E-mail", "units": "Lengths in", "tax_number": "Tax number",
            "deposit_percent": "Deposit, %", "deposit_days": "Deposit due after the offer, days",
            "balance_days": "Balance due before the event, days", "offer_days": "An offer stands, days",
            "latex_days": "Balloons are good for, days", "iban": "IBAN", "bic": "BIC",
            "bank_details": "Bank details, where there is no IBAN",
        }  # fmt: skip
        help_texts: ClassVar = {
            "terms": "They stand on every proposal. Local law decides what is fair: have them read.",
        }
        widgets: ClassVar = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "terms": forms.Textarea(attrs={"rows": 6}),
        }

    def clean_iban(self) -> str:
        """ISO 13616: the check digits make the whole 1 modulo 97."""
        iban = str(self.cleaned_data["iban"]).replace(" ", "").upper()
        if iban and not is_iban(iban):
            raise forms.ValidationError(
                f"IBAN: expected an account number that checks, got “{iban}”."
            )
        return iban


def is_iban(iban: str) -> bool:
    """Whether an IBAN's check digits hold.

    >>> is_iban("DE71110220330123456789"), is_iban("DE71110220330123456788")
    (True, False)
    """
    if not re.fullmatch(r"[A-Z]{2}\d{2}[A-Z0-9]{11,30}", iban):
        return False
    turned = iban[4:] + iban[:4]
    return int("".join(str(int(c, 36)) for c in turned)) % 97 == 1


class FirstForm(FactsForm):
    """The short set-up of a studio that does not exist yet, and its owner."""

    tax_name = forms.CharField(label="Tax is called", max_length=20, initial="VAT")
    tax_percent = forms.DecimalField(
        label="Tax, %", min_value=0, max_value=100, decimal_places=3, initial=Decimal(20)
    )
    person = forms.CharField(label="Your name", max_length=120)
    person_mail = forms.EmailField(label="Your e-mail, to sign in")
    password = forms.CharField(
        label="Your password", widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="At least ten characters.",
    )  # fmt: skip

    class Meta(FactsForm.Meta):
        fields: ClassVar = [
            "name", "address", "mail", "phone", "currency", "language", "timezone", "units", "paper",
            "terms",
        ]  # fmt: skip

    def clean_password(self) -> str:
        validate_password(self.cleaned_data["password"])
        return str(self.cleaned_data["password"])


class PersonForm(forms.Form):
    """Somebody new in the studio, or a person's own new password."""

    name = forms.CharField(label="Name", max_length=120)
    mail = forms.EmailField(label="E-mail, to sign in")
    role = forms.ChoiceField(label="Role", choices=Seat.Role.choices, initial=Seat.Role.CREW)
    password = forms.CharField(
        label="First password", widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="At least ten characters; hand it over in person.",
    )  # fmt: skip

    def clean_mail(self) -> str:
        mail = str(self.cleaned_data["mail"]).lower()
        if Person.objects.filter(mail__iexact=mail).exists():
            raise ValidationError(
                f"E-mail: expected somebody new, got {mail}, who signs in already."
            )
        return mail

    def clean_password(self) -> str:
        validate_password(self.cleaned_data["password"])
        return str(self.cleaned_data["password"])

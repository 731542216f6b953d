"""Forms of the studio's own room: opening it, its facts, its people, signing in."""

from __future__ import annotations

import re
import zoneinfo
from collections.abc import Callable
from decimal import Decimal
from typing import Any, ClassVar

from babel import Locale
from babel.numbers import get_currency_precision, list_currencies
from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.http import HttpRequest

from studio.countries import COUNTRIES, country_of_language
from studio.days import read_days, write_days
from studio.editing import VersionedForm
from studio.images import ImageError, reencode_logo
from studio.mail import one_line
from studio.models import Person, Studio
from studio.permissions import CREW, role_choices
from studio.scales import ScaleError, read_scale, read_stages, write_scale, write_stages
from studio.signals import currency_changes
from studio.tax_numbers import TaxNumberError, check_tax_number
from studio.tries import may_try
from studio.words import PLACES, strangers

type Reader = Callable[[str, str], list[Any]]
type Writer = Callable[[list[Any]], str]
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
    """Counts a try before any password is hashed, since hashing is what a flood would cost us."""

    error_messages = {  # noqa: RUF012  Django declares it so
        "invalid_login": "This e-mail and this password do not belong together: enter both again.",
        "inactive": "This person no longer signs in here.",
    }

    def __init__(self, request: HttpRequest | None = None, *args: Any, **options: Any) -> None:
        super().__init__(request, *args, **options)
        self.fields["username"].label = "E-mail"
        self.fields["username"].widget.attrs["autocomplete"] = "email"

    def clean(self) -> dict[str, Any]:
        self.mail = str(self.cleaned_data.get("username", "")).strip().casefold()
        if self.request and not may_try(self.request, self.mail):
            raise ValidationError("Too many tries. Wait a quarter of an hour, then try again.")
        return super().clean()


def a_country(typed: str) -> str:
    """A country's two letters (ISO 3166-1), or nothing."""
    code = typed.strip().upper()
    if code and code not in COUNTRIES:
        raise ValidationError(f"Country: expected two letters such as GB, got “{code}”.")
    return code


def a_tax_number(typed: str, country: str, label: str) -> None:
    """Refuse a number that breaks the published rules of its country."""
    try:
        check_tax_number(typed, country)
    except TaxNumberError as reason:
        raise ValidationError(f"{label}: {reason}", code="tax_number") from None


MOST_DECIMALS = 3  # of a currency: amounts are kept with so many


class StepsField(forms.CharField):
    """A scale of days and percent, typed one step a line, held as lists of text."""

    def __init__(self, *, read: Reader, write: Writer, **options: Any) -> None:
        self.read, self.write = read, write
        options.setdefault("widget", forms.Textarea(attrs={"rows": 4}))
        super().__init__(required=False, **options)

    def prepare_value(self, value: Any) -> Any:
        return self.write(value) if isinstance(value, list) else value

    def clean(self, value: Any) -> Any:
        try:
            return self.read(self.to_python(value) or "", str(self.label))
        except ScaleError as error:
            raise ValidationError(str(error), code="steps") from None

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Typed another way, the same steps are no change."""
        try:
            return bool(self.clean(data) != initial)
        except ValidationError:
            return True


class FactsForm(VersionedForm):
    """What the studio is and how it writes, measures and asks for money."""

    currency = forms.ChoiceField(
        choices=[
            (c, c) for c in sorted(list_currencies("en_GB"))
            if len(c) == 3 and get_currency_precision(c) <= MOST_DECIMALS
        ]
    )  # fmt: skip
    language = forms.ChoiceField(
        label="Dates and money written as in",
        choices=[(tag, Locale.parse(tag, sep="-").get_display_name("en")) for tag in LANGUAGES],
    )
    timezone = forms.ChoiceField(
        label="Time zone",
        choices=[(z, z) for z in sorted(zoneinfo.available_timezones()) if z[0].isupper()],
    )
    stages = StepsField(
        read=read_stages, write=write_stages, label="Part payments between deposit and balance",
        help_text="One a line: so many days before the event, so much of the total, such as “60 days: 25 %”.",
    )  # fmt: skip
    call_off_scale = StepsField(
        read=read_scale, write=write_scale, label="Called off by the client, you keep",
        help_text="One step a line, such as “60 days: 25 %”: called off 60 days before the event or earlier, "
        "25 % of the total is kept. Your own choice; local consumer law comes first. Empty: nothing is kept.",
    )  # fmt: skip
    reminders = StepsField(
        read=read_days, write=write_days, label="Reminders, days from the due date", widget=forms.TextInput(),
        help_text="“-7, 2, 10”: a week ahead, then two and ten days late. Empty: no reminders.",
    )  # fmt: skip

    class Meta:
        model = Studio
        fields: ClassVar = [
            "name", "address", "country", "mail", "phone", "currency", "language", "timezone", "units",
            "paper", "tax_number", "deposit_percent", "deposit_days", "balance_days", "stages", "call_off_scale",
            "offer_days", "offer_greeting", "offer_note", "latex_days", "late_kit_days", "reminders", "terms",
            "iban", "bic", "bank_details",
        ]  # fmt: skip
        labels: ClassVar = {
            "name": "Studio", "mail": "E-mail", "units": "Lengths in", "tax_number": "Tax number",
            "deposit_percent": "Deposit, %", "deposit_days": "Deposit due after the offer, days",
            "balance_days": "Balance due before the event, days", "offer_days": "An offer stands, days",
            "country": "Country, two letters", "offer_greeting": "Every proposal begins with",
            "late_kit_days": "Late kit stops jobs within, days",
            "offer_note": "And says", "latex_days": "Balloons are good for, days", "iban": "IBAN", "bic": "BIC",
            "bank_details": "Bank details, where there is no IBAN",
        }  # fmt: skip
        help_texts: ClassVar = {
            "country": "Stands on invoices. Empty: that of the language, where it names one.",
            "tax_number": "Checked by the rules of your country, where they are known.",
            "offer_greeting": "{client}, {event}, {day}, {venue}, {pieces}, {balloons} are filled in for each job.",
            "late_kit_days": "Kit that should be back and is not cannot be booked for a job that needs it within "
            "these days. For later jobs it is booked, with a warning.",
            "terms": "They stand on every proposal. Local law decides what is fair: have them read.",
        }
        widgets: ClassVar = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "terms": forms.Textarea(attrs={"rows": 6}),
            "offer_greeting": forms.Textarea(attrs={"rows": 2}),
            "offer_note": forms.Textarea(attrs={"rows": 3}),
            "bank_details": forms.Textarea(attrs={"rows": 3}),
        }

    def clean_currency(self) -> str:
        """Amounts are kept without their currency: once there are some it stays."""
        new: str = self.cleaned_data["currency"]
        now = self.initial.get("currency", new)
        changes = self.instance.pk and new != now
        answers = currency_changes.send(type(self), studio=self.instance) if changes else []
        if held := [str(what) for _, what in answers if what]:
            told = f"Currency: expected {now} to stay, {' and '.join(held)} are in it; got {new}."
            raise forms.ValidationError(told, code="held")
        return new

    def clean(self) -> dict[str, Any]:
        """Deposit and part payments ask no more than the whole, and parts are due before the balance."""
        cleaned = super().clean() or self.cleaned_data
        self._check_tax_number(cleaned)
        parts, balance_days = cleaned.get("stages") or [], cleaned.get("balance_days")
        whole = sum((Decimal(percent) for percent, _ in parts), cleaned.get("deposit_percent") or 0)
        if parts and whole > 100:
            self.add_error(
                "stages",
                f"Part payments: expected 100 % at most with the deposit, got {whole:f} %.",
            )
        if parts and balance_days is not None and int(parts[-1][1]) <= balance_days:
            self.add_error(
                "stages",
                f"Part payments: expected more than the {balance_days} days of the balance, got {parts[-1][1]}.",
            )
        return cleaned

    def _check_tax_number(self, said: dict[str, Any]) -> None:
        country = said.get("country") or country_of_language(said.get("language", ""))
        try:
            a_tax_number(said.get("tax_number", ""), country, "Tax number")
        except ValidationError as error:
            self.add_error("tax_number", error)

    def clean_name(self) -> str:
        """It stands in headers of letters, which are lines."""
        name: str = self.cleaned_data["name"]
        if name != one_line(name):
            raise ValidationError("Studio: expected a name on one line, got a line break.")
        return name

    def clean_country(self) -> str:
        return a_country(self.cleaned_data.get("country", ""))

    def clean_offer_greeting(self) -> str:
        return self._with_places("offer_greeting")

    def clean_offer_note(self) -> str:
        return self._with_places("offer_note")

    def _with_places(self, name: str) -> str:
        text = str(self.cleaned_data[name])
        if strange := strangers(text):
            raise ValidationError(
                f"{self.fields[name].label}: expected braces round {', '.join(PLACES)} only, got {{{strange[0]}}}."
            )
        return text

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


class PersonForm(forms.Form):
    """Somebody new in the studio, or a person's own new password."""

    name = forms.CharField(label="Name", max_length=120)
    mail = forms.EmailField(label="E-mail, to sign in")
    role = forms.ChoiceField(label="Role", choices=role_choices, initial=CREW)
    password = forms.CharField(
        label="First password", widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="At least ten characters; hand it over in person.",
    )  # fmt: skip

    def __init__(self, data: Any = None) -> None:
        """It stands on the page of the studio's facts, which has a name and a mail of its own."""
        super().__init__(data, auto_id="id_person_%s")

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


class LogoForm(forms.Form):
    """A logo as it was uploaded, made into the PNG that is kept."""

    logo = forms.FileField(
        label="Logo",
        help_text="PNG, JPEG or WebP, at most 4 MB; about 1200 pixels wide prints well.",
        widget=forms.FileInput(attrs={"accept": "image/png,image/jpeg,image/webp"}),
        error_messages={
            "required": "Logo: expected a picture, got none.",
            "empty": "Logo: expected a picture, got an empty file.",
        },
    )

    def clean_logo(self) -> bytes:
        upload = self.cleaned_data["logo"]
        try:
            return reencode_logo(upload, size=upload.size)
        except ImageError as reason:
            raise ValidationError(str(reason)) from None

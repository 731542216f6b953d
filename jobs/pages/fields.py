"""Fields that read what people type into the house's values, and write it back the same way."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import phonenumbers
from django import forms

from jobs.design.places import PlaceError, read_place, write_place
from jobs.design.values import Place
from pricing.core.money import minor_places
from studio.amounts import Unclear, decimal_mark, read_amount
from studio.countries import country_of
from studio.measure import LONGEST_M, LengthError, Units, read_length, write_exact

if TYPE_CHECKING:
    from studio.models import Studio


class LengthField(forms.CharField):
    """A length in metres, typed and shown in the studio's units. Empty is None.

    `current` is the value that stands now: when its text comes back untouched, so does the value,
    to the last digit, whatever the units round to.
    """

    units: Units = "metric"
    current: float | None = None

    def __init__(self, *, at_most_m: float = LONGEST_M, **options: Any) -> None:
        self.at_most_m = at_most_m
        super().__init__(**options)

    def prepare_value(self, value: Any) -> Any:
        return write_exact(value, self.units) if isinstance(value, int | float) else value

    def to_python(self, value: Any) -> float | None:  # type: ignore[override]
        text = super().to_python(value)
        if text in self.empty_values or text is None:
            return None
        if self.current is not None and text == self.prepare_value(self.current):
            return self.current
        try:
            return read_length(
                text, units=self.units, what=str(self.label or "length"), at_most_m=self.at_most_m
            )
        except LengthError as error:
            raise forms.ValidationError(str(error), code="length") from None

    def run_validators(self, value: Any) -> None:
        """Lengths answer for themselves; text validators do not apply."""

    def clean(self, value: Any) -> Any:
        result = self.to_python(value)
        self.validate(result)
        return result


class PlaceField(forms.CharField):
    """A place on a support: "left 6 ft", "40 %", "1.2 m along", "start", "end". Empty is None."""

    units: Units = "metric"
    current: Place | None = None

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, dict):
            value = Place.model_validate(value)
        return write_place(value, self.units) if isinstance(value, Place) else value

    def clean(self, value: Any) -> Any:
        text = self.to_python(value)
        self.validate(text)
        if not text:
            return None
        if self.current is not None and text == self.prepare_value(self.current):
            return self.current
        try:
            return read_place(text, self.units)
        except PlaceError as error:
            raise forms.ValidationError(f"{self.label}: {error}", code="place") from None


class HeatField(forms.CharField):
    """A temperature in °C, typed and shown as the studio does: "35 °C", "95 °F". Empty is None."""

    units: Units = "metric"

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, int | float):
            return value
        if self.units == "imperial":
            return f"{round(value * 1.8 + 32, 1):g} °F"
        return f"{round(value, 1):g} °C"

    def clean(self, value: Any) -> Any:
        text = self.to_python(value) or ""
        self.validate(text)
        if not text:
            return None
        found = re.fullmatch(r"([-−]?\d{1,3}(?:[.,]\d+)?)\s*°?\s*([cfCF])?", text.strip())
        if found:
            degrees = float(found.group(1).replace(",", ".").replace("−", "-"))
            usual = "f" if self.units == "imperial" else "c"
            celsius = (degrees - 32) / 1.8 if (found.group(2) or usual).lower() == "f" else degrees
            if -30 <= celsius <= 60:
                return celsius
        raise forms.ValidationError(
            f"{self.label}: expected a temperature from −30 °C to 60 °C such as 30 °C or 86 °F, got “{value}”.",
            code="heat",
        )

    def has_changed(self, initial: Any, data: Any) -> bool:
        return (data or "").strip() != (self.prepare_value(initial) or "")


class ShareField(forms.CharField):
    """A part of the whole, typed and shown in percent: "80 %" is 0.8. Empty is None."""

    def prepare_value(self, value: Any) -> Any:
        return f"{round(value * 100, 4):g} %" if isinstance(value, int | float) else value

    def clean(self, value: Any) -> Any:
        text = (self.to_python(value) or "").replace(",", ".").removesuffix("%").strip()
        self.validate(text)
        if not text:
            return None
        if not re.fullmatch(r"\d{1,4}(\.\d+)?", text):
            raise forms.ValidationError(
                f"{self.label}: expected a percentage such as 80 %, got “{value}”.", code="share"
            )
        return float(text) / 100

    def has_changed(self, initial: Any, data: Any) -> bool:
        return (data or "").strip() != (self.prepare_value(initial) or "")


class PointsField(LengthField):
    """Points across / up, parted by semicolons: "−1 m / 1.8 m; 1 m / 2 m"."""

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, list | tuple):
            return value
        return "; ".join(f"{self._write(x)} / {self._write(z)}" for x, z in value)

    def _write(self, length_m: float) -> str:
        return ("-" if length_m < 0 else "") + write_exact(abs(length_m), self.units)

    def to_python(self, value: Any) -> Any:
        text = forms.CharField.to_python(self, value)
        if self.current is not None and text == self.prepare_value(self.current):
            return self.current
        return [self._point(pair) for pair in (text or "").split(";") if pair.strip()]

    def _point(self, pair: str) -> tuple[float, float]:
        parts = pair.split("/")
        try:
            if len(parts) == 2:
                return self._read(parts[0]), self._read(parts[1])
        except LengthError:
            pass
        ways = {"metric": "−1 m / 1.8 m", "imperial": "−3 ft / 6 ft"}
        raise forms.ValidationError(
            f"{self.label}: expected points across / up such as {ways[self.units]}, got “{pair.strip()}”.",
            code="points",
        )

    def _read(self, text: str) -> float:
        plain = text.strip()
        below = plain[:1] in ("-", "−")
        length_m = read_length(plain.lstrip("-−").strip(), units=self.units, what=str(self.label))
        return -length_m if below else length_m


class PhoneField(forms.CharField):
    """A phone number, typed as at home and held as E.164 (ITU-T)."""

    region = "GB"  # "" where no country is known: numbers then carry theirs

    def prepare_value(self, value: Any) -> Any:
        try:
            number = phonenumbers.parse(value, None)
        except (phonenumbers.NumberParseException, TypeError):
            return value
        style = phonenumbers.PhoneNumberFormat
        at_home = phonenumbers.region_code_for_number(number) == self.region
        return phonenumbers.format_number(
            number, style.NATIONAL if at_home else style.INTERNATIONAL
        )

    def to_python(self, value: Any) -> str:
        text = super().to_python(value) or ""
        if not text:
            return ""
        try:
            number = phonenumbers.parse(text, self.region or None)
        except phonenumbers.NumberParseException:
            number = None
        if number is None or not phonenumbers.is_possible_number(number):
            such = (
                "such as 020 7946 0958 or +44 20 7946 0958"
                if self.region
                else "with its country, such as +44 20 7946 0958"
            )
            raise forms.ValidationError(
                f"{self.label}: expected a phone number {such}, got “{text}”.", code="phone"
            )
        return phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164)


class MomentField(forms.DateTimeField):
    """A date and time in the studio's zone, with the browser's own input."""

    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")

    def to_python(self, value: Any) -> Any:
        try:
            return super().to_python(value)
        except forms.ValidationError as error:
            if error.code != "invalid":
                raise
            raise forms.ValidationError(
                f"{self.label}: expected a date and a time such as 2026-06-20 14:30, got “{value}”.",
                code="invalid",
            ) from None


class MoneyField(forms.DecimalField):
    """An amount as the studio writes figures: 1250, 1,250.00 or 12,50. `fit_amounts` says which studio."""

    language = "en"
    places = 3  # of the currency: whether three digits after a mark can be decimals

    def prepare_value(self, value: Any) -> Any:
        """Two decimals, or more where the amount has them, parted as the language does."""
        if not isinstance(value, Decimal):
            return value
        places = max(2, -int(value.normalize().as_tuple().exponent))
        text = f"{value:.{min(places, self.decimal_places or places)}f}"
        return text.replace(".", decimal_mark(self.language))

    def to_python(self, value: Any) -> Any:
        if value in self.empty_values or isinstance(value, Decimal):
            return super().to_python(value)
        try:
            return super().to_python(read_amount(str(value), self.language, places=self.places))
        except (Unclear, forms.ValidationError):
            such = f"1250 or 120{decimal_mark(self.language)}50"
            raise forms.ValidationError(
                f"{self.label}: expected an amount such as {such}, got “{value}”.", code="invalid"
            ) from None

    def __init__(self, **options: Any) -> None:
        options.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal"}))
        super().__init__(**options)


def fit_amounts[AnyForm: forms.BaseForm](form: AnyForm, studio: Studio) -> AnyForm:
    """The form, with its amounts read and written as the studio writes figures."""
    for field in form.fields.values():
        if isinstance(field, MoneyField):
            field.language, field.places = studio.language, minor_places(studio.currency)
    return form


class CountField(forms.IntegerField):
    """A whole number within limits; every refusal says the limits and what came."""

    def clean(self, value: Any) -> Any:
        try:
            return super().clean(value)
        except forms.ValidationError as error:
            if any(each.code == "required" for each in error.error_list):
                raise
            low, high = self.min_value, self.max_value
            limits = f" from {low} to {high}" if high is not None else f" of at least {low or 0}"
            raise forms.ValidationError(
                f"{self.label}: expected a whole number{limits}, got “{value}”.", code="count"
            ) from None


class MinutesField(forms.CharField):
    """Working time in whole minutes, typed as 95, 1:35 or 1 h 35."""

    def __init__(self, *, most: int, **options: Any) -> None:
        self.most = most
        super().__init__(**options)

    def clean(self, value: Any) -> Any:
        text = (self.to_python(value) or "").strip()
        self.validate(text)
        found = re.fullmatch(r"(?:(\d{1,3})\s*[:h]\s*)?(\d{1,5})?(?:\s*min)?", text)
        hours, minutes = (int(part or 0) for part in found.groups()) if found else (0, 0)
        whole = hours * 60 + minutes
        if not 1 <= whole <= self.most or (hours and minutes > 59):
            raise forms.ValidationError(
                f"{self.label}: expected minutes such as 95 or 1:35, up to {self.most}, got “{value}”.",
                code="minutes",
            )
        return whole


class InStudioUnits(forms.BaseForm):
    """Mix in first: gives length, place and phone fields the studio's habits and what stands now."""

    def fit(self, studio: Studio) -> None:
        fit_amounts(self, studio)
        for name, field in self.fields.items():
            field.error_messages["required"] = f"{field.label}: expected a value, got nothing."
            if isinstance(field, LengthField | PlaceField):
                field.units = studio.units  # type: ignore[assignment]
                now = self.get_initial_for_field(field, name)
                field.current = Place.model_validate(now) if isinstance(now, dict) else now
            elif isinstance(field, HeatField):
                field.units = studio.units  # type: ignore[assignment]
            elif isinstance(field, PhoneField):
                field.region = country_of(studio)

"""Fields that hold a small language of their own: distances to a side, shares, names, stand-ins, words."""

from __future__ import annotations

import re
from typing import Any, get_args

from django import forms

from jobs.design.places import PlaceError, read_place, write_place
from jobs.design.values import Place
from jobs.pages.fields import LengthField


def choices(kind: Any) -> list[tuple[str, str]]:
    """The words of a Literal, named or not."""
    return [(word, word) for word in get_args(getattr(kind, "__value__", kind))]


def choice(label: str, kind: Any, initial: str, **options: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices(kind), initial=initial, **options)


class OffsetField(LengthField):
    """A distance to one side: "1.2 m left", "3 ft right", "middle"; held signed, right positive."""

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, int | float):
            return value
        if value == 0:
            return "middle"
        return f"{super().prepare_value(abs(value))} {'left' if value < 0 else 'right'}"

    def to_python(self, value: Any) -> float | None:  # type: ignore[override]
        text = forms.CharField.to_python(self, value)
        if not text:
            return None
        if self.current is not None and text == self.prepare_value(self.current):
            return self.current
        if text.lower() in ("middle", "centre", "0"):
            return 0.0
        side = re.search(r"\b(left|right)\b", text.lower())
        bare = (
            re.sub(r"\b(left|right)\b", "", text, flags=re.IGNORECASE).strip().lstrip("-").strip()
        )
        length_m = super().to_python(bare)
        left = side.group(1) == "left" if side else text.strip().startswith("-")
        return -length_m if left and length_m is not None else length_m


class WeightsField(forms.CharField):
    """Shares by colour, "ivory 3, sage 1"; empty means the palette's own."""

    def prepare_value(self, value: Any) -> Any:
        return ", ".join(f"{n} {w}" for n, w in value.items()) if isinstance(value, dict) else value

    def to_python(self, value: Any) -> dict[str, int]:  # type: ignore[override]
        shares = {}
        for part in filter(None, (p.strip() for p in (super().to_python(value) or "").split(","))):
            found = re.fullmatch(r"(.+?)\s+(\d{1,4})", part)
            if not found:
                raise forms.ValidationError(
                    f"{self.label}: expected colours with shares such as “ivory 3, sage 1”, got “{part}”."
                )
            shares[found.group(1)] = int(found.group(2))
        return shares

    def clean(self, value: Any) -> Any:
        return self.to_python(value)

    def has_changed(self, initial: Any, data: Any) -> bool:
        return (
            super().has_changed(self.prepare_value(initial or {}), data) if data else bool(initial)
        )


class HexField(forms.RegexField):
    """A colour as screens write it: #e8dcc8."""

    widget = forms.TextInput(attrs={"type": "color"})

    def __init__(self, **options: Any) -> None:
        such = {"invalid": f"{options.get('label')}: expected a colour such as #e8dcc8."}
        super().__init__(r"^#[0-9a-fA-F]{6}$", error_messages=such, **options)

    def clean(self, value: Any) -> str:
        return str(super().clean(value)).lower()


class NamesField(forms.CharField):
    """Names in order, parted by commas."""

    def prepare_value(self, value: Any) -> Any:
        return ", ".join(value) if isinstance(value, list | tuple) else value

    def clean(self, value: Any) -> Any:
        return [n for n in (p.strip() for p in str(super().clean(value)).split(",")) if n]


class PlacesField(forms.CharField):
    """Places parted by commas: "left 6 ft, 40 %"; empty means none given."""

    units: Any = "metric"

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, list | tuple):
            return value
        return ", ".join(write_place(Place.model_validate(p), self.units) for p in value)

    def clean(self, value: Any) -> list[dict[str, Any]]:
        text = (self.to_python(value) or "").strip()
        try:
            places = [read_place(part, self.units) for part in re.split(r",\s+", text) if part]
        except PlaceError as error:
            raise forms.ValidationError(f"{self.label}: {error}") from None
        return [place.model_dump(exclude_none=True) for place in places]

    def has_changed(self, initial: Any, data: Any) -> bool:
        return (data or "") != (self.prepare_value(initial or []) or "")


class FeaturesField(forms.CharField):
    """Clusters that stand in for some of a run's: "giant every 5; giant at left 6 ft, 40 %"."""

    units: Any = "metric"

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, list | tuple):
            return value
        return "; ".join(self._write(feature) for feature in value)

    def _write(self, feature: dict[str, Any]) -> str:
        if feature.get("every"):
            return f"{feature['recipe']} every {feature['every']}"
        places = (Place.model_validate(place) for place in feature["at"])
        return f"{feature['recipe']} at {', '.join(write_place(p, self.units) for p in places)}"

    def clean(self, value: Any) -> list[dict[str, Any]]:
        text = self.to_python(value) or ""
        return [self._read(part.strip()) for part in text.split(";") if part.strip()]

    def _read(self, part: str) -> dict[str, Any]:
        if found := re.fullmatch(r"(.+?) every (\d{1,4})", part):
            return {"recipe": found.group(1), "every": int(found.group(2))}
        try:
            if found := re.fullmatch(r"(.+?) at (.+)", part):
                places = [read_place(p, self.units) for p in re.split(r",\s+", found.group(2))]
                kept = [place.model_dump(exclude_none=True) for place in places]
                return {"recipe": found.group(1), "at": kept}
        except PlaceError as error:
            raise forms.ValidationError(f"{self.label}: {error}") from None
        raise forms.ValidationError(
            f"{self.label}: expected clusters such as “giant every 5” or “giant at 40 %”, got “{part}”."
        )

    def has_changed(self, initial: Any, data: Any) -> bool:
        return (data or "") != (self.prepare_value(initial or []) or "")

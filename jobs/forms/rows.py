"""Rows and parts of the design form: one small form for each kind of value in the document."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Any, ClassVar, get_args

from django import forms

from jobs.design.document import Finish, Hold
from jobs.design.supports import KINDS
from jobs.design.supports.base import Support
from jobs.forms.fields import CountField, InStudioUnits, LengthField, PlaceField

if TYPE_CHECKING:
    from pydantic.fields import FieldInfo

    from studio.models import Studio

SIZES = ("5 in", "9 in", "11 in", "16 in", "18 in", "24 in", "36 in")


def choices(kind: Any) -> list[tuple[str, str]]:
    return [(word, word) for word in get_args(kind.__value__)]


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


class NamesField(forms.CharField):
    """Names in order, parted by commas."""

    def prepare_value(self, value: Any) -> Any:
        return ", ".join(value) if isinstance(value, list | tuple) else value

    def clean(self, value: Any) -> Any:
        return [n for n in (p.strip() for p in str(super().clean(value)).split(",")) if n]


class Row(InStudioUnits, forms.Form):
    """A part of the design form. `switch` names the field that, left empty, means "none of this"."""

    use_required_attribute = False
    switch: ClassVar[str] = ""

    def __init__(self, *args: Any, studio: Studio, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fit(studio)

    @property
    def is_off(self) -> bool:
        return bool(self.switch) and not str(self[self.switch].value() or "").strip()

    def values(self) -> dict[str, Any]:
        """What was typed, as the document holds it; empty fields are left to the document's own."""
        kept = self.cleaned_data.items()
        return {n: v for n, v in kept if n != "DELETE" and v not in (None, "", {})}


class ColourRow(Row):
    name = forms.CharField(label="Colour", max_length=60)
    hex = forms.RegexField(
        r"^#[0-9a-fA-F]{6}$",
        label="Looks like",
        initial="#e8dcc8",
        widget=forms.TextInput(attrs={"type": "color"}),
        error_messages={"invalid": "Looks like: expected a colour such as #e8dcc8."},
    )
    finish = forms.ChoiceField(label="Finish", choices=choices(Finish), initial="matt")
    weight = CountField(label="Share", min_value=0, max_value=1000, initial=1)

    def clean_hex(self) -> str:
        return str(self.cleaned_data["hex"]).lower()


class BallsRow(Row):
    recipe = forms.CharField(label="Cluster", max_length=60)
    count = CountField(label="Balloons", min_value=1, max_value=12, initial=4)
    size = forms.CharField(
        label="Size", initial="11 in", widget=forms.TextInput(attrs={"list": "sizes"})
    )
    blown_m = LengthField(label="Blown to")


class RunRow(Row):
    start = PlaceField(label="From")
    end = PlaceField(label="To")
    pattern = NamesField(
        label="Clusters", help_text="Names in order, repeated along the run: eight, eight, quad."
    )
    hold = forms.ChoiceField(label="Held", choices=choices(Hold), initial="locked")
    weights = WeightsField(label="Own shares", required=False)


class GreeneryRow(Row):
    start = PlaceField(label="From")
    end = PlaceField(label="To")
    plant = forms.CharField(label="Plant", max_length=60, initial="mixed leaf")
    strand_m = LengthField(label="Strand length", initial=2.0)
    side_by_side = CountField(label="Side by side", min_value=1, max_value=12, initial=2)
    wrap_pitch_m = LengthField(
        label="One turn every", required=False, help_text="Empty: laid straight."
    )
    overlap_m = LengthField(label="Overlap", required=False)
    fastener_gap_m = LengthField(label="Fastened every", required=False)


class SkirtPart(Row):
    switch = "clusters"
    clusters = CountField(
        label="Clusters on the floor", required=False, min_value=1, max_value=5000,
        help_text="Empty: no skirt.",
    )  # fmt: skip
    recipe = forms.CharField(
        label="Cluster", required=False, widget=forms.TextInput(attrs={"list": "clusters"})
    )
    centre_m = OffsetField(label="Centre", required=False)
    width_m = LengthField(label="Width", required=False)
    weights = WeightsField(label="Own shares", required=False)


class BallsPart(Row):
    switch = "count"
    count = CountField(
        label="How many", required=False, min_value=1, max_value=5000, help_text="Empty: none."
    )
    size = forms.CharField(
        label="Size", required=False, widget=forms.TextInput(attrs={"list": "sizes"})
    )
    blown_m = LengthField(label="Blown to", required=False)
    weights = WeightsField(label="Own shares", required=False)


class TailsPart(Row):
    switch = "count"
    count = CountField(
        label="Ribbon tails", required=False, min_value=1, max_value=5000, help_text="Empty: none."
    )
    length_m = LengthField(label="Each as long as", required=False)
    width_mm = CountField(label="Ribbon width, mm", required=False, min_value=1, max_value=200)
    colour = forms.CharField(label="Ribbon colour", required=False, max_length=60)


class PiecePart(Row):
    name = forms.CharField(label="Piece", max_length=60)
    at_m = OffsetField(label="Stands", required=False, help_text="From the middle of the wall.")


@cache
def support_part(kind: str) -> type[Row]:
    """The form of one kind of support, made from the fields of its type."""
    parts = {
        name: field_for(name, info)
        for name, info in own_fields_first(KINDS[kind])
        if name != "kind" and len(get_args(info.annotation) or (1, 2)) != 1
    }
    return type(f"{kind.title()}Part", (Row,), parts)


def own_fields_first(kind: type[Support]) -> list[tuple[str, FieldInfo]]:
    """What makes the kind, then what every support has."""
    shared = Support.model_fields
    return sorted(kind.model_fields.items(), key=lambda item: item[0] in shared)


def field_for(name: str, info: FieldInfo) -> forms.Field:
    label = info.title or name.removesuffix("_m").replace("_", " ").capitalize()
    default = None if info.is_required() else info.default
    common: dict[str, Any] = {
        "label": label,
        "help_text": info.description or "",
        "initial": default,
    }
    if name.endswith("_m"):
        return LengthField(required=info.is_required(), **common)
    if info.annotation is int:
        return CountField(required=info.is_required(), **common)
    return forms.ChoiceField(choices=choices(info.annotation), required=True, **common)


class Rows(forms.BaseFormSet):
    """A table of rows, each of which can be taken out."""

    def add_fields(self, form: forms.Form, index: int | None) -> None:
        super().add_fields(form, index)
        form.fields["DELETE"].label = "Take out"


ColourRows, BallsRows, RunRows, GreeneryRows = (
    forms.formset_factory(row, formset=Rows, extra=0, can_delete=True)
    for row in (ColourRow, BallsRow, RunRow, GreeneryRow)
)

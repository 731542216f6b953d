"""Rows and parts of the design form: one small form for each kind of value in the document."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from django import forms

from jobs.design.document import Finish, Fixed, Floaters, Grade, Hold, Lies, Thick
from jobs.pages.fields import CountField, InStudioUnits, LengthField, PlaceField, ShareField
from jobs.pages.text_fields import (
    FeaturesField,
    NamesField,
    OffsetField,
    PlacesField,
    WeightsField,
    choice,
    choices,
)

if TYPE_CHECKING:
    from studio.models import Studio

SIZES = ("5 in", "9 in", "11 in", "16 in", "18 in", "24 in", "36 in")


class DesignRow(InStudioUnits, forms.Form):
    """A part of the design form.

    `switch` names the fields that, all left empty, mean "none of this"; `more` those that stand folded away.
    """

    use_required_attribute = False
    switch: ClassVar[tuple[str, ...]] = ()
    more: ClassVar[tuple[str, ...]] = ()

    def __init__(self, *args: Any, studio: Studio, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fit(studio)
        for field in self.fields.values():
            if isinstance(field, FeaturesField | PlacesField):
                field.units = studio.units

    @property
    def is_off(self) -> bool:
        return bool(self.switch) and not any(
            str(self[n].value() or "").strip() for n in self.switch
        )

    @property
    def first_fields(self) -> list[forms.BoundField]:
        return [field for field in self if field.name not in self.more]

    @property
    def more_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.more]

    @property
    def more_matters(self) -> bool:
        """Whether something folded away is wrong or is not as it begins."""
        plain = {n: f.prepare_value(f.initial) or "" for n, f in self.fields.items()}
        said = {
            f.name: self.fields[f.name].prepare_value(f.value()) or "" for f in self.more_fields
        }
        return any(f.errors for f in self.more_fields) or any(
            said[n] != plain[n] for n in self.more
        )

    def values(self) -> dict[str, Any]:
        """What was typed, as the document holds it; empty fields are left to the document's own."""
        kept = self.cleaned_data.items()
        return {n: v for n, v in kept if n != "DELETE" and v not in (None, "", {})}


class ColourRow(DesignRow):
    name = forms.CharField(
        label="Colour", max_length=60, widget=forms.TextInput(attrs={"list": "shades"})
    )
    hex = forms.RegexField(
        r"^#[0-9a-fA-F]{6}$",
        label="Looks like",
        initial="#e8dcc8",
        widget=forms.TextInput(attrs={"type": "color"}),
        error_messages={"invalid": "Looks like: expected a colour such as #e8dcc8."},
    )
    finish = choice("Finish", Finish, "matt")
    weight = CountField(label="Share", min_value=0, max_value=1000, initial=1)
    grade = choice("Grade", Grade, "professional", required=False)

    def clean_hex(self) -> str:
        return str(self.cleaned_data["hex"]).lower()


class BallsRow(DesignRow):
    recipe = forms.CharField(label="Cluster", max_length=60)
    count = CountField(label="Balloons", min_value=1, max_value=12, initial=4)
    size = forms.CharField(
        label="Size", initial="11 in", widget=forms.TextInput(attrs={"list": "sizes"})
    )
    blown_m = LengthField(label="Blown to")


class RunRow(DesignRow):
    start = PlaceField(label="From")
    end = PlaceField(label="To")
    pattern = NamesField(
        label="Clusters", help_text="Names in order, repeated along the run: eight, eight, quad."
    )
    hold = choice("Held", Hold, "locked")
    weights = WeightsField(label="Own shares", required=False)
    clusters = CountField(
        label="How many",
        required=False,
        min_value=1,
        max_value=5000,
        help_text="Empty: as fill it.",
    )
    fullness = ShareField(
        label="Fullness", required=False, initial=1.0, help_text="100 % is snug; less shows gaps."
    )
    taper = ShareField(
        label="Thin end",
        required=False,
        initial=1.0,
        help_text="Balloon size there; 100 %: no taper.",
    )
    thick = choice("Thick", Thick, "at the start", required=False)
    lies = choice("Lies", Lies, "all round", required=False)
    features = FeaturesField(
        label="Features", required=False, help_text="Other clusters: giant every 5; giant at 40 %."
    )
    more = ("weights", "clusters", "fullness", "taper", "thick", "lies", "features")


class GreeneryRow(DesignRow):
    start = PlaceField(label="From")
    end = PlaceField(label="To")
    plant = forms.CharField(label="Plant", max_length=60, initial="mixed leaf")
    strand_m = LengthField(label="Strand length", initial=2.0)
    side_by_side = CountField(label="Side by side", min_value=1, max_value=12, initial=2)
    wrap_pitch_m = LengthField(
        label="One turn every", required=False, help_text="Empty: laid straight."
    )
    overlap_m = LengthField(label="Overlap", required=False)
    tuck_m = LengthField(label="Tucked in at each end", required=False)
    fastener_gap_m = LengthField(label="Fastened every", required=False)
    more = ("overlap_m", "tuck_m", "fastener_gap_m")


class WrapRow(DesignRow):
    start = PlaceField(label="From")
    end = PlaceField(label="To")
    pitch_m = LengthField(label="One turn every", initial=0.1)
    width_mm = CountField(label="Ribbon width, mm", min_value=1, max_value=200, initial=25)
    colour = forms.CharField(label="Ribbon colour", max_length=60, initial="ivory")


class SkirtPart(DesignRow):
    switch = ("clusters", "depth_m", "height_m")
    clusters = CountField(
        label="Clusters on the floor", required=False, min_value=1, max_value=5000,
        help_text="Empty: no skirt, or as many as fill the heap.",
    )  # fmt: skip
    recipe = forms.CharField(
        label="Cluster", required=False, widget=forms.TextInput(attrs={"list": "clusters"})
    )
    centre_m = OffsetField(label="Centre", required=False)
    width_m = LengthField(label="Width", required=False)
    depth_m = LengthField(label="Heap’s depth", required=False)
    height_m = LengthField(label="Heap’s height", required=False)
    weights = WeightsField(label="Own shares", required=False)


class BallsPart(DesignRow):
    """Balls set along the runs."""

    switch: ClassVar[tuple[str, ...]] = ("count",)
    count = CountField(
        label="How many", required=False, min_value=1, max_value=5000, help_text="Empty: none."
    )
    size = forms.CharField(
        label="Size", required=False, widget=forms.TextInput(attrs={"list": "sizes"})
    )
    blown_m = LengthField(label="Blown to", required=False)
    fixed = choice("Held by a", Fixed, "tie", required=False)
    weights = WeightsField(label="Own shares", required=False)


class FeaturesPart(BallsPart):
    at = PlacesField(
        label="At", required=False, help_text="Places, first of them first. Empty: spread evenly."
    )


class AccentsPart(BallsPart):
    switch = ("count", "per_m")
    per_m = forms.FloatField(
        label="Or so many a metre", required=False, min_value=0.01, max_value=100
    )
    field_order = ("count", "per_m")


class TopperPart(DesignRow):
    switch = ("size", "blown_m")
    size = forms.CharField(
        label="Size", required=False, widget=forms.TextInput(attrs={"list": "sizes"}),
        help_text="Empty: none.",
    )  # fmt: skip
    blown_m = LengthField(label="Blown to", required=False)
    weights = WeightsField(label="Own shares", required=False)


class FloatersPart(DesignRow):
    switch: ClassVar[tuple[str, ...]] = ("count",)
    count = CountField(
        label="How many", required=False, min_value=1, max_value=5000, help_text="Empty: none."
    )
    size = forms.CharField(
        label="Size", required=False, widget=forms.TextInput(attrs={"list": "sizes"})
    )
    blown_m = LengthField(label="Blown to", required=False)
    on = forms.ChoiceField(
        label="On", required=False, choices=choices(Floaters.model_fields["on"].annotation)
    )
    height_m = LengthField(label="Neck above the floor", required=False)
    per_weight = CountField(label="On one weight", required=False, min_value=1, max_value=50)
    width_mm = CountField(label="Ribbon width, mm", required=False, min_value=1, max_value=200)
    colour = forms.CharField(label="Ribbon colour", required=False, max_length=60)
    centre_m = OffsetField(label="Centre", required=False)
    spread_m = LengthField(label="Spread over", required=False)
    weights = WeightsField(label="Own shares", required=False)


class StemsPart(DesignRow):
    switch = ("count", "per_m")
    count = CountField(
        label="How many", required=False, min_value=1, max_value=5000, help_text="Empty: none."
    )
    per_m = forms.FloatField(
        label="Or so many a metre", required=False, min_value=0.01, max_value=100
    )
    plant = forms.CharField(label="Plant", required=False, max_length=60)


class BowsPart(DesignRow):
    switch: ClassVar[tuple[str, ...]] = ("count",)
    count = CountField(
        label="How many", required=False, min_value=1, max_value=5000, help_text="Empty: none."
    )
    loops = CountField(label="Loops", required=False, min_value=1, max_value=40)
    loop_m = LengthField(label="Each loop as long as", required=False)
    end_m = LengthField(label="Each end as long as", required=False)
    width_mm = CountField(label="Ribbon width, mm", required=False, min_value=1, max_value=200)
    colour = forms.CharField(label="Ribbon colour", required=False, max_length=60)


class TailsPart(DesignRow):
    switch: ClassVar[tuple[str, ...]] = ("count",)
    count = CountField(
        label="Ribbon tails", required=False, min_value=1, max_value=5000, help_text="Empty: none."
    )
    length_m = LengthField(label="Each as long as", required=False)
    width_mm = CountField(label="Ribbon width, mm", required=False, min_value=1, max_value=200)
    colour = forms.CharField(label="Ribbon colour", required=False, max_length=60)


class PiecePart(DesignRow):
    name = forms.CharField(label="Piece", max_length=60)
    at_m = OffsetField(label="Stands", required=False, help_text="From the middle of the wall.")
    passed = forms.BooleanField(label="People pass close by", required=False)


if TYPE_CHECKING:
    BaseFormSet = forms.BaseFormSet[forms.Form]
else:
    BaseFormSet = forms.BaseFormSet  # generic for the checker alone


class DesignRows(BaseFormSet):
    """A table of rows, each of which can be taken out."""

    def add_fields(self, form: forms.Form, index: int | None) -> None:
        super().add_fields(form, index)
        form.fields["DELETE"].label = "Take out"


ColourRows, BallsRows, RunRows, GreeneryRows, WrapRows = (
    forms.formset_factory(row, formset=DesignRows, extra=0, can_delete=True)
    for row in (ColourRow, BallsRow, RunRow, GreeneryRow, WrapRow)
)

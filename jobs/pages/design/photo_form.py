"""The photo of a room, and what makes it true to scale."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms

from jobs.pages.fields import InStudioUnits, LengthField

if TYPE_CHECKING:
    from studio.models import Studio


class PhotoForm(forms.Form):
    photo = forms.FileField(
        label="Photo of the room",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        help_text="JPEG, PNG or WebP, taken straight at the wall.",
        error_messages={"required": "Photo of the room: expected a picture, got none."},
    )


class PointForm(forms.Form):
    """A point as clicked, or typed: how far from the left and from the top."""

    x = forms.FloatField(label="From the left, %", min_value=0, max_value=100)
    y = forms.FloatField(label="From the top, %", min_value=0, max_value=100)


class ApartForm(InStudioUnits, forms.Form):
    apart_m = LengthField(label="The two points are apart by")

    def __init__(self, *args: Any, studio: Studio, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fit(studio)

    def clean_apart_m(self) -> float:
        apart: float = self.cleaned_data["apart_m"]
        if not 0.05 <= apart <= 60:
            raise forms.ValidationError(
                f"The two points are apart by: expected 5 cm to 60 m, got {apart:.2f} m."
            )
        return apart

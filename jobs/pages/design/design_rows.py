"""What every small form in the design form shares, and every table of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from django import forms

from jobs.design.values import Place
from jobs.pages.fields import InStudioUnits
from jobs.pages.text_fields import FeaturesField, PlacesField

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
        return {
            n: v.model_dump(exclude_none=True) if isinstance(v, Place) else v
            for n, v in kept
            if n != "DELETE" and v not in (None, "", {})
        }


if TYPE_CHECKING:
    BaseFormSet = forms.BaseFormSet[forms.Form]
else:
    BaseFormSet = forms.BaseFormSet  # generic for the checker alone


class DesignRows(BaseFormSet):
    """A table of rows, each of which can be taken out."""

    def add_fields(self, form: forms.Form, index: int | None) -> None:
        super().add_fields(form, index)
        form.fields["DELETE"].label = "Take out"

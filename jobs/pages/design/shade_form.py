"""The studio's own colours."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from jobs.design.values import Finish
from jobs.models import Shade
from jobs.pages.text_fields import choice
from studio.editing import ModelForm


class ShadeForm(ModelForm):
    use_required_attribute = False
    hex = forms.RegexField(
        r"^#[0-9a-fA-F]{6}$",
        label="Looks like",
        widget=forms.TextInput(attrs={"type": "color"}),
        error_messages={"invalid": "Looks like: expected a colour such as #e8dcc8."},
        initial="#e8dcc8",
    )
    finish = choice("Finish", Finish, "matt")

    class Meta:
        model = Shade
        fields: ClassVar = ["name", "hex", "finish"]
        labels: ClassVar = {"name": "Colour"}
        error_messages: ClassVar = {"name": {"required": "Colour: expected a name, got nothing."}}

    def __init__(self, *args: Any, known: set[str], **options: Any) -> None:
        super().__init__(*args, **options)
        self.known = known

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"]).strip()
        if name in self.known:
            raise forms.ValidationError(f"Colour: expected each name once, got “{name}” again.")
        return name

    def clean_hex(self) -> str:
        return str(self.cleaned_data["hex"]).lower()

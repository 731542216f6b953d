"""Nobody overwrites unseen: editable rows carry a version, and a stale save is told what differs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django import forms
from django.db import models
from django.db.models import F


@dataclass(frozen=True, slots=True)
class Difference:
    """One field: what stands now, and what was typed."""

    what: str
    theirs: str
    yours: str


class Stale(Exception):
    """Somebody saved in between."""

    def __init__(self, differences: Sequence[Difference]) -> None:
        super().__init__("Somebody saved in between.")
        self.differences = tuple(differences)


if TYPE_CHECKING:
    ModelForm = forms.ModelForm[Any]
else:
    ModelForm = forms.ModelForm  # generic for the checker alone


class VersionedForm(ModelForm):
    """A model form for rows with a `version`; it carries the version it was made from."""

    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if self.instance.pk:
            self.initial["version"] = self.instance.version

    def writable(self) -> dict[str, Any]:
        """The changed values of real fields, by name."""
        return {
            name: self.cleaned_data[name]
            for name in self.changed_data
            if name != "version" and name in self.cleaned_data
        }

    def standing(self, row: models.Model, name: str) -> Any:
        """What a row holds of a field."""
        return getattr(row, name)

    @property
    def is_changed(self) -> bool:
        """Whether anything that people type differs from the row."""
        return any(name != "version" for name in self.changed_data)


def save_if_fresh(form: VersionedForm) -> models.Model:
    """Save a valid form over the version it was made from. Raises Stale otherwise, and saves nothing."""
    row: models.Model = form.instance
    seen = form.cleaned_data.get("version") or 0
    rows = type(row)._default_manager.filter(pk=row.pk, version=seen)
    if not rows.update(version=F("version") + 1, **form.writable()):
        raise Stale(form_differences(form))
    return row


def form_differences(form: VersionedForm) -> list[Difference]:
    """Field by field, where the row as it stands now and the typing part; the form takes the new version."""
    now = type(form.instance)._default_manager.get(pk=form.instance.pk)
    found = []
    for name, field in form.fields.items():
        if name == "version":
            continue
        theirs, yours = form.standing(now, name), form.cleaned_data.get(name)
        if theirs != yours:
            label = str(field.label or name)
            found.append(Difference(label, field_text(field, theirs), field_text(field, yours)))
    again = form.data.copy()  # type: ignore[attr-defined]  # a QueryDict
    again[form.add_prefix("version")] = str(now.version)  # saving again is then a decision
    form.data = again
    return found


def field_text(field: forms.Field, value: Any) -> str:
    """A value as its field writes it."""
    return "nothing" if value in (None, "") else str(field.prepare_value(value))

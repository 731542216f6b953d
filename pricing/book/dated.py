"""Entries that hold from a day on: one that held already stays, one of today or later can be put right."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

from django import forms
from django.core.exceptions import ValidationError

from pricing.book.models import InForce
from studio.editing import Difference, ModelForm, Stale, field_text

if TYPE_CHECKING:
    from studio.access import Access


def standing_entries(access: Access, model: type[InForce], **of: object) -> dict[date, InForce]:
    """Entries of one thing by the day from which they hold."""
    return {row.valid_from: row for row in access.rows(model).filter(**of)}


def mark_of(rows: Mapping[date, InForce], today: date) -> str:
    """What a form carries to say which entries it was made from: those that can still be put right."""
    facts = [
        (day, sorted((f.attname, str(getattr(row, f.attname))) for f in row._meta.concrete_fields))
        for day, row in sorted(rows.items())
        if day >= today
    ]
    return hashlib.sha256(repr(facts).encode()).hexdigest()[:16] if facts else ""


class FromDayForm(ModelForm):
    """An entry that holds from a day on. `standing` are those there are, by day; `today` is the studio's day."""

    seen = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, standing: Mapping[date, InForce] | None = None, today: date, **options: Any
    ) -> None:  # fmt: skip
        super().__init__(*args, **options)
        self.standing, self.today = standing or {}, today
        self.initial.setdefault("seen", mark_of(self.standing, today))
        self.initial.setdefault("valid_from", today)
        self.fields[
            "valid_from"
        ].help_text = "An entry of today or later is put right by entering its day again."

    def clean_valid_from(self) -> date:
        day: date = self.cleaned_data["valid_from"]
        if day in self.standing and day < self.today:
            raise ValidationError(
                f"From: expected today or later, or a day without an entry, got {day}: its entry has held already."
            )
        return day

    @property
    def facts(self) -> dict[str, Any]:
        """What the row is to hold."""
        return {name: self.cleaned_data[name] for name in self._meta.fields or ()}


def enter_from_day(access: Access, form: FromDayForm, **of: object) -> None:
    """Add the form's entry, or put right that of its day. Raises Stale where somebody entered that day meanwhile."""
    access.lock_studio()
    model: type[InForce] = form._meta.model
    now, facts = standing_entries(access, model, **of), form.facts
    row = now.get(facts["valid_from"])
    mark = mark_of(now, access.studio.today())
    if row is None:
        access.add(model, **of, **facts)
        return
    if form.cleaned_data["seen"] != mark:
        again: Any = form.data.copy()  # type: ignore[attr-defined]  # a QueryDict
        again[form.add_prefix("seen")] = mark  # entering it again is then a decision
        form.data = again
        raise Stale(entry_differences(form, row))
    access.rows(model).filter(pk=row.pk).update(**facts, is_example=False)


def entry_differences(form: FromDayForm, row: InForce) -> list[Difference]:
    return [
        Difference(str(form.fields[name].label or name), *(field_text(form.fields[name], v) for v in (theirs, yours)))
        for name, yours in form.facts.items()
        if (theirs := getattr(row, name)) != yours
    ]  # fmt: skip

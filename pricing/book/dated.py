"""Entries that hold from a day on: one that held already stays, one of today or later can be put right."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

from pricing.book.models import InForce
from studio.editing import Difference, Stale, field_text

if TYPE_CHECKING:
    from pricing.book.price_forms import FromDayForm
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

"""Entries that hold from a day on: one that held already stays, one of today or later can be put right."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

from pricing.models.book import InForce
from studio.editing import Difference, Stale, said

if TYPE_CHECKING:
    from pricing.forms import FromDayForm
    from studio.door import SeatAt


def standing(seat: SeatAt, model: type[InForce], **of: object) -> dict[date, InForce]:
    """Entries of one thing by the day from which they hold."""
    return {row.valid_from: row for row in seat.rows(model).filter(**of)}


def mark_of(rows: Mapping[date, InForce], today: date) -> str:
    """What a form carries to say which entries it was made from: those that can still be put right."""
    facts = [
        (day, sorted((f.attname, str(getattr(row, f.attname))) for f in row._meta.concrete_fields))
        for day, row in sorted(rows.items())
        if day >= today
    ]
    return hashlib.sha256(repr(facts).encode()).hexdigest()[:16] if facts else ""


def enter(seat: SeatAt, form: FromDayForm, **of: object) -> None:
    """Add the form's entry, or put right that of its day. Raises Stale where somebody entered that day meanwhile."""
    seat.lock_studio()
    model: type[InForce] = form._meta.model
    now, facts = standing(seat, model, **of), form.facts
    row = now.get(facts["valid_from"])
    mark = mark_of(now, seat.studio.today())
    if row is None:
        seat.add(model, **of, **facts)
        return
    if form.cleaned_data["seen"] != mark:
        again: Any = form.data.copy()  # type: ignore[attr-defined]  # a QueryDict
        again[form.add_prefix("seen")] = mark  # entering it again is then a decision
        form.data = again
        raise Stale(differences(form, row))
    seat.rows(model).filter(pk=row.pk).update(**facts, is_example=False)


def differences(form: FromDayForm, row: InForce) -> list[Difference]:
    return [
        Difference(str(form.fields[name].label or name), *(said(form.fields[name], v) for v in (theirs, yours)))
        for name, yours in form.facts.items()
        if (theirs := getattr(row, name)) != yours
    ]  # fmt: skip

"""The form of each kind of support, made from the fields of its type."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any, get_args

from django import forms

from jobs.design.supports import KINDS
from jobs.design.supports.base import Support
from jobs.pages.design.design_rows import DesignRow
from jobs.pages.fields import CountField, LengthField, PointsField
from jobs.pages.text_fields import choices

if TYPE_CHECKING:
    from pydantic.fields import FieldInfo


@cache
def support_part(kind: str) -> type[DesignRow]:
    """The form of one kind of support, made from the fields of its type."""
    parts = {
        name: field_for(name, info)
        for name, info in own_fields_first(KINDS[kind])
        if name != "kind" and len(get_args(info.annotation) or (1, 2)) != 1
    }
    return type(f"{kind.title()}Part", (DesignRow,), parts)


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
    if name == "points_m":
        return PointsField(required=True, **common)
    if name == "weight_kg":
        return forms.FloatField(required=False, min_value=0.1, max_value=2000, **common)
    if name.endswith("_m"):
        return LengthField(required=info.is_required(), **common)
    if info.annotation is int:
        return CountField(required=info.is_required(), **common)
    return forms.ChoiceField(choices=choices(info.annotation), required=True, **common)

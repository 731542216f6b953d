"""Forms made from the document's own types: label, help, bounds and what a row begins with are stated there, once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import (
    TYPE_CHECKING,
    Annotated,
    Any,
    Literal,
    NamedTuple,
    TypeAliasType,
    get_args,
    get_origin,
)

from django import forms
from pydantic import StringConstraints
from pydantic.fields import FieldInfo

from jobs.design.document import Feature
from jobs.design.values import Place, Typed
from jobs.pages.design.design_rows import DesignRow
from jobs.pages.fields import CountField, LengthField, PlaceField, PointsField, ShareField
from jobs.pages.text_fields import (
    FeaturesField,
    HexField,
    NamesField,
    OffsetField,
    PlacesField,
    WeightsField,
    choices,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

LISTS: dict[object, type[forms.Field]] = {
    Place: PlacesField, Feature: FeaturesField, str: NamesField, tuple: PointsField,
}  # fmt: skip


def form_of(
    fields: Mapping[str, FieldInfo], *, switch: tuple[str, ...] = (), filled: bool = False
) -> type[DesignRow]:
    """The form of a value by its fields.

    `switch` names those that, all left empty, mean that there is none of it: nothing is required then, and nothing
    filled in. What a `filled` form begins with must stay filled in; elsewhere an empty field is the document's own.
    """
    made = {name: _field(name, info, switch, filled=filled) for name, info in fields.items()}
    more = tuple(name for name, info in fields.items() if typed_as(info).folded)
    return type("DerivedForm", (DesignRow,), {**made, "switch": switch, "more": more})


class FieldType(NamedTuple):
    """A field's type without what surrounds it: a name for it, bounds, the choice of nothing."""

    type: Any
    notes: tuple[Any, ...]  # what was annotated, bounds among it
    may_be_none: bool = False

    def bound(self, *names: str) -> Any:
        """The first of these bounds that it has; None for none."""
        found = (getattr(note, name, None) for note in self.notes for name in names)
        return next((each for each in found if each is not None), None)


def field_type_of(
    annotation: Any, notes: tuple[Any, ...] = (), *, may_be_none: bool = False
) -> FieldType:
    """Of an annotation, with the notes of what surrounded it."""
    if isinstance(annotation, TypeAliasType):
        return field_type_of(annotation.__value__, notes, may_be_none=may_be_none)
    if get_origin(annotation) is Annotated:
        inner, *more = get_args(annotation)
        return field_type_of(inner, (*notes, *_flat(more)), may_be_none=may_be_none)
    args = get_args(annotation)
    if type(None) in args and len(args) == 2:
        return field_type_of(next(a for a in args if a is not type(None)), notes, may_be_none=True)
    return FieldType(annotation, notes, may_be_none)


def _flat(notes: list[Any]) -> Iterator[Any]:
    for note in notes:
        yield from note.metadata if isinstance(note, FieldInfo) else [note]


def typed_as(info: FieldInfo) -> Typed:
    """What the document says about how it is typed, over all that surrounds its type."""
    said = [
        n
        for n in field_type_of(info.annotation, tuple(info.metadata)).notes
        if isinstance(n, Typed)
    ]
    return Typed(
        written=next((t.written for t in said if t.written), ""),
        suggestions=next((t.suggestions for t in said if t.suggestions), ""),
        folded=any(t.folded for t in said),
    )


def _field(name: str, info: FieldInfo, switch: tuple[str, ...], *, filled: bool) -> forms.Field:
    asked, typed = field_type_of(info.annotation, tuple(info.metadata)), typed_as(info)
    begins = None if info.is_required() else info.get_default(call_default_factory=True)
    is_choice = get_origin(asked.type) is Literal
    if begins is None and info.examples:
        begins = info.examples[0]
    must_stay = filled and bool(begins) and not (typed.folded or asked.may_be_none or is_choice)
    first = bool(switch) and name == switch[0]
    common: dict[str, Any] = {
        "label": info.title or name.removesuffix("_m").replace("_", " ").capitalize(),
        "help_text": info.description or ("Empty: none." if first else ""),
        "required": not switch and (info.is_required() or must_stay),
        "initial": begins if not switch or is_choice else None,
    }
    if typed.suggestions:
        common["widget"] = forms.TextInput(attrs={"list": typed.suggestions})
    return _of_type(name, asked, typed, common)


def _of_type(name: str, asked: FieldType, typed: Typed, common: dict[str, Any]) -> forms.Field:
    """The field for a type. Raises KeyError for a type that no form can ask for yet."""
    origin = get_origin(asked.type)
    low, high = asked.bound("ge", "gt"), asked.bound("le")
    if origin is Literal:
        none = [("", "")] if asked.may_be_none else []
        return forms.ChoiceField(choices=[*none, *choices(asked.type)], **common)
    if origin is dict:
        return WeightsField(**common)
    if origin is tuple:
        inside = field_type_of(get_args(asked.type)[0]).type
        return LISTS[get_origin(inside) or inside](**common)
    if typed.written == "percent":
        return ShareField(**common)
    if typed.written == "colour code":
        return HexField(**common)
    if asked.type is float and name.endswith("_m") and typed.written != "number":
        return OffsetField(**common) if (low or 0) < 0 else LengthField(**common)
    if asked.type is str:
        limits = [n for n in asked.notes if isinstance(n, StringConstraints)]
        most = next((n.max_length for n in limits), asked.bound("max_length"))
        return forms.CharField(max_length=most, **common)
    if asked.type is bool:
        return forms.BooleanField(**{**common, "required": False})
    if asked.type is Place:
        return PlaceField(**common)
    plain: dict[Any, type[forms.IntegerField]] = {int: CountField, float: forms.FloatField}
    return plain[asked.type](min_value=low, max_value=high, **common)

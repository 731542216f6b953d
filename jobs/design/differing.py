"""Where two designs differ: whether at all, and leaf by leaf in a studio's words. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

from jobs.design.document import Design
from jobs.design.options import LOOSE
from jobs.design.parts import PART_KINDS
from jobs.design.places import write_place
from jobs.design.supports import KINDS
from jobs.design.values import Place
from studio.measure import Units, write_exact

FINE_M = 0.0005  # `write_exact` keeps a length to half a millimetre
FINE = 1e-6  # shares are written in percent with four decimals
PLACE = set(Place.model_fields)
ROWS = {"palette": "colour", "recipes": "cluster"}
WORDS = {
    **LOOSE, "at_m": "stands", "runs": "run", "blown_m": "blown to",
    "weight": "share", "weights": "shares", "balls": "balloons", "passed": "people pass close by",
}  # fmt: skip
SIDED = ("at_m", "centre_m")
# Lists whose rows are counted from 1.
DEEP = ("runs", "balls", *(key for key, kind in PART_KINDS.items() if kind.is_many()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Differs:
    """One thing that differs, in words."""

    what: str  # "Ring: support, across"
    was: str
    now: str


def is_same(one: Design, other: Design) -> bool:
    """Whether two designs are one as far as a form can write them: lengths to half a millimetre."""
    return _same(one.model_dump(mode="json"), other.model_dump(mode="json"), "")


def _same(one: Any, other: Any, key: str) -> bool:
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(one[k], other[k], k) for k in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other, [key] * len(one)))
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) <= (FINE_M if key.endswith("_m") else FINE)
    return bool(one == other)


def design_differences(was: Design, now: Design, units: Units) -> tuple[Differs, ...]:
    """Everything that differs, in the order of the document; what the room and the job lend is left out."""
    before, after = was.model_dump(mode="json"), now.model_dump(mode="json")
    found: list[Differs] = []
    for table in ("pieces", "palette", "recipes"):
        for n, (a, b) in enumerate(zip_longest(before[table], after[table])):
            found += _walk(a, b, "", [_row_name(table, n, a or b)], units)
    return tuple(found)


def _row_name(table: str, n: int, row: dict[str, Any]) -> str:
    return str(row["name"]) if table == "pieces" else f"{ROWS[table]} {n + 1}"


def _walk(was: Any, now: Any, key: str, path: list[str], units: Units) -> Iterator[Differs]:
    if _same(was, now, key):
        return
    if isinstance(was, dict) and isinstance(now, dict) and was.keys() != PLACE != now.keys():
        for name in [*was, *(k for k in now if k not in was)]:
            step = name if key == "weights" else _words(name, now.get("kind"))
            yield from _walk(was.get(name), now.get(name), name, [*path, step], units)
    elif key in DEEP and isinstance(was, list) and isinstance(now, list):
        for n, (a, b) in enumerate(zip_longest(was, now)):
            row = f"{path[-1]} {n + 1}" if max(len(was), len(now)) > 1 else path[-1]
            yield from _walk(a, b, "", [*path[:-1], row], units)
    else:
        what = f"{path[0]}: {', '.join(path[1:])}" if path[1:] else path[0]
        yield Differs(what=what, was=_said(was, key, units), now=_said(now, key, units))


def _words(name: str, kind: str | None) -> str:
    """A field's word; that of a support's field is its label in the form."""
    field = KINDS[kind].model_fields.get(name) if kind in KINDS else None
    if field and field.title:
        return field.title[0].lower() + field.title[1:]
    return WORDS.get(name, name.removesuffix("_m").replace("_", " "))


def _said(value: Any, key: str, units: Units) -> str:
    """A value as a person reads it."""
    if value in (None, [], {}):
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and key in SIDED:
        side = "left" if value < 0 else "right"
        return f"{write_exact(abs(value), units)} {side}" if value else "middle"
    if isinstance(value, float) and key.endswith("_m"):
        return ("−" if value < 0 else "") + write_exact(abs(value), units)
    if isinstance(value, dict) and value.keys() == PLACE:
        return write_place(Place.model_validate(value), units)
    if isinstance(value, dict):
        named = value.get("name")
        return str(named) if named else "there"
    if isinstance(value, list):
        return ", ".join(_said(item, key, units) for item in value)
    return f"{value:g}" if isinstance(value, float) else str(value)

"""The design form: a document laid out for typing, and back. The document's own reader judges it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any

from django import forms
from django.core.exceptions import BadRequest

from jobs.design.document import FORMAT, VERSION, Design, Piece, Run
from jobs.design.parts import PART_KINDS
from jobs.design.reading import Unreadable, read_design
from jobs.design.supports import KINDS, Support
from jobs.design.values import Balls, Colour, Recipe
from jobs.pages.design.derived_form import form_of
from jobs.pages.design.design_rows import DesignRow, DesignRows

if TYPE_CHECKING:
    from django.http import QueryDict

    from studio.models import Studio

NOTHING: dict[str, str] = {}
MOST_ROWS = 1000  # of all tables: as many as the largest document has (24 + 24 × 6 + 20 × 40), and some to take out

PIECE_FORM = form_of(
    {n: f for n, f in Piece.model_fields.items() if n in ("name", "at_m", "passed")}
)
RUN_HELP = (
    "From and to: “left 6 ft” is a height on that side, “1.2 m along” a length from the start, “40 %” a share; "
    "“start”, “end”."
)
# The row of each table: those of the whole design, then those of a piece.
DESIGN_ROWS = {
    "palette": form_of(Colour.model_fields, filled=True),
    "clusters": form_of({"recipe": Recipe.model_fields["name"], **Balls.model_fields}, filled=True),
}
PIECE_ROWS = {"runs": form_of(Run.model_fields, filled=True)} | {
    key: form_of(kind.model_fields, filled=True)
    for key, kind in PART_KINDS.items()
    if kind.is_many()
}
# The one form of each loose part that a piece has once.
SINGLE = {
    key: form_of(kind.model_fields, switch=kind.switch)
    for key, kind in PART_KINDS.items()
    if not kind.is_many()
}


def table_of(row: type[DesignRow]) -> Any:
    return forms.formset_factory(row, formset=DesignRows, extra=0, can_delete=True)


COLOUR_TABLE, BALLS_TABLE = table_of(DESIGN_ROWS["palette"]), table_of(DESIGN_ROWS["clusters"])
PIECE_TABLES = {key: table_of(row) for key, row in PIECE_ROWS.items()}
ADD_ROW = re.compile(rf"^add-({'|'.join(DESIGN_ROWS)}|p\d{{1,2}}-({'|'.join(PIECE_ROWS)}))$")


@cache
def support_form(kind: str) -> type[DesignRow]:
    """The form of one kind of support: what makes the kind, then what every support has."""
    fields = {name: info for name, info in KINDS[kind].model_fields.items() if name != "kind"}
    own_first = sorted(fields, key=lambda name: name in Support.model_fields)
    return form_of({name: fields[name] for name in own_first})


@dataclass(frozen=True)
class NamedTable:
    """A table of a piece's form under its heading."""

    heading: str
    help: str
    rows: Any
    add: str  # what another row is called


class PieceForms:
    """The forms of one piece."""

    def __init__(
        self, index: int, studio: Studio, data: QueryDict | None, piece: Piece | None
    ) -> None:
        self.index = index
        self.prefix = f"p{index}"
        now = piece.model_dump() if piece else {}
        self.kind: str = (
            piece.support.kind if piece else str((data or NOTHING).get(f"{self.prefix}-kind"))
        )
        if self.kind not in KINDS:
            raise BadRequest(f"Support: expected one of {', '.join(KINDS)}, got “{self.kind}”.")
        self.kind_label = KINDS[self.kind].label
        self.gone = bool(data and data.get(f"{self.prefix}-gone"))
        self.gone_name = f"{self.prefix}-gone"

        def part(form: type[DesignRow], name: str, facts: dict[str, Any]) -> DesignRow:
            return form(data, prefix=f"{self.prefix}-{name}", initial=facts, studio=studio)

        def rows(formset: Any, name: str) -> Any:
            return formset(
                data,
                prefix=f"{self.prefix}-{name}",
                initial=list(now.get(name, ())),
                form_kwargs={"studio": studio},
            )

        self.own = part(PIECE_FORM, "own", now)
        self.support = part(support_form(self.kind), "support", now.get("support", {}))
        self.tables = {name: rows(formset, name) for name, formset in PIECE_TABLES.items()}
        self.extras = {
            n: part(form, n, now.get(n) or {})
            for n, form in SINGLE.items()
            if PART_KINDS[n].fits(KINDS[self.kind])
        }

    @property
    def forms(self) -> list[Any]:
        return [self.own, self.support, *self.tables.values(), *self.extras.values()]

    @property
    def named_extras(self) -> list[tuple[str, DesignRow]]:
        """Optional parts with the words they go by."""
        return [(PART_KINDS[key].heading or key, form) for key, form in self.extras.items()]

    @property
    def named_tables(self) -> list[NamedTable]:
        """Its runs, then each loose part that it can have several times."""
        runs = NamedTable("runs of clusters", RUN_HELP, self.tables["runs"], "a run")
        kinds = {key: PART_KINDS[key] for key in self.tables if key in PART_KINDS}
        return [runs] + [
            NamedTable(kind.heading or key, "", self.tables[key], kind.row_words)
            for key, kind in kinds.items()
        ]


@dataclass
class TypedDesign:
    """The document as typed, and which field each of its paths came from."""

    document: dict[str, Any] = field(default_factory=dict)
    origin: dict[str, tuple[DesignRow, str]] = field(default_factory=dict)

    def note(self, path: str, form: DesignRow) -> dict[str, Any]:
        values = form.values()
        self.origin[path] = (form, next(iter(form.fields)))
        for name in form.fields:
            self.origin[f"{path}.{name}"] = (form, name)
        return values

    def rows(self, path: str, formset: Any) -> list[dict[str, Any]]:
        return [self.note(f"{path}[{i}]", f) for i, f in enumerate(kept_rows(formset))]


class DesignForm:
    """The whole form. Give it what was typed, or a design to lay out."""

    def __init__(
        self, studio: Studio, *, data: QueryDict | None = None, design: Design | None = None
    ) -> None:
        self.data, self.studio = data, studio
        refuse_absurd(data or NOTHING)
        now = design.model_dump() if design else {}
        kwargs = {"studio": studio}
        self.palette: Any = COLOUR_TABLE(
            data, prefix="palette", initial=list(now.get("palette", ())), form_kwargs=kwargs
        )
        balls = [{"recipe": r["name"], **b} for r in now.get("recipes", ()) for b in r["balls"]]
        self.clusters: Any = BALLS_TABLE(data, prefix="clusters", initial=balls, form_kwargs=kwargs)
        if design:
            self.pieces = [PieceForms(i, studio, None, p) for i, p in enumerate(design.pieces)]
        else:
            count = min(int_or_zero((data or NOTHING).get("pieces")), 20)
            self.pieces = [PieceForms(i, studio, data, None) for i in range(count)]
        self.seed = (
            design.seed if design else min(int_or_zero((data or NOTHING).get("seed")), 2**31 - 1)
        )
        self.design = design  # what the form says; None until typing has been read
        self.faults: list[str] = []  # those that belong to no field

    @property
    def standing(self) -> list[PieceForms]:
        return [p for p in self.pieces if not p.gone]

    def is_valid(self) -> bool:
        """Read all fields, then let the document's reader judge the whole. Sets `design`."""
        parts = [self.palette, self.clusters, *(f for p in self.standing for f in p.forms)]
        if not all(part.is_valid() for part in parts):
            return False
        typed = self.typed()
        try:
            self.design = read_design(json.dumps(typed.document))
        except Unreadable as unreadable:
            for fault in unreadable.faults:
                self.lay(typed, fault.path, fault.sentence)
            return False
        return True

    def names(self) -> dict[str, str]:
        """The form field of each place in the document that a hand can take hold of."""
        if self.data:
            origin = self.typed().origin
            return {path: form[name].html_name for path, (form, name) in origin.items()}
        found: dict[str, str] = {}
        for i, design_form in enumerate(self.pieces):
            forms: list[tuple[str, DesignRow]] = [(f"$.pieces[{i}]", design_form.own)]
            forms += [(f"$.pieces[{i}].{n}", form) for n, form in design_form.extras.items()]
            for table, rows in design_form.tables.items():
                forms += [(f"$.pieces[{i}].{table}[{j}]", row) for j, row in enumerate(rows)]
            found |= {
                f"{path}.{field.name}": field.html_name for path, form in forms for field in form
            }
        return found

    def typed(self) -> TypedDesign:
        typed = TypedDesign()
        typed.document = {
            "format": FORMAT,
            "version": VERSION,
            "seed": self.seed,
            "palette": typed.rows("$.palette", self.palette),
            "recipes": self.recipes(typed),
            "pieces": [
                self.piece(typed, f"$.pieces[{i}]", design_form)
                for i, design_form in enumerate(self.standing)
            ],
        }
        return typed

    def recipes(self, typed: TypedDesign) -> list[dict[str, Any]]:
        """Rows with one name make one recipe."""
        named: dict[str, list[dict[str, Any]]] = {}
        for row in kept_rows(self.clusters):
            name = row.cleaned_data["recipe"]
            at = list(named).index(name) if name in named else len(named)
            balls = named.setdefault(name, [])
            values = typed.note(f"$.recipes[{at}].balls[{len(balls)}]", row)
            typed.origin.setdefault(f"$.recipes[{at}]", (row, "recipe"))
            values.pop("recipe")
            balls.append(values)
        return [{"name": name, "balls": balls} for name, balls in named.items()]

    def piece(self, typed: TypedDesign, path: str, design_form: PieceForms) -> dict[str, Any]:
        support = typed.note(f"{path}.support", design_form.support)
        for part in design_form.tables:
            typed.origin[f"{path}.{part}"] = (design_form.own, "name")
        return {
            **typed.note(path, design_form.own),
            "support": {"kind": design_form.kind, **support},
            **{
                name: typed.rows(f"{path}.{name}", table)
                for name, table in design_form.tables.items()
            },
            **{
                name: typed.note(f"{path}.{name}", form)
                for name, form in design_form.extras.items()
                if not form.is_off
            },
        }

    def lay(self, typed: TypedDesign, path: str, sentence: str) -> None:
        """Put a fault beside the field that it is about: the nearest path above it that has one."""
        while path and path not in typed.origin:
            path = re.sub(r"(\.[^.\[]+|\[\d+\])$", "", path) if path not in ("$", "") else ""
        if path:
            form, name = typed.origin[path]
            form.add_error(name, sentence)
        else:
            self.faults.append(sentence)

    def all_faults(self) -> list[tuple[str, str]]:
        """Every sentence with the id of its field ("" for none)."""
        found = [("", sentence) for sentence in self.faults]
        for part in [self.palette, self.clusters, *(f for p in self.standing for f in p.forms)]:
            for form in getattr(part, "forms", [part]):
                for name, sentences in form.errors.items():
                    at = "" if name == "__all__" else form[name].id_for_label
                    label = "" if name == "__all__" else str(form[name].label)
                    found += [(at, fault_text(label, s)) for s in sentences]
            if hasattr(part, "non_form_errors"):
                found += [("", str(s)) for s in part.non_form_errors()]
        return found


def kept_rows(formset: Any) -> list[DesignRow]:
    """Rows that hold something and are not ticked for removal."""
    return [f for f in formset.forms if f.cleaned_data and not f.cleaned_data.get("DELETE")]


def fault_text(label: str, sentence: str) -> str:
    return sentence if not label or sentence.startswith(label) else f"{label}: {sentence}"


def int_or_zero(text: Any) -> int:
    return int(text) if str(text).isdecimal() and len(str(text)) < 10 else 0


def refuse_absurd(data: Mapping[str, Any]) -> None:
    """Raises BadRequest for more rows than a design can have, before any is made: 2,000 took seconds to lay out.

    How many there are is never typed but said by the page.
    """
    for key, said in data.items():
        if key.endswith("-TOTAL_FORMS") and len(str(said)) > len(str(MOST_ROWS)):
            raise BadRequest(
                f"Rows: expected at most {MOST_ROWS} in a design, got “{str(said)[:20]}”."
            )
    rows = sum(int_or_zero(said) for key, said in data.items() if key.endswith("-TOTAL_FORMS"))
    if rows > MOST_ROWS:
        raise BadRequest(f"Rows: expected at most {MOST_ROWS} in a design, got {rows}.")


def with_another(data: QueryDict, prefix: str, studio: Studio) -> QueryDict:
    """The same typing with one more row in a table, holding what a new row begins with."""
    refuse_absurd(data)
    more = data.copy()
    key = f"{prefix}-TOTAL_FORMS"
    count = int_or_zero(more.get(key))
    more[key] = str(count + 1)
    row = {**DESIGN_ROWS, **PIECE_ROWS}[prefix.rpartition("-")[2]](
        prefix=f"{prefix}-{count}", studio=studio
    )
    more.update({field.html_name: field.value() for field in row if field.value() is not None})
    return more


def with_suggested(data: QueryDict, suggest: Callable[[str, str], tuple[str, ...]]) -> QueryDict:
    """The same typing with colours that go with the first two of the palette; untouched for fewer."""
    more = data.copy()
    count = min(int_or_zero(more.get("palette-TOTAL_FORMS")), 24)
    hexes = [str(more.get(f"palette-{i}-hex", "")).lower() for i in range(count)]
    sound = [h for h in hexes if re.fullmatch(r"#[0-9a-f]{6}", h)]
    if len(sound) < 2:
        return more
    new = suggest(sound[0], sound[1])[: 24 - count]
    for i, (hex_, name) in enumerate(
        zip(new, ("light tint", "between", "deep accent"), strict=False), count
    ):
        row = {
            "name": f"{name} {i + 1}",
            "hex": hex_,
            "finish": "matt",
            "weight": "1",
            "grade": "professional",
        }
        more.update({f"palette-{i}-{field}": value for field, value in row.items()})
    more["palette-TOTAL_FORMS"] = str(count + len(new))
    return more

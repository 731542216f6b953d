"""The fences of the house, read from its code."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.test import Client

from tests.walk import PUBLIC, entries

HOME = Path(__file__).parent.parent
ROOMS = ("studio", "pricing", "jobs")
SOURCES = [
    p for room in ROOMS for p in sorted((HOME / room).rglob("*.py")) if "migrations" not in p.parts
]


@pytest.mark.parametrize(
    "core",
    [
        "studio.measure",
        "pricing.core.quote",
        "pricing.stores.plan.buying",
        "jobs.design.working",
        "jobs.design.picture",
    ],
)
def test_a_core_leaves_django_out(core: str) -> None:
    code = f"import {core}, sys; assert not [m for m in sys.modules if m.split('.')[0] == 'django']"
    assert subprocess.run([sys.executable, "-c", code], cwd=HOME, check=False).returncode == 0


def address(name: str) -> str:
    from django.urls import reverse

    known = {
        "number": 1, "pk": 1, "version": 1, "which": "pick", "token": "nobody-knows", "letter": "A", "invoice": 1,
        "kind": "svg",
    }  # fmt: skip
    entry = dict(entries())[name]
    return reverse(name, kwargs={k: known[k] for k in entry.pattern.converters})


@pytest.mark.parametrize("name", sorted(name for name, _ in entries()))
def test_every_page_but_the_public_ones_asks_a_stranger_to_sign_in(
    name: str, access: object
) -> None:
    answer = Client().get(address(name))
    asks = answer.status_code == 302 and answer.url.startswith("/sign-in/")  # type: ignore[attr-defined]
    assert asks is (name not in PUBLIC)


DOORS = {
    "access.py",
    "models.py",
    "once.py",
    "querysets.py",  # what queries fetch beside a row that came through the door
    "editing.py",
    "mail.py",
    "opening.py",
    "middleware.py",
    "links.py",
    "tries.py",
}
ERRANDS = {"management", "demo.py"}  # they run for the studio itself


def test_rows_are_reached_through_the_door() -> None:
    """`.objects` and `_default_manager` stand only in the door, in models, and in what serves every studio."""
    loose = [
        f"{path.relative_to(HOME)}:{node.lineno}"
        for path in SOURCES
        if path.name not in DOORS and not ERRANDS & set(path.parts)
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Attribute) and node.attr in ("objects", "_default_manager", "_base_manager")
        and not (isinstance(node.value, ast.Name) and node.value.id in ("Studio", "Membership", "Person"))
    ]  # fmt: skip
    assert loose == []


def test_modules_hold_one_room_and_functions_fit_a_screen() -> None:
    large = [str(p.relative_to(HOME)) for p in SOURCES if len(p.read_text().splitlines()) > 400]
    long = [
        f"{path.relative_to(HOME)}:{node.name}"
        for path in SOURCES
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.FunctionDef) and (node.end_lineno or 0) - node.lineno > 48
    ]
    assert (large, long) == ([], [])


def test_templates_stay_readable() -> None:
    long = [
        str(p)
        for p in (HOME / "templates").rglob("*.html")
        if len(p.read_text().splitlines()) > 160
    ]
    assert long == []


def test_lines_of_templates_fit() -> None:
    wide = [
        f"{p.relative_to(HOME)}:{n}"
        for p in (HOME / "templates").rglob("*.html")
        for n, line in enumerate(p.read_text().splitlines(), 1)
        if len(line) > 140
    ]
    assert wide == []


def test_no_page_carries_inline_styles_or_handlers() -> None:
    import re

    for path in (HOME / "templates").rglob("*.html"):
        found = re.findall(r"<[^>]+\s(?:style|on[a-z]+)=", path.read_text())
        assert found == [], path


def test_htmx_is_asked_by_data_attributes() -> None:
    """HTML knows no `hx-…` attributes; htmx reads `data-hx-…` just as well."""
    import re

    sources = [*SOURCES, *(HOME / "templates").rglob("*.html"), *(HOME / "static").glob("*.js")]
    found = [str(p) for p in sources if re.search(r"(?<![\w-])hx-[a-z]", p.read_text())]
    assert found == []


def test_tables_are_as_the_last_migration_left_them(db: None) -> None:
    from django.core.management import call_command

    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


def test_what_was_offered_is_read_in_one_place() -> None:
    """Columns of JSON by their keys: `Offer` alone reads them, into the values of `jobs/proposal/frozen.py`."""
    columns = {"figures", "owner_figures", "schedule", "letter", "ticked"}
    readers = {"jobs/models/offer.py", "jobs/proposal/frozen.py", "jobs/proposal/offering.py"}
    loose = [
        f"{path.relative_to(HOME)}:{node.lineno}"
        for path in SOURCES
        if path.relative_to(HOME).as_posix() not in readers
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Subscript) and isinstance(node.slice, ast.Constant) and node.slice.value in columns
    ]  # fmt: skip
    assert loose == []


def test_stages_are_named_and_not_spelled() -> None:
    """Nothing is compared with the word of a stage: `jobs/job_stage.py` writes each once."""
    import re

    spelled = [
        f"{path.relative_to(HOME)}:{node.lineno}"
        for path in SOURCES
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Compare)
        and isinstance(node.left, ast.Attribute) and node.left.attr == "stage"
        and any(isinstance(part, ast.Constant) and isinstance(part.value, str)
                for right in node.comparators for part in ast.walk(right))
    ]  # fmt: skip
    spelled += [
        path.relative_to(HOME).as_posix()
        for path in (HOME / "templates").rglob("*.html")
        if re.search(r"\bjob\.stage [!=]= \"", path.read_text())
    ]
    assert spelled == []


# Names that stand in several modules, each with its reason.
TWICE = {
    "Command": "what Django calls every command",
    "backup": "what each engine of copies does, under one name",
    "restore": "what each engine of copies does, under one name",
    "live": "what each engine of copies does, under one name",
    "url_of": "what each engine of copies does, under one name",
    "holds_something": "what each engine of copies does, under one name",
}


def test_a_public_name_stands_in_one_module() -> None:
    places: dict[str, set[str]] = {}
    for path in SOURCES:
        for node in ast.parse(path.read_text()).body:
            if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
                places.setdefault(node.name, set()).add(str(path.relative_to(HOME)))
    assert {name for name, found in places.items() if len(found) > 1} == set(TWICE)


def named_paths() -> list[str]:
    """Every word in backticks of DEVELOPERS.md that is a path: with a file's ending or a slash; what runs write aside."""
    words = re.findall(r"`([^`\n]+)`", (HOME / "DEVELOPERS.md").read_text())
    looks = re.compile(r"\.?\w+(/\w+)*(/|\.(py|js|toml|txt)(::\w+)?)|\.?\w+(/\w+)+(\.\w+)?")
    return sorted({w for w in words if looks.fullmatch(w) and not w.startswith("var/")})


def stands(name: str) -> bool:
    """A file or folder ends so; after `::`, or a dot behind a module's path, stands a name at its top."""
    path, _, inner = name.partition("::")
    if not inner and not path.endswith((".py", ".js", ".toml", ".txt")):
        path, _, inner = path.partition(".") if not path.startswith(".") else (path, "", "")
    folder, path = path.endswith("/"), path.rstrip("/")
    if inner or not (folder or "." in path or (HOME / path).exists()):
        path = path.removesuffix(".py") + ".py"
    found = [p for p in (HOME / path,) if p.exists()]
    for room in (*ROOMS, "tests"):
        found += [
            p for p in (HOME / room).rglob(Path(path).name) if p.as_posix().endswith(f"/{path}")
        ]
    if not inner:
        return bool(found)
    tops = [n for p in found for n in ast.parse(p.read_text()).body]
    return any(getattr(n, "name", None) == inner for n in tops)


@pytest.mark.parametrize("name", named_paths())
def test_what_the_map_names_exists(name: str) -> None:
    assert stands(name)

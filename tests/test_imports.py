"""How modules import each other, read from their code: no circles, and no arrow from a lower floor to a higher one.

An import counts wherever it stands: at the top, within a function, for types alone. What is imported late to hide a
circle is a circle all the same.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

HOME = Path(__file__).parent.parent
ROOMS = ("studio", "pricing", "jobs")

# From the ground up. A module stands where its longest listed beginning stands, and imports from its own floor and
# those below it.
FLOORS = (
    ("studio.measure", "pricing.core"),
    (
        "pricing.stores.plan",
        "jobs.design",
        "jobs.day.bags",
        "jobs.day.boxes",
        "jobs.day.loading",
        "jobs.proposal.frozen",
    ),
    ("studio",),
    ("pricing.book", "pricing.stores", "pricing"),
    ("pricing.book.prices", "pricing.book.examples", "pricing.stores.pages", "pricing.urls"),
    ("jobs.models", "jobs.job_stage"),
    ("jobs",),
    ("jobs.pages", "jobs.urls", "jobs.management"),
    ("studio.urls",),
)
# Arrows that are left out of both tests, each with its reason.
LEFT_OUT = {
    (
        "jobs.briefs",
        "jobs.pages.brief.brief_form",
    ): "for types alone: the forms of one page, saved as they are",
}

type Arrows = Mapping[str, frozenset[str]]


def modules() -> dict[str, Path]:
    found = {}
    for room in ROOMS:
        for path in (HOME / room).rglob("*.py"):
            parts = path.relative_to(HOME).with_suffix("").parts
            if "migrations" not in parts:
                found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def imported(source: str, known: Mapping[str, object]) -> Iterator[str]:
    """Modules of the house that this code imports, wherever it does."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name in known)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "the house imports by whole names"
            for alias in node.names:
                name = f"{node.module}.{alias.name}"
                if name in known or node.module in known:
                    yield name if name in known else str(node.module)


@pytest.fixture(scope="module")
def arrows() -> Arrows:
    known = modules()
    return {
        name: frozenset(
            other
            for other in imported(path.read_text(), known)
            if other != name and (name, other) not in LEFT_OUT
        )
        for name, path in known.items()
    }


def circle_in(arrows: Arrows) -> list[str]:
    """Modules of one circle, each imported by the next; none where there is no circle."""
    try:
        TopologicalSorter(arrows).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def floor_of(module: str) -> int:
    fitting = [
        (len(start), floor)
        for floor, starts in enumerate(FLOORS)
        for start in starts
        if module == start or module.startswith(f"{start}.")
    ]
    return max(fitting)[1]


def test_no_module_imports_itself_by_way_of_others(arrows: Arrows) -> None:
    assert circle_in(arrows) == []


def test_no_floor_imports_from_one_above_it(arrows: Arrows) -> None:
    upward = [
        f"{name} → {other}"
        for name, others in sorted(arrows.items())
        for other in sorted(others)
        if floor_of(other) > floor_of(name)
    ]
    assert upward == []


def test_every_floor_is_lived_on_and_every_exception_is_needed() -> None:
    known = modules()
    starts = {start for floor in FLOORS for start in floor}
    assert {s for s in starts if not any(m == s or m.startswith(f"{s}.") for m in known)} == set()
    for name, other in LEFT_OUT:
        assert other in imported(known[name].read_text(), known), (name, other)


def test_a_module_stands_where_its_longest_beginning_stands() -> None:
    up = ["pricing.core.money", "pricing.stores.plan.solver", "pricing.stores.kit", "pricing.stores.pages.kit", "jobs.models.offer",
          "jobs.money.ledger", "jobs.pages.today", "studio.urls"]  # fmt: skip
    assert sorted(up, key=floor_of) == up
    assert len({floor_of(name) for name in up}) == len(up)


def test_an_import_counts_wherever_it_stands() -> None:
    known = dict.fromkeys(("a", "a.b", "a.c", "a.d", "a.e"))
    source = """
import a.b
from a import c
if TYPE_CHECKING:
    from a.d import Name
def late():
    from a.e import name
"""
    assert list(imported(source, known)) == ["a.b", "a.c", "a.d", "a.e"]


def test_a_circle_is_found() -> None:
    assert set(circle_in({"a": frozenset("b"), "b": frozenset("c"), "c": frozenset("a")})) == set("abc")  # fmt: skip
    assert circle_in({"a": frozenset("bc"), "b": frozenset("c"), "c": frozenset()}) == []

"""How modules import each other, read from their code: no circles, and no arrow from a lower floor to a higher one.

An import within a function counts like one at the top: what is imported late to hide a circle is a circle all the
same. One for types alone is never carried out, so it closes no circle: a part of a design names the types of the
stages that call it. It still has to know nothing of a higher floor.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

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
# Arrows that neither test counts, each with its reason.
LEFT_OUT: dict[tuple[str, str], str] = {}

type Arrows = Mapping[str, frozenset[str]]


def modules() -> dict[str, Path]:
    found = {}
    for room in ROOMS:
        for path in (HOME / room).rglob("*.py"):
            parts = path.relative_to(HOME).with_suffix("").parts
            if "migrations" not in parts:
                found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def imported(tree: ast.AST, known: Mapping[str, object], *, types: bool) -> Iterator[str]:
    """Modules of the house that this code imports, wherever it does; with those that it names for types alone."""
    for node in ast.iter_child_nodes(tree):
        if (
            isinstance(node, ast.If)
            and ast.unparse(node.test).endswith("TYPE_CHECKING")
            and not types
        ):
            yield from imported(ast.Module(node.orelse, []), known, types=types)
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name in known)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "the house imports by whole names"
            for alias in node.names:
                name = f"{node.module}.{alias.name}"
                if name in known or node.module in known:
                    yield name if name in known else str(node.module)
        else:
            yield from imported(node, known, types=types)


def arrows(*, types: bool) -> Arrows:
    known = modules()
    return {
        name: frozenset(
            other
            for other in imported(ast.parse(path.read_text()), known, types=types)
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


def test_no_module_imports_itself_by_way_of_others() -> None:
    assert circle_in(arrows(types=False)) == []


def test_no_floor_imports_from_one_above_it() -> None:
    upward = [
        f"{name} → {other}"
        for name, others in sorted(arrows(types=True).items())
        for other in sorted(others)
        if floor_of(other) > floor_of(name)
    ]
    assert upward == []


def test_every_floor_is_lived_on_and_every_exception_is_needed() -> None:
    known = modules()
    starts = {start for floor in FLOORS for start in floor}
    assert {s for s in starts if not any(m == s or m.startswith(f"{s}.") for m in known)} == set()
    for name, other in LEFT_OUT:
        tree = ast.parse(known[name].read_text())
        assert other in imported(tree, known, types=True), (name, other)


def test_a_module_stands_where_its_longest_beginning_stands() -> None:
    up = ["pricing.core.money", "pricing.stores.plan.solver", "pricing.stores.kit", "pricing.stores.pages.kit", "jobs.models.offer",
          "jobs.money.ledger", "jobs.pages.today", "studio.urls"]  # fmt: skip
    assert sorted(up, key=floor_of) == up
    assert len({floor_of(name) for name in up}) == len(up)


def test_an_import_counts_wherever_it_stands() -> None:
    known = dict.fromkeys(("a", "a.b", "a.c", "a.d", "a.e"))
    tree = ast.parse("""
import a.b
from a import c
if TYPE_CHECKING:
    from a.d import Name
def late():
    if True:
        from a.e import name
""")
    assert list(imported(tree, known, types=True)) == ["a.b", "a.c", "a.d", "a.e"]
    assert list(imported(tree, known, types=False)) == ["a.b", "a.c", "a.e"]


def test_a_circle_is_found() -> None:
    assert set(circle_in({"a": frozenset("b"), "b": frozenset("c"), "c": frozenset("a")})) == set("abc")  # fmt: skip
    assert circle_in({"a": frozenset("bc"), "b": frozenset("c"), "c": frozenset()}) == []

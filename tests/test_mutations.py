"""What `make mutate` changes, and that it leaves the checkout alone."""

from __future__ import annotations

import ast
import inspect
import re

import pytest

from tests import mutate
from tests.mutations import mutants_of, mutated_template, mutated_tree

CODE = '''
"""Words."""
from django.db import models

LIMIT = 3


class Row(models.Model):
    name = models.CharField(max_length=120)
    kind: int = 4


@require_POST
@dataclass(frozen=True)
def late(days: int = 2, *, strict: bool = True) -> bool | None:
    """Words 7."""
    if not strict and days < LIMIT:
        return None
    if days:
        return f"{days} days" + "!"
    return days + 1 >= 0
'''


def changes(text: str, name: str = "room/file.py") -> list[str]:
    return [mutant.change for mutant in mutants_of(name, text)]


def test_one_token_at_a_time() -> None:
    assert changes(CODE) == [
        "3 → 4", "3 → 2",
        "4 → 5", "4 → 3",
        "@require_POST → none",
        "True → False", "2 → 3", "2 → 1",
        "not strict and days < LIMIT → not strict or days < LIMIT", "not strict → strict", "days < LIMIT → days <= LIMIT",
        "days → not days",
        "return f'{days} days' + '!' → return None",
        "return days + 1 >= 0 → return None", "days + 1 >= 0 → days + 1 > 0", "days + 1 → days - 1", "1 → 2", "1 → 0",
        "0 → 1", "0 → -1",
    ]  # fmt: skip


@pytest.mark.parametrize("site", range(len(changes(CODE))))
def test_each_change_makes_another_module_that_compiles(site: int) -> None:
    made = mutated_tree(CODE, site)
    assert ast.dump(made) != ast.dump(ast.parse(CODE))
    compile(made, "file.py", "exec")


def test_what_reaches_a_change() -> None:
    lines = {mutant.change: mutant.lines for mutant in mutants_of("room/file.py", CODE)}
    assert lines["3 → 4"] == (0, 0)  # the module: whatever reaches the file
    assert (
        lines["2 → 3"] == lines["@require_POST → none"] == (16, 21)
    )  # a head: what enters the body
    assert lines["days < LIMIT → days <= LIMIT"] == (17, 17)


def test_a_place_keeps_its_name_and_its_mark_when_others_move() -> None:
    def marks(text: str) -> set[tuple[str, str]]:
        return {(m.name, m.unit) for m in mutants_of("room/file.py", text) if m.place == "late"}

    assert marks(CODE) == marks("import os\n" + CODE.replace("LIMIT = 3", "LIMIT = 3\nMORE = 9"))
    assert marks(CODE) != marks(CODE.replace("days < LIMIT", "days <= LIMIT"))


TEMPLATE = '{% if job.late and not done %}{{ job.name|upper }}{% elif x == "a" %}{% csrf_token %}{% endif %}'


def test_conditions_and_values_of_templates() -> None:
    assert changes(TEMPLATE, "a.html") == [
        "job.late and not done → 1", "job.late → not job.late", "not done → done", "{{ job.name|upper }} → nothing",
        'x == "a" → 1', 'x == "a" → not x == "a"',
    ]  # fmt: skip
    assert mutated_template(TEMPLATE, 2).startswith("{% if job.late and done %}")
    assert mutated_template(TEMPLATE, 3).startswith("{% if job.late and not done %}{% elif")


def test_every_source_belongs_to_one_room() -> None:
    owners: dict[str, str] = {}
    for room in mutate.ROOMS:
        for file in mutate.files_of(room):
            assert owners.setdefault(file, room) == room
    assert owners["jobs/seals.py"] == "records"
    assert owners["jobs/pages/money/money.py"] == "jobs/pages"
    assert owners["pricing/core/tax.py"] == "pricing/core"
    assert owners["pricing/stores/kit.py"] == "pricing"
    assert not [f for f in owners if "migrations" in f]


def test_a_sample_is_drawn_by_its_seed() -> None:
    first = [m.name for m in mutate.sample("jobs/after", 20, 1)]
    assert len(set(first)) == 20
    assert first == [m.name for m in mutate.sample("jobs/after", 30, 1)][:20]
    assert first != [m.name for m in mutate.sample("jobs/after", 20, 2)]


def test_reasons_are_given_for_changes_that_there_are() -> None:
    every = {m.name.rsplit("|", 1)[0] for room in mutate.ROOMS for f in mutate.files_of(room)
             for m in mutants_of(f, (mutate.HOME / f).read_text())}  # fmt: skip
    reasons = mutate.equal_ones()
    assert set(reasons) <= every
    assert all(len(reason) > 20 for reason in reasons.values())


def test_what_is_asked_by_default() -> None:
    wants = mutate.what_is_asked([])
    assert (wants.room, wants.size, wants.seed, wants.tests, wants.worth) == (
        None,
        60,
        1,
        None,
        mutate.WORTH,
    )
    assert {wants.list, wants.reach_only, wants.as_is} == {False}
    used = set(re.findall(r"wants\.(\w+)", inspect.getsource(mutate.main)))
    assert used == set(vars(wants))

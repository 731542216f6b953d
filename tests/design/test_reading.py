"""Documents in and out: every fault at once, with its JSON path."""

from __future__ import annotations

import copy
import json
from typing import Any

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jobs.design.reading import Unreadable, read_design, schema, write_design
from tests.factories import DATA, a_document
from tests.strategies import designs

PUBLISHED = DATA.parent.parent / "jobs" / "design" / "design.schema.json"


def faults(document: Any) -> dict[str, str]:
    with pytest.raises(Unreadable) as refused:
        read_design(json.dumps(document))
    return {fault.path: fault.sentence for fault in refused.value.faults}


def with_change(path: str, value: Any) -> dict[str, Any]:
    document = a_document()
    *way, last = path.split(".")
    at: Any = document
    for step in way:
        at = at[int(step)] if step.isdecimal() else at[step]
    at[int(last) if last.isdecimal() else last] = value
    return document


@pytest.mark.parametrize("path", sorted(DATA.glob("*.json")), ids=lambda p: p.stem)
def test_a_document_reads_back_as_it_was_written(path: Any) -> None:
    design = read_design(path.read_bytes())
    assert read_design(write_design(design)) == design
    assert write_design(design) == path.read_text()


@given(designs())
@settings(max_examples=30, deadline=None)
def test_any_design_goes_round_exactly(design: Any) -> None:
    assert read_design(write_design(design)) == design


@pytest.mark.parametrize(
    ("path", "value", "at", "says"),
    [
        ("pieces.0.support.diameter_m", -1, "$.pieces[0].support.diameter_m", "got -1"),
        ("pieces.0.support.kind", "moon", "$.pieces[0].support", "moon"),
        (
            "pieces.0.runs.0.pattern.0",
            "nine",
            "$.pieces[0].runs[0].pattern[0]",
            "one of eight, quad, got nine",
        ),
        (
            "pieces.0.runs.0.end",
            {"height_m": 3, "side": "left"},
            "$.pieces[0].runs[0].end",
            "2.29 m, got 3.00 m",
        ),
        ("pieces.0.runs.0.end", {}, "$.pieces[0].runs[0].end", "one of length_m, share"),
        (
            "pieces.0.runs.0.weights",
            {"puce": 1},
            "$.pieces[0].runs[0].weights.puce",
            "one of blush",
        ),
        ("recipes.0.balls.0.blown_m", 0.4, "$.recipes[0].balls[0].blown_m", "bursts"),
        ("recipes.0.balls.0.count", 13, "$.recipes[0].balls[0].count", "less than or equal to 12"),
        ("palette.1.name", "plum", "$.palette[1].name", "each name once"),
        ("palette.0.hex", "red", "$.palette[0].hex", "expected"),
        ("colour", 1, "$.colour", "no such field"),
        (
            "pieces.0.greenery.0.overlap_m",
            5,
            "$.pieces[0].greenery[0].overlap_m",
            "less than the strand",
        ),
        ("version", 3, "$.version", "got 3"),
    ],
)
def test_a_fault_is_told_with_its_path(path: str, value: Any, at: str, says: str) -> None:
    found = faults(with_change(path, value))
    assert at in found, found
    assert says in found[at]


def test_every_fault_is_told_at_once() -> None:
    document = a_document()
    document["palette"][0]["weight"] = -1
    document["pieces"][0]["support"]["diameter_m"] = 0
    document["seed"] = "x"
    assert len(faults(document)) == 3


def test_runs_that_overlap_are_refused() -> None:
    document = a_document()
    run = document["pieces"][0]["runs"][0]
    document["pieces"][0]["runs"].append({**run, "start": {"share": 0.9}, "end": {"share": 0.05}})
    assert "no overlap with run 1" in faults(document)["$.pieces[0].runs[1].start"]


def test_a_piece_of_a_million_balls_is_refused_before_it_is_laid_out() -> None:
    document = a_document()
    document["recipes"][0]["balls"][0] = {"count": 12, "size": "1 in", "blown_m": 0.01}
    document["pieces"][0]["support"]["diameter_m"] = 59.0
    document["pieces"][0]["runs"][0].update(start={"share": 0}, end={"share": 1})
    assert "at most 50000 balls" in faults(document)["$.pieces[0]"]


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "null", '{"seed": NaN}', "[" * 100_000, "x" * 1_000_001, b"\xff\xfe{"]
)
def test_what_is_no_document_is_refused_with_a_sentence(text: str | bytes) -> None:
    with pytest.raises(Unreadable) as refused:
        read_design(text)
    assert refused.value.faults[0].sentence.startswith("expected ")


values = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**9), 10**9) | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3)
    ),
    max_leaves=8,
)


def places(node: Any, way: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    items = (
        node.items()
        if isinstance(node, dict)
        else enumerate(node)
        if isinstance(node, list)
        else ()
    )
    return [p for k, v in items for p in [(*way, k), *places(v, (*way, k))]]


PLACES = places(a_document())


@given(st.lists(st.tuples(st.sampled_from(PLACES), values), min_size=1, max_size=3))
@settings(max_examples=600, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_no_document_crashes_the_reader(changes: list[tuple[tuple[Any, ...], Any]]) -> None:
    document = copy.deepcopy(a_document())
    for way, value in changes:
        at: Any = document
        try:
            for step in way[:-1]:
                at = at[step]
            at[way[-1]] = value
        except (KeyError, IndexError, TypeError):
            continue
    try:
        design = read_design(json.dumps(document))
    except Unreadable as refused:
        assert all(fault.path.startswith("$") for fault in refused.faults)
    else:
        assert read_design(write_design(design)) == design


def test_the_published_schema_is_current_and_describes_the_kept_documents() -> None:
    published = json.loads(PUBLISHED.read_text())
    assert published == schema()
    jsonschema.Draft202012Validator.check_schema(published)
    for path in DATA.glob("*.json"):
        jsonschema.validate(json.loads(path.read_text()), published)

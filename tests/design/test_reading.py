"""Documents in and out: every fault at once, with its JSON path."""

from __future__ import annotations

import copy
import json
from typing import Any

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema_specifications import REGISTRY

from jobs.design.compose import compose
from jobs.design.labour import tally_labour
from jobs.design.needs import count_needs
from jobs.design.practice import PRACTICE
from jobs.design.reading import Unreadable, read_design, write_design
from jobs.design.schema import schema
from tests.depth import examples
from tests.factories import DATA, a_document
from tests.strategies import a_design, designs, with_everything

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
@settings(max_examples=examples(30), deadline=None)
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
    assert "at most 50000 balls in all" in faults(document)["$.pieces"]


@pytest.mark.parametrize(
    ("part", "said"),
    [
        ("runs", {"clusters": 500}), ("skirt", {"clusters": 500}), ("accents", {"count": 5000}),
        ("features", {"count": 2000}), ("floaters", {"count": 900}),
    ],
)  # fmt: skip
def test_a_slip_of_a_digit_is_told_before_it_is_laid_out(part: str, said: dict[str, int]) -> None:
    document = a_document()
    piece = document["pieces"][0]
    had = piece["runs"][0] if part == "runs" else piece.get(part) or {}
    had.update(said)
    if part != "runs":
        piece[part] = had
    path = "$.pieces[0].runs[0]" if part == "runs" else f"$.pieces[0].{part}"
    (field,) = said
    told = faults(document)[f"{path}.{field}"]
    assert "more would lie inside one another" in told
    assert f"got {said[field]}" in told


@pytest.mark.parametrize(
    ("support", "field"),
    [
        ({"kind": "swag", "hook_m": 2.5, "span_m": 60, "sag_m": 1e-9}, "sag_m"),
        ({"kind": "rod-arch", "span_m": 1e-300, "rise_m": 1}, "span_m"),
        ({"kind": "ring", "diameter_m": 5e-324}, "diameter_m"),
    ],
)
def test_what_is_next_to_nothing_is_no_size(support: dict[str, Any], field: str) -> None:
    document = a_document()
    document["pieces"][0]["support"] = support
    told = faults(document)[f"$.pieces[0].support.{field}"]
    assert "expected greater than or equal to 0.001" in told


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        "null",
        '{"seed": NaN}',
        "[" * 100_000,
        "[" * 10_000_000,
        "x" * 1_000_001,
        b"\xff\xfe{",
    ],
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


# A ring that carries everything, and a column: small, so that thousands can be tried.
FULL = json.loads(write_design(a_design(with_everything("ring"), with_everything("column"))))
PLACES = places(FULL)


@given(st.lists(st.tuples(st.sampled_from(PLACES), values), min_size=1, max_size=3))
@settings(max_examples=examples(2500), deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_no_document_crashes_the_reader(changes: list[tuple[tuple[Any, ...], Any]]) -> None:
    document = copy.deepcopy(FULL)
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


@given(st.sampled_from(PLACES), st.integers(0, 3) | st.floats(0.01, 3) | st.none() | st.just([]))
@settings(max_examples=examples(300), deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_what_the_reader_takes_can_be_counted(way: tuple[Any, ...], value: Any) -> None:
    document = copy.deepcopy(FULL)
    at: Any = document
    for step in way[:-1]:
        at = at[step]
    at[way[-1]] = value
    try:
        design = read_design(json.dumps(document))
    except Unreadable:
        return
    composition = compose(design, PRACTICE)
    needs = count_needs(design, composition, PRACTICE)
    assert all(need.quantity >= 0 for need in needs)
    assert tally_labour(design, composition, PRACTICE)


@pytest.mark.parametrize("path", sorted((DATA / "version-1").glob("*.json")), ids=lambda p: p.stem)
def test_a_version_1_document_still_opens_as_the_same_design(path: Any) -> None:
    old = json.loads(path.read_text())
    assert old["version"] == 1
    assert read_design(path.read_bytes()) == read_design((DATA / path.name).read_bytes())


@pytest.mark.parametrize("version", [0, 3, True, "1", [], None, 1.0])
def test_a_version_that_nobody_wrote_is_refused(version: Any) -> None:
    assert "$.version" in faults({**a_document(), "version": version})


@pytest.mark.parametrize(
    ("part", "value", "at", "says"),
    [
        ("runs.0.features.0", {"recipe": "small", "every": 3, "at": [{"share": 0.1}]}, "runs[0].features[0]", "either every so many or places"),
        ("runs.0.features.0", {"recipe": "giant", "every": 3}, "runs[0].features[0].recipe", "one of cluster, small, got giant"),
        ("runs.0.features.1.at.0", {"share": 0.9}, "runs[0].features[1].at[0]", "a place on the run"),
        ("runs.0.taper", 0.1, "runs[0].taper", "greater than or equal to 0.2"),
        ("skirt.clusters", 4, "skirt.clusters", "either a count or a depth and a height"),
        ("accents.count", 4, "accents.count", "either a count or so many a metre"),
        ("stems", {"plant": "ivy"}, "stems.count", "either a count or so many a metre"),
        ("topper", {"size": "24 in", "blown_m": 0.5}, "topper", "a topper on a column only"),
        ("wraps.0.end", {"share": 0}, "wraps[0]", ""),
        ("floaters.blown_m", 0.3, "floaters.blown_m", "bursts"),
        ("bows.loops", 0, "bows.loops", "greater than or equal to 1"),
    ],
)  # fmt: skip
def test_every_part_tells_its_faults(part: str, value: Any, at: str, says: str) -> None:
    document = copy.deepcopy(FULL)
    node: Any = document["pieces"][0]
    *way, last = part.split(".")
    for step in way:
        node = node[int(step)] if step.isdecimal() else node[step]
    node[int(last) if last.isdecimal() else last] = value
    if not says:  # a closed path takes an end at its start for the whole way round
        assert read_design(json.dumps(document))
        return
    found = faults(document)
    assert f"$.pieces[0].{at}" in found, found
    assert says in found[f"$.pieces[0].{at}"]


def test_the_published_schema_is_current_and_describes_the_kept_documents() -> None:
    published = json.loads(PUBLISHED.read_text())
    assert published == schema()
    jsonschema.Draft202012Validator.check_schema(published)
    for path in DATA.glob("*.json"):
        jsonschema.validate(json.loads(path.read_text()), published)


def test_the_schema_has_no_word_that_json_schema_does_not_know() -> None:
    # JSON Schema 2020-12, core, 8.2.4 and 11.3: the same metaschema for every subschema, and nothing beside it.
    known = "https://json-schema.org/draft/2020-12/schema"
    strict = {
        "$schema": known, "$id": "urn:strict", "$dynamicAnchor": "meta", "$ref": known,
        "unevaluatedProperties": False,
    }  # fmt: skip
    judge = jsonschema.Draft202012Validator(strict, registry=REGISTRY)
    assert [error.message for error in judge.iter_errors(schema())] == []
    assert not judge.is_valid({"properties": {"support": {"discriminator": {}}}})


def test_reader_and_schema_both_want_to_know_the_kind_of_a_support() -> None:
    document = json.loads((DATA / "lakeside.json").read_text())
    del document["pieces"][0]["support"]["kind"]
    assert "$.pieces[0].support" in faults(document)
    assert not jsonschema.Draft202012Validator(schema()).is_valid(document)

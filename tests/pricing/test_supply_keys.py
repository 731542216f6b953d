"""A supply's key: what is written reads back, and a price is found by fields, not by beginnings."""

from __future__ import annotations

import ast
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pricing.book.starter_sets import SUPPLIES
from pricing.core.book import Book, PackPrice, Rates
from pricing.core.names import supply_key, supply_name
from pricing.core.supply_keys import SupplyKey, UnreadableKey, parse_key, typed_key, write_key
from pricing.core.tax import TaxGroup
from pricing.stores.forms import read_contents, write_contents
from tests.depth import examples

NASTY = (
    "/",
    "//",
    "rose/",
    "/party grade",
    "x/party grade",
    "party grade",
    "x/professional grade",
    "%2F",
    "%252F%",
)
WORD = st.one_of(
    st.text(min_size=1), st.text("/%25F party grade", min_size=1), st.sampled_from(NASTY)
)
OWN = WORD.filter(lambda kind: kind not in ("balloon", "ribbon", "greenery", "stem"))
KEYS = st.one_of(
    st.builds(SupplyKey, st.just("balloon"), WORD),
    st.builds(
        SupplyKey, st.just("balloon"), WORD, colour=WORD, grade=st.sampled_from(["", "party"])
    ),
    st.builds(SupplyKey, st.just("ribbon"), WORD, colour=WORD | st.just("")),
    st.builds(SupplyKey, st.sampled_from(["greenery", "stem"]), WORD),
    st.builds(SupplyKey, OWN, WORD, details=st.lists(WORD, max_size=3).map(tuple)),
)


@given(KEYS)
@settings(max_examples=examples(500), deadline=None)
def test_what_is_written_reads_back(key: SupplyKey) -> None:
    assert parse_key(write_key(key)) == key
    assert str(key) == write_key(key)


@given(KEYS, KEYS)
def test_two_keys_are_never_written_alike(one: SupplyKey, other: SupplyKey) -> None:
    assert (write_key(one) == write_key(other)) is (one == other)


@given(
    st.sampled_from(["balloon/11 in", "ribbon/10 mm", "greenery", "stem"]),
    st.lists(st.text(st.characters(exclude_characters="/%"), min_size=1), min_size=1, max_size=3),
    st.sampled_from(["", "/party grade"]),
)
def test_what_earlier_databases_hold_is_written_as_it_was(
    start: str, words: list[str], grade: str
) -> None:
    """As designs wrote keys: names as they are, slashes and all."""
    said = "/".join([start, *words]) + (grade if start.startswith("balloon") else "")
    assert write_key(parse_key(said)) == said


def test_the_starter_supplies_read_as_their_columns_say() -> None:
    for written, *_ in SUPPLIES:
        kind, _, item = written.partition("/")
        assert parse_key(written) == SupplyKey(kind, item)


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("balloon/11 in", SupplyKey("balloon", "11 in")),
        ("balloon/11 in/rose", SupplyKey("balloon", "11 in", colour="rose")),
        ("balloon/11 in/rose/gold", SupplyKey("balloon", "11 in", colour="rose/gold")),
        (
            "balloon/11 in/rose/party grade",
            SupplyKey("balloon", "11 in", colour="rose", grade="party"),
        ),
        ("balloon/11 in/party grade", SupplyKey("balloon", "11 in", colour="party grade")),
        ("ribbon/10 mm/old gold", SupplyKey("ribbon", "10 mm", colour="old gold")),
        ("greenery/pampas/white", SupplyKey("greenery", "pampas/white")),
        ("tool/pump/electric", SupplyKey("tool", "pump", details=("electric",))),
    ],
)
def test_written_keys_mean(text: str, key: SupplyKey) -> None:
    assert (parse_key(text), write_key(key)) == (key, text)


@pytest.mark.parametrize("text", ["", "/", "balloon", "balloon/", "/ring", "frame/ring/", "a//b"])
def test_what_names_nothing_is_refused(text: str) -> None:
    with pytest.raises(UnreadableKey):
        parse_key(text)
    with pytest.raises(UnreadableKey, match="expected words parted by slashes"):
        typed_key(text)


@pytest.mark.parametrize(
    ("kind", "facts"),
    [
        ("frame", {"colour": "red"}),
        ("ribbon", {"colour": "red", "grade": "party"}),
        ("balloon", {"grade": "party"}),
        ("balloon", {"details": ("chrome",)}),
        ("stem", {"details": ("long",)}),
        ("tool", {"details": ("",)}),
    ],
)
def test_a_field_has_its_place(kind: str, facts: dict[str, object]) -> None:
    with pytest.raises(UnreadableKey):
        SupplyKey(kind, "one", **facts)  # type: ignore[arg-type]


def a_book(*keys: str) -> Book:
    nothing = dict.fromkeys(("workshop_hour", "site_hour", "travel_km"), Decimal(0))
    return Book(
        currency="GBP", tax=TaxGroup(code="S", name="VAT", percent=Decimal(20)),
        rates=Rates(**nothing, overhead_percent=Decimal(0), margin_percent=Decimal(0)),
        prices={
            parse_key(key): PackPrice(name=key, pack_price=Decimal(1), pack_count=Decimal(1))
            for key in keys
        },
    )  # fmt: skip


@pytest.mark.parametrize(
    ("asked", "answer"),
    [
        ("balloon/11 in/rose", "balloon/11 in/rose"),
        ("balloon/11 in/rose/party grade", "balloon/11 in/rose"),
        ("balloon/11 in/rose/gold", "balloon/11 in"),  # another colour than rose
        ("balloon/11 in/rose/gold/party grade", "balloon/11 in"),
        ("balloon/11 in/ivory", "balloon/11 in"),
        ("balloon/16 in/rose", None),
        ("ribbon/10 mm/rose", "ribbon/10 mm"),
        ("greenery/ivy/long", None),
        ("tool/pump/electric/small", "tool/pump"),
    ],
)
def test_the_most_particular_price_that_covers_a_key(asked: str, answer: str | None) -> None:
    book = a_book(
        "balloon/11 in", "balloon/11 in/rose", "ribbon/10 mm", "greenery/ivy", "tool/pump"
    )
    found = book.find(parse_key(asked))
    assert (found and found.name) == answer
    assert book.knows(parse_key(asked)) is (answer is not None)


@given(KEYS)
def test_a_key_is_covered_by_all_that_it_falls_under_and_by_its_kind_alone_never(
    key: SupplyKey,
) -> None:
    wider = list(key.widening())
    assert wider[0] == key
    assert wider[-1] == SupplyKey(key.kind, key.item)
    assert all(each.covers(key) for each in wider)
    assert not any(key.covers(each) for each in wider[1:])


@given(st.text(st.characters(exclude_categories=("C", "Z")), min_size=1))
def test_any_colour_is_found_by_its_name(colour: str) -> None:
    key = SupplyKey("balloon", "11 in", colour=colour)
    assert supply_key(supply_name(key), [key]) == key


def test_packs_hold_colours_with_slashes() -> None:
    held = {"balloon/11 in/rose/gold": 50, "balloon/11 in/rose/gold/party grade": 25}
    assert read_contents(write_contents(held, "; ")) == held


# Texts that part at slashes and are no keys of supplies, with the reason.
NO_KEYS = {
    "jobs/pages/fields.py": "points are typed across / up",
}
ROOT = Path(__file__).parents[2]


def parts_at_slashes(tree: ast.AST) -> list[int]:
    """Lines that split, join or compare text at slashes, or write one behind a key."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            name, on = node.func.attr, node.func.value
            texts = [c.value for a in node.args for c in ast.walk(a) if isinstance(c, ast.Constant)]
            slashed = any(isinstance(t, str) and "/" in t for t in texts)
            cut = name in ("split", "rsplit", "partition", "rpartition", "count") and "/" in texts
            ends = name in ("startswith", "endswith", "removeprefix", "removesuffix") and slashed
            joined = name == "join" and isinstance(on, ast.Constant) and on.value == "/"
            found += [node.lineno] if cut or ends or joined else []
        elif isinstance(node, ast.JoinedStr):
            slashed = any(isinstance(v, ast.Constant) and "/" in str(v.value) for v in node.values)
            keyed = any(
                "key" in ast.unparse(v) for v in node.values if isinstance(v, ast.FormattedValue)
            )
            starts = str(getattr(node.values[0], "value", "")).split("/")[0]
            found += [node.lineno] if slashed and (keyed or starts in KINDS) else []
    return found


KINDS = {key.partition("/")[0] for key, *_ in SUPPLIES} | {"tool"}


def test_nobody_else_splits_or_joins_keys() -> None:
    for room in ("pricing", "jobs"):
        for path in (ROOT / room).rglob("*.py"):
            name = str(path.relative_to(ROOT))
            if name == "pricing/core/supply_keys.py" or name in NO_KEYS or "/migrations/" in name:
                continue
            assert not parts_at_slashes(ast.parse(path.read_text())), name


@pytest.mark.parametrize(
    "code",
    [
        'key.split("/")', 'key.partition("/")', '"/".join(parts)', 'key.startswith("balloon/")',
        'key.endswith(("/party grade", "x"))', 'f"{need.key}/on site"', 'f"balloon/{size}"', 'key.count("/")',
    ],
)  # fmt: skip
def test_the_reading_of_code_sees_each_way(code: str) -> None:
    assert parts_at_slashes(ast.parse(code))

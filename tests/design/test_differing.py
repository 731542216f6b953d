"""Where two designs differ, in words; and what a form cannot tell apart."""

from __future__ import annotations

from typing import Any

import pytest

from jobs.design.differing import design_differences, is_same
from jobs.design.document import Design
from jobs.design.reading import design_from
from tests.factories import a_document


def changed(name: str, **paths: Any) -> Design:
    """A kept document with other values; "pieces__0__support__diameter_m" names a place in it."""
    document = a_document(name)
    for path, value in paths.items():
        *way, last = path.split("__")
        node: Any = document
        for step in way:
            node = node[int(step)] if step.isdecimal() else node[step]
        node[last] = value
    return design_from(document)


def told(name: str, **paths: Any) -> list[tuple[str, str, str]]:
    found = design_differences(changed(name), changed(name, **paths), "imperial")
    return [(d.what, d.was, d.now) for d in found]


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("pieces__0__support__diameter_m", 1.9812, ("support, across", "7' 6\"", "6' 6\"")),
        ("pieces__0__at_m", -0.6096, ("stands", "middle", "2' left")),
        ("pieces__0__accents", None, ("small accents", "there", "none")),
        ("pieces__0__passed", True, ("people pass close by", "no", "yes")),
    ],
)
def test_a_change_is_told_in_the_words_of_the_form(
    path: str, value: Any, words: tuple[str, str, str]
) -> None:
    name = a_document("shop-tenth")["pieces"][0]["name"]
    assert told("shop-tenth", **{path: value}) == [(f"{name}: {words[0]}", *words[1:])]


def test_a_place_is_written_as_it_is_typed() -> None:
    (only,) = told("shop-tenth", pieces__0__runs__0__end={"share": 0.4})
    assert only[0].endswith("run, end")
    assert only[1:] == ("left 6'", "40 %")


def test_colours_and_whole_pieces_are_told_by_name() -> None:
    was = changed("shop-tenth")
    colour = was.palette[0]
    other = was.model_copy(
        update={"palette": (colour.model_copy(update={"name": "rosy"}), *was.palette[1:])}
    )
    assert [(d.what, d.was, d.now) for d in design_differences(was, other, "metric")] == [
        ("colour 1: name", colour.name, "rosy")
    ]
    rail = changed("lakeside").pieces[0]
    more = was.model_copy(update={"pieces": (*was.pieces, rail)})
    (only,) = design_differences(was, more, "metric")
    assert (only.what, only.was, only.now) == (rail.name, "none", rail.name)


@pytest.mark.parametrize("name", ["gym-doors", "lakeside", "shop-tenth"])
def test_nothing_differs_from_itself(name: str) -> None:
    assert design_differences(changed(name), changed(name), "metric") == ()
    assert is_same(changed(name), changed(name))


def test_half_a_millimetre_is_the_same_and_more_is_not() -> None:
    at = "pieces__0__support__diameter_m"
    across = a_document("shop-tenth")["pieces"][0]["support"]["diameter_m"]
    assert is_same(changed("shop-tenth"), changed("shop-tenth", **{at: across + 0.0004}))
    assert not is_same(changed("shop-tenth"), changed("shop-tenth", **{at: across + 0.001}))
    assert not is_same(changed("shop-tenth"), changed("shop-tenth", pieces__0__accents=None))

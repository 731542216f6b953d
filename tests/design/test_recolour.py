"""One balloon colour in another's place: balloons only."""

from __future__ import annotations

import pytest

from jobs.design.document import Design
from jobs.design.reading import design_from
from jobs.design.recolour import has_balls_of, with_other
from jobs.design.working import work_out
from pricing.core.supply_keys import write_key
from tests.factories import a_document


@pytest.fixture
def design() -> Design:
    """Ribbon of every use in the colour of some balloons, and runs and parts with shares of their own."""
    document = a_document("shop-tenth")
    piece, colour = document["pieces"][0], "blush"
    start, end = {"share": 0.0}, {"share": 0.2}
    piece["tails"] = {"count": 3, "length_m": 1.2, "colour": colour}
    piece["wraps"] = [{"start": start, "end": end, "colour": colour}]
    piece["bows"] = {"count": 1, "colour": colour}
    piece["floaters"] = {"count": 2, "on": "stick", "colour": colour, "weights": {colour: 1}}
    piece["runs"][0]["weights"] = {colour: 3, "cream": 1}
    return design_from(document)


def needs(design: Design) -> dict[str, tuple[object, object]]:
    return {
        write_key(need.key): (need.quantity, need.spare) for need in work_out(design).takeoff.needs
    }


def test_balloons_are_renamed_and_ribbon_is_not(design: Design) -> None:
    before, after = needs(design), needs(with_other(design, "blush", "rosy", "#e6b7ac", "pearl"))
    ribbon = {key for key in before if key.startswith("ribbon/")}
    assert any("blush" in key for key in ribbon)
    assert {key: after[key] for key in ribbon} == {key: before[key] for key in ribbon}
    balloons = {key for key in before if key.startswith("balloon/")}
    renamed = {key.replace("/blush", "/rosy"): before[key] for key in balloons}
    assert {key: n for key, n in after.items() if key.startswith("balloon/")} == renamed


def test_ribbon_looks_as_it_did(design: Design) -> None:
    other = with_other(design, "blush", "rosy", "#e6b7ac", "pearl")
    looks = {colour.name: (colour.hex, colour.weight) for colour in other.palette}
    blush = next(c for c in design.palette if c.name == "blush")
    assert looks["blush"] == (blush.hex, 0)
    assert looks["rosy"] == ("#e6b7ac", blush.weight)
    assert (has_balls_of(design, "blush"), has_balls_of(other, "blush")) == (True, False)


def test_without_ribbon_of_it_the_colour_is_gone() -> None:
    design = design_from(a_document("shop-tenth"))
    other = with_other(design, "blush", "rosy", "#e6b7ac", "matt")
    assert len(other.palette) == len(design.palette)
    assert not has_balls_of(other, "blush")
    assert has_balls_of(other, "rosy")

"""Parts the client may have or leave: what is left is a design like any other, and nothing is lost."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.design.compose import compose
from jobs.design.document import Design
from jobs.design.layouts import LAYOUTS, laid_out
from jobs.design.needs import count_needs
from jobs.design.options import (
    LOOSE,
    WHOLE,
    Option,
    Part,
    always_in,
    option_faults,
    options_carried,
    parts_of,
    ways_of_options,
    why_not_optional,
    with_only,
)
from jobs.design.practice import PRACTICE
from jobs.design.reading import read_design
from pricing.core.supply_keys import write_key
from tests.depth import examples
from tests.factories import DATA
from tests.strategies import a_design, designs, with_everything

RING = a_design(with_everything("ring"))


def counted(design: Design) -> dict[str, object]:
    needs = count_needs(design, compose(design, PRACTICE), PRACTICE)
    return {write_key(need.key): need.quantity for need in needs}


def test_every_loose_part_of_a_piece_can_be_an_option() -> None:
    assert {part.what for part, _ in parts_of(RING)} <= {*LOOSE, WHOLE}
    assert {"greenery", "accents", "skirt"} <= {part.what for part, _ in parts_of(RING)}


def test_without_greenery_no_strand_is_counted_and_with_it_all() -> None:
    option = Option(name="Greenery", parts=(Part(0, "greenery"), Part(0, "stems")))
    bare, full = with_only(RING, [option], ()), with_only(RING, [option], (0,))
    assert full == RING
    assert any("greenery" in key for key in counted(full))
    assert not any("greenery" in key for key in counted(bare))


def test_a_part_that_two_options_share_stays_for_either() -> None:
    one, two = (
        Option(name=name, parts=(Part(0, "greenery"), Part(0, what)))
        for name, what in (("One", "accents"), ("Two", "tails"))
    )
    only_two = with_only(RING, [one, two], (1,)).pieces[0]
    assert only_two.greenery == RING.pieces[0].greenery
    assert (only_two.accents, only_two.tails) == (None, RING.pieces[0].tails)


def test_rules_decide_which_ways_there_are() -> None:
    a = Option(name="A", parts=(Part(0, "greenery"),))
    b = Option(name="B", parts=(Part(0, "stems"),), only_with="A")
    c = Option(name="C", parts=(Part(0, "tails"),), not_with="A")
    assert ways_of_options([a, b, c]) == [(), (0,), (2,), (0, 1)]
    assert why_not_optional([a, b, c], (1,)) == "“B” goes with “A”: tick both, or neither."
    assert why_not_optional([a, b, c], (0, 2)) == "“C” and “A”: choose one of the two."


def test_options_that_do_not_go_with_the_design_are_told() -> None:
    gone = Option(name="Topper", parts=(Part(7, "topper"),))
    assert "no longer has" in option_faults(RING, [gone])[0]
    alone = Option(name="All", parts=(Part(0, WHOLE),))
    assert any("at least one piece" in fault for fault in option_faults(RING, [alone]))
    strange = Option(name="X", parts=(Part(0, "greenery"),), only_with="Y")
    assert option_faults(RING, [strange]) == [
        "Option “X”, only with: expected another option, got “Y”."
    ]
    a = Option(name="A", parts=(Part(0, "greenery"),), only_with="B")
    b = Option(name="B", parts=(Part(0, "tails"),), not_with="A")
    assert option_faults(RING, [a, b]) == ["Option “A”: its rules exclude each other."]


@settings(deadline=None, max_examples=examples(60))
@given(designs(), st.data())
def test_each_way_can_be_counted_and_more_never_counts_less(
    design: Design, data: st.DataObject
) -> None:
    """Own law: a way with more in it never holds fewer balloons."""
    open_ = [part for part, _ in parts_of(design) if part.what != WHOLE]
    chosen = data.draw(st.lists(st.sampled_from(open_), unique=True, max_size=3)) if open_ else []
    options = [Option(name=f"{n}", parts=(part,)) for n, part in enumerate(chosen)]
    assert not option_faults(design, options)
    sizes = {}
    for way in ways_of_options(options):
        made = compose(with_only(design, options, way), PRACTICE)
        sizes[frozenset(way)] = sum(len(c.balls) for c in made.clusters)
    for some, more in combinations(sizes, 2):
        if some < more:
            assert sizes[some] <= sizes[more]


# --- another design of the same pieces ---


def test_what_a_copy_still_has_stays_optional_and_the_rest_goes_with_its_rules() -> None:
    design = read_design((DATA / "shop-tenth.json").read_bytes())
    options = (
        Option(name="Greenery", parts=(Part(0, "greenery"),)),
        Option(name="Soft", parts=(Part(0, "greenery"), Part(0, "tails"))),
        Option(name="Minis", parts=(Part(0, "accents"),), only_with="Greenery"),
    )
    assert options_carried(options, design) == options
    bare = design.pieces[0].model_copy(update={"greenery": ()})
    other = design.model_copy(update={"pieces": (bare,)})
    assert options_carried(options, other) == (
        Option(name="Soft", parts=(Part(0, "tails"),)),
        Option(name="Minis", parts=(Part(0, "accents"),)),
    )
    assert option_faults(other, options_carried(options, other)) == []


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_layout_carries_over_no_option_that_it_cannot_hold(layout: str) -> None:
    design = read_design((DATA / "shop-tenth.json").read_bytes())
    options = [
        Option(name=what, parts=(Part(0, what),)) for what in ("greenery", "skirt", "accents")
    ]
    other = laid_out(design, layout)
    kept = options_carried(options, other)
    assert option_faults(other, kept) == []
    assert len(kept) == (0 if layout == "garland only" else 3)


def test_what_one_may_leave_and_the_other_always_has_is_named() -> None:
    design = read_design((DATA / "shop-tenth.json").read_bytes())
    options = (Option(name="Greenery", parts=(Part(0, "greenery"),)),)
    assert always_in(options, design, ()) == ["Greenery"]
    assert always_in(options, design, options) == []
    bare = design.pieces[0].model_copy(update={"greenery": ()})
    assert always_in(options, design.model_copy(update={"pieces": (bare,)}), ()) == []

"""Counts, minutes and needs of whole designs."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from decimal import Decimal
from math import pi, sqrt
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.design.buildsheet import build_steps
from jobs.design.compose import compose
from jobs.design.document import Design
from jobs.design.parts.accents import MINI_BALLS
from jobs.design.parts.greenery import strands_of
from jobs.design.places import read_place
from jobs.design.practice import MINUTES, PRACTICE
from jobs.design.reading import read_design, write_design
from jobs.design.working import work_out
from pricing.core.supply_keys import write_key
from tests.depth import examples
from tests.factories import DATA
from tests.strategies import a_design, a_piece, a_run, designs

DOCUMENTS = sorted(DATA.glob("*.json"))
FT = 0.3048


def needs(design: Design) -> dict[str, Decimal]:
    return {write_key(need.key): need.quantity for need in work_out(design).takeoff.needs}


def labour(design: Design) -> dict[str, Decimal]:
    return {work.operation: work.times for work in work_out(design).takeoff.labour}


def ring(**parts: Any) -> dict[str, Any]:
    """A ring of 7.5 ft standing on the floor."""
    return a_piece({"kind": "ring", "diameter_m": 7.5 * FT, "part_count": 4}, **parts)


def test_an_eight_is_four_pairs_and_two_quads() -> None:
    # Common practice, no source.
    work = labour(a_design(ring(runs=[a_run()])))
    eights = work["join an eight"]
    assert (work["twist a quad"], work["tie a pair"]) == (2 * eights, 4 * eights)


def test_a_mini_is_two_quads_of_small_balloons_on_half_a_tie() -> None:
    # Common practice, no source.
    design = a_design(ring(accents={"count": 5, "size": "5 in", "blown_m": 0.11}))
    minis = [c for c in compose(design, PRACTICE).clusters if c.part == "accent"]
    assert [len(mini.balls) for mini in minis] == [MINI_BALLS] * 5 == [2 * 4] * 5
    assert needs(design)["tie/260"] == 3  # five halves


def test_a_loose_large_balloon_takes_half_a_tie() -> None:
    # Common practice, no source.
    design = a_design(ring(features={"count": 4, "size": "24 in", "blown_m": 0.55}))
    assert needs(design)["tie/260"] == 2


def test_a_tied_cluster_takes_a_tie_and_a_locked_one_none() -> None:
    over = {"height_m": 0.5, "side": "left"}, {"height_m": 0.5, "side": "right"}
    tied = a_design(ring(runs=[a_run(*over, hold="tied")]))
    assert needs(tied)["tie/260"] == work_out(tied).takeoff.cluster_count
    assert "tie/260" not in needs(a_design(ring(runs=[a_run(*over, hold="locked")])))


def test_the_bare_arc_of_the_ring_takes_four_strands_of_greenery() -> None:
    # Common practice, no source: from 2 ft below an 8 ft ceiling over the top, round to a third of the height on
    # the other side, takes two lengths of 6.5 ft, two side by side; each pair of lengths is fastened at both ends
    # and in the middle.
    bare = {
        "start": {"height_m": 6 * FT, "side": "left"},
        "end": {"height_m": 2.5 * FT, "side": "right"},
        "strand_m": 6.5 * FT,
        "side_by_side": 2,
        "wrap_pitch_m": 0.6,
    }
    design = a_design(ring(greenery=[bare]))
    (strands,) = strands_of(compose(design, PRACTICE))
    assert (strands.lengths, strands.strands, strands.fasteners) == (2, 4, 2 * 3)
    assert needs(design)["greenery/mixed leaf"] == 4
    assert needs(design)["fastener/cable tie"] == 6


@pytest.mark.parametrize(
    ("radius", "height", "turns", "length"),
    # Helix √((2πρn)² + H²), computed with mpmath to 25 digits.
    [(0.1, 2, 5, 3.7241917782), (0.15, 3, 4, 4.8179072571)],
)
def test_a_wrapped_strand_is_as_long_as_its_helix(
    radius: float, height: float, turns: int, length: float
) -> None:
    rail = {"kind": "rail", "run_m": height, "height_m": 1, "tube_m": 2 * radius - PRACTICE.stem_m}
    wrap = {"start": {"share": 0}, "end": {"share": 1}, "wrap_pitch_m": height / turns}
    (strands,) = strands_of(compose(a_design(a_piece(rail, greenery=[wrap])), PRACTICE))
    assert strands.needed_m == pytest.approx(length, abs=5e-10)
    assert strands.needed_m == pytest.approx(
        height * sqrt(1 + (2 * pi * radius * turns / height) ** 2)
    )


def test_ribbon_is_counted_in_metres_and_joints_are_taped() -> None:
    found = needs(a_design(ring(tails={"count": 3, "length_m": 0.9, "colour": "ivory"})))
    assert found["ribbon/10 mm/ivory"] == Decimal("2.7")
    assert found["tape/low profile"] == Decimal("0.6")  # four joints of 15 cm


def test_outdoors_a_piece_gets_ballast() -> None:
    assert needs(a_design(ring(), room={"outdoors": True}))["weight/ballast"] == 2
    assert "weight/ballast" not in needs(a_design(ring()))


def test_spares_stand_apart_from_the_count() -> None:
    for need in work_out(a_design(ring(runs=[a_run()]))).takeoff.needs:
        if need.key.kind == "balloon":
            assert need.spare >= 1
            assert need.quantity == int(need.quantity)


def test_every_operation_has_its_minutes_with_the_rest_allowance() -> None:
    for path in DOCUMENTS:
        design = read_design(path.read_bytes())
        steady = replace(PRACTICE, learning=1.0)
        for work in work_out(design, practice=steady).takeoff.labour:
            expected = float(work.times) * MINUTES[work.operation] * 1.11
            assert float(work.minutes) == pytest.approx(expected, abs=0.01)


def test_shopping_sorting_and_sweeping_up_are_counted_work() -> None:
    """Common practice, no source: an hour and more of every job is neither making nor setting up."""
    small, large = (a_design(ring(runs=[a_run(end={"share": share})])) for share in (0.2, 0.8))
    for design in (small, large):
        worked = work_out(design)
        found = {work.operation: work for work in worked.takeoff.labour}
        for operation in ("shop and order", "sweep up the workshop", "sweep up on site"):
            assert found[operation].times == 1
        kinds = {(b.size, b.colour.name) for c in worked.composition.clusters for b in c.balls}
        assert found["sort a size and colour"].times == len(kinds) > 1
        around = [
            w for w in worked.takeoff.labour if w.operation.startswith(("shop", "sort", "sweep"))
        ]
        assert sum(w.minutes for w in around) > 80
        assert {w.place for w in around} == {"workshop", "site"}


@given(designs())
@settings(max_examples=examples(40), deadline=None)
def test_counts_by_colour_add_up_to_the_clusters_and_the_needs(design: Design) -> None:
    worked = work_out(design)
    by_hand = Counter((b.size, b.colour.name) for c in worked.composition.clusters for b in c.balls)
    counted = {
        (need.key.item, need.key.colour): need.quantity
        for need in worked.takeoff.needs
        if need.key.kind == "balloon"
    }
    assert counted == dict(by_hand)
    assert sum(counted.values()) == worked.takeoff.ball_count == len(worked.settled.radii_m)


@given(st.floats(0.1, 0.9), st.floats(0.01, 0.1), st.integers(2, 12))
@settings(deadline=None)
def test_a_longer_run_never_needs_fewer_balloons(share: float, more: float, count: int) -> None:
    rail = {"kind": "rail", "run_m": 5, "height_m": 1}

    def balls(end: float) -> int:
        run = a_run(None, {"share": end}, "cluster", "small")
        return sum(
            len(c.balls)
            for c in compose(a_design(a_piece(rail, runs=[run]), count=count), PRACTICE).clusters
        )

    assert balls(share + more) >= balls(share)


@pytest.mark.parametrize(("shorter", "longer"), [(2.574, 2.836), (2.9, 3.4)])
def test_features_at_places_take_a_cluster_each_however_long_the_run(
    shorter: float, longer: float
) -> None:
    def balls(end_m: float) -> int:
        at = [{"length_m": 0.338}, {"length_m": 0.589}]
        features = [{"recipe": "small", "at": at}]
        run = a_run({"length_m": 0}, {"length_m": end_m}, "cluster", features=features)
        rail = {"kind": "rail", "run_m": 3.5, "height_m": 1}
        clusters = compose(a_design(a_piece(rail, runs=[run]), count=8), PRACTICE).clusters
        assert sum(c.recipe == "small" for c in clusters) == 2
        return sum(len(c.balls) for c in clusters)

    assert balls(longer) >= balls(shorter)


@given(st.floats(0.2, 1.9), st.floats(0.2, 1.9))
@settings(max_examples=examples(30), deadline=None)
def test_the_mirror_image_has_the_same_counts(low: float, high: float) -> None:
    support = {"kind": "ring", "diameter_m": 2}

    def clusters(left: float, right: float) -> int:
        run = a_run({"height_m": left, "side": "left"}, {"height_m": right, "side": "right"})
        return len(compose(a_design(a_piece(support, runs=[run])), PRACTICE).clusters)

    assert clusters(low, high) == clusters(high, low)


@given(st.floats(1.2, 3.5))
@settings(max_examples=examples(30), deadline=None)
def test_scaling_everything_leaves_the_counts(scale: float) -> None:
    def clusters(k: float) -> int:
        piece = a_piece(
            {"kind": "ellipse-arch", "span_m": 2 * k, "rise_m": 1.5 * k}, runs=[a_run()]
        )
        return len(compose(a_design(piece, blown_m=0.2 * k, size="30 in"), PRACTICE).clusters)

    assert clusters(scale) == clusters(1.5)


@given(designs())
@settings(max_examples=examples(40), deadline=None)
def test_the_build_sheet_holds_every_ball_once(design: Design) -> None:
    worked = work_out(design)
    steps = build_steps(design, worked.composition, "metric")
    assert [s.number for s in steps] == list(range(1, worked.takeoff.cluster_count + 1))
    written = Counter()  # type: ignore[var-annotated]
    for step in steps:
        for lot in step.lots:
            written[lot.size, lot.colour] += lot.count
    assert written == Counter(
        (b.size, b.colour.name) for c in worked.composition.clusters for b in c.balls
    )
    assert sum(line.count for line in worked.takeoff.sizing) == sum(written.values())


@given(st.integers(1, 12), st.integers(2, 12))
@settings(max_examples=examples(60), deadline=None)
def test_a_run_split_at_a_joint_changes_by_at_most_one_cluster(joint: int, count: int) -> None:
    rail = {"kind": "rail", "run_m": 6.5, "height_m": 1, "part_count": 13}
    at = {"share": joint / 13}

    def clusters(*runs: dict[str, Any]) -> int:
        return len(
            compose(a_design(a_piece(rail, runs=list(runs)), count=count), PRACTICE).clusters
        )

    assert abs(clusters(a_run(None, at), a_run(at, None)) - clusters(a_run())) <= 1


@given(st.integers(1, 240), st.integers(1, 240))
@settings(max_examples=examples(30), deadline=None)
def test_feet_and_metres_make_the_same_document(first: int, second: int) -> None:
    low, high = sorted((first, second + 240))
    ways = []
    for units, write in (("imperial", "{} in along"), ("metric", "{} mm along")):
        per = 1 if units == "imperial" else 25.4
        start, end = (read_place(write.format(round(n * per, 4)), units) for n in (low, high))  # type: ignore[arg-type]
        rail = {"kind": "rail", "run_m": 20, "height_m": 1}
        run = a_run(start.model_dump(), end.model_dump())
        ways.append(write_design(a_design(a_piece(rail, runs=[run]))))
    assert ways[0] == ways[1]


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda p: p.stem)
def test_kept_documents_are_worked_out_the_same_every_time(path: Any) -> None:
    design = read_design(path.read_bytes())
    first, second = work_out(design), work_out(design)
    assert first.takeoff == second.takeoff
    assert (first.settled.centres_m == second.settled.centres_m).all()
    assert first.takeoff.ball_count >= 100

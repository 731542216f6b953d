"""The trade's pieces and parts, one by one: what each takes."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from math import pi, sqrt
from typing import Any

import pytest

from jobs.design.clusters import layer_pitch
from jobs.design.compose import compose
from jobs.design.document import Design
from jobs.design.parts.greenery import strands_of
from jobs.design.practice import PRACTICE
from jobs.design.supports import KINDS
from jobs.design.working import Worked, work_out
from pricing.core.cutting import cut_rolls
from pricing.core.supply_keys import write_key
from tests.strategies import a_design, a_piece, a_run, neat

FT = 0.3048
RAIL = {"kind": "rail", "run_m": 3.0, "height_m": 1.0}
RING = {"kind": "ring", "diameter_m": 2.0}


def needs(design: Design) -> dict[str, Decimal]:
    return {write_key(need.key): need.quantity for need in work_out(design).takeoff.needs}


def times(worked: Worked) -> dict[str, Decimal]:
    return {work.operation: work.times for work in worked.takeoff.labour}


def codes(design: Design) -> set[str]:
    return {finding.code for finding in work_out(design).takeoff.findings}


def clusters(design: Design, part: str = "run") -> list[Any]:
    return [c for c in compose(design, PRACTICE).clusters if c.part == part]


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_garland_on_every_support(kind: str) -> None:
    support = KINDS[kind].begin(2.3, neat).model_dump()
    worked = work_out(a_design(a_piece(support, runs=[a_run()]), count=4))
    pitch = 0.8 * 0.25 * 2**-0.25  # quads, 2^(−1/4) of a diameter when rigid, squeezed to 80 %
    length = worked.design.pieces[0].support.length_m
    assert worked.takeoff.cluster_count == pytest.approx(length / pitch, abs=0.51)
    assert worked.takeoff.ball_count == 4 * worked.takeoff.cluster_count


def test_a_column_of_layers_is_quads_stacked_turned() -> None:
    # Rigid quads stack at 2^(−1/4) d (brute force over four layers); ten layers of 10 in balls squeezed to 80 %.
    high = 10 * 0.8 * 0.254 * 2**-0.25
    design = a_design(
        a_piece({"kind": "column", "height_m": high}, runs=[a_run()]), count=4, blown_m=0.254
    )
    assert len(clusters(design)) == 10


def test_a_topper_stands_on_its_column() -> None:
    piece = a_piece({"kind": "column", "height_m": 1.6}, topper={"size": "36 in", "blown_m": 0.6})
    (topper,) = clusters(a_design(piece), "topper")
    assert topper.z_m == pytest.approx(1.6 + 0.3)
    assert needs(a_design(piece))["tie/260"] == 1


def test_a_run_thick_to_thin_takes_more_and_smaller_clusters() -> None:
    plain = a_design(a_piece(RAIL, runs=[a_run()]))
    thin = a_design(a_piece(RAIL, runs=[a_run(taper=0.6)]))
    sizes = [c.balls[0].blown_m for c in clusters(thin)]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[0] > 0.24
    assert sizes[-1] == pytest.approx(0.6 * 0.25, abs=0.01)
    # ∫ ds/f over a fall from 1 to t is L·ln(1/t)/(1 − t).
    expected = len(clusters(plain)) * 0.5108256238 / 0.4
    assert len(clusters(thin)) == pytest.approx(expected, abs=1)


def test_a_run_may_be_thick_in_the_middle_or_at_its_end() -> None:
    middle = [c.balls[0].blown_m for c in clusters(a_design(a_piece(RAIL, runs=[a_run(taper=0.6, thick="in the middle")])))]  # fmt: skip
    assert middle == pytest.approx(middle[::-1], abs=0.006)
    assert max(middle) == middle[len(middle) // 2] > middle[0]
    end = [c.balls[0].blown_m for c in clusters(a_design(a_piece(RAIL, runs=[a_run(taper=0.6, thick="at the end")])))]  # fmt: skip
    assert end == sorted(end)


def test_a_fuller_run_takes_more_clusters() -> None:
    plain, full = (
        len(clusters(a_design(a_piece(RAIL, runs=[a_run(fullness=f)])))) for f in (1, 1.25)
    )
    assert full == pytest.approx(1.25 * plain, abs=1)


def test_in_front_only_a_run_takes_half_the_clusters() -> None:
    all_round, front = (
        len(clusters(a_design(a_piece(RAIL, runs=[a_run(lies=lies)])))) for lies in ("all round", "in front")
    )  # fmt: skip
    assert front == pytest.approx(all_round / 2, abs=1)
    worked = work_out(a_design(a_piece(RAIL, runs=[a_run(lies="in front")])))
    assert (worked.settled.centres_m[:, 1] > 0).all()


def test_a_run_told_how_many_clusters_takes_them() -> None:
    assert len(clusters(a_design(a_piece(RAIL, runs=[a_run(clusters=9)])))) == 9


def test_every_fifth_cluster_is_a_feature() -> None:
    run = a_run(features=[{"recipe": "small", "every": 5}])
    names = [c.recipe for c in clusters(a_design(a_piece(RAIL, runs=[run])))]
    assert [i for i, name in enumerate(names, 1) if name == "small"] == list(
        range(5, len(names) + 1, 5)
    )


def test_a_feature_stands_at_its_place() -> None:
    run = a_run(features=[{"recipe": "small", "at": [{"share": 0.5}, {"length_m": 0.0}]}])
    found = clusters(a_design(a_piece(RAIL, runs=[run])))
    assert [round(c.s_m, 1) for c in found if c.recipe == "small"] == [
        round(found[0].s_m, 1),
        pytest.approx(1.5, abs=0.2),
    ]


def test_several_runs_share_a_support() -> None:
    parts = [a_run({"share": 0}, {"share": 0.4}), a_run({"share": 0.6}, {"share": 1}, "small")]
    found = clusters(a_design(a_piece(RAIL, runs=parts)))
    assert {c.recipe for c in found if c.s_m < 1.2} == {"cluster"}
    assert {c.recipe for c in found if c.s_m > 1.8} == {"small"}


def test_a_skirt_by_count_and_by_its_heap() -> None:
    counted = a_piece(RING, skirt={"clusters": 7, "recipe": "small"})
    assert len(clusters(a_design(counted), "skirt")) == 7
    heap = {"recipe": "small", "width_m": 1.2, "depth_m": 0.4, "height_m": 0.3}
    # Quarter-ellipse section of the heap at random loose packing 0.55 (Onoda & Liniger 1990, from memory).
    balls = 0.55 * pi / 4 * 1.2 * 0.4 * 0.3 / (pi / 6 * 0.11**3)
    assert 0 <= 4 * len(clusters(a_design(a_piece(RING, skirt=heap)), "skirt")) - balls < 4


def test_minis_by_the_metre() -> None:
    piece = a_piece(RAIL, runs=[a_run({"share": 0}, {"share": 0.5})], accents={"per_m": 2})
    assert len(clusters(a_design(piece), "accent")) == 3


def test_dots_of_glue_take_the_place_of_ties() -> None:
    found = needs(a_design(a_piece(RING, accents={"count": 4, "fixed": "dot"})))
    assert (found["fastener/adhesive dot"], "tie/260" in found) == (8, False)


def test_floaters_take_gas_ribbon_and_weights() -> None:
    piece = a_piece(RING, floaters={"count": 7, "per_weight": 3, "blown_m": 0.27, "height_m": 1.8})
    found = needs(a_design(piece))
    assert found["weight/floater"] == 3
    assert float(found["gas/helium"]) == pytest.approx(7 * pi / 6 * 0.27**3, abs=0.001)
    assert found["ribbon/5 mm/ivory"] == 7 * Decimal("2.1")  # 15 cm for each of two knots
    assert {"helium"} <= codes(a_design(piece))
    assert times(work_out(a_design(piece)))["fill a floater with helium"] == 7


def test_floaters_on_sticks_take_no_gas() -> None:
    found = needs(a_design(a_piece(RING, floaters={"count": 7, "on": "stick"})))
    assert found["stick/floater"] == 7
    assert "gas/helium" not in found


def test_a_floater_too_small_to_lift_its_ribbon_is_stopped() -> None:
    piece = a_piece(RING, floaters={"count": 3, "size": "5 in", "blown_m": 0.12, "height_m": 2})
    assert "sinks" in codes(a_design(piece))


def test_greenery_wrapped_with_tucked_ends() -> None:
    wrap = {"start": {"share": 0}, "end": {"share": 1}, "tuck_m": 0.2, "wrap_pitch_m": 0.5}
    (strands,) = strands_of(compose(a_design(a_piece(RAIL, greenery=[wrap])), PRACTICE))
    around = pi * (0.025 + PRACTICE.stem_m) / 0.5
    assert strands.needed_m == pytest.approx(3 * sqrt(1 + around**2) + 0.4)
    # A helix round a ring of radius 1 m, ρ 0.1, 12 turns is 9.8206 m and by the straight tube 9.8146 (mpmath):
    # the straight-tube figure that we use is 0.06 % short.
    assert sqrt((2 * pi * 0.1 * 12) ** 2 + (2 * pi) ** 2) == pytest.approx(9.8146492018)


def test_stems_only() -> None:
    piece = a_piece(RAIL, runs=[a_run()], stems={"per_m": 4, "plant": "eucalyptus"})
    assert needs(a_design(piece))["stem/eucalyptus"] == 12
    assert times(work_out(a_design(piece)))["tuck a stem"] == 12


def test_ribbon_wound_round_a_bare_tube() -> None:
    wraps = [{"start": {"share": 0}, "end": {"share": 1}, "pitch_m": 0.1, "width_mm": 25}]
    found = needs(a_design(a_piece(RAIL, wraps=wraps)))
    helix = 3 * sqrt(1 + (pi * 0.025 / 0.1) ** 2)
    assert float(found["ribbon/25 mm/ivory"]) == pytest.approx(
        helix + 2 * PRACTICE.knot_m, abs=0.001
    )


def test_a_bow_by_its_loops() -> None:
    piece = a_piece(RAIL, bows={"count": 3, "loops": 6, "loop_m": 0.1, "end_m": 0.25})
    assert needs(a_design(piece))["ribbon/25 mm/ivory"] == 3 * (
        6 * Decimal("0.2") + Decimal("0.5") + Decimal("0.15")
    )


def test_ribbon_is_cut_from_the_fewest_rolls() -> None:
    piece = a_piece(RAIL, tails={"count": 9, "length_m": 6.0})
    (ribbon,) = (n for n in work_out(a_design(piece)).takeoff.needs if n.cuts_mm)
    assert ribbon.cuts_mm == ((6000, 9),)
    assert (
        cut_rolls(dict(ribbon.cuts_mm), 25_000).count == 3
    )  # 54 m are three rolls by length, four a roll


def test_what_hangs_takes_hooks_and_line() -> None:
    swag = {"kind": "swag", "span_m": 3, "sag_m": 1, "hook_m": 2.2}
    found = needs(a_design(a_piece(swag, runs=[a_run(hold="tied")])))
    assert found["fastener/hook"] == 2
    assert float(found["line/fishing"]) == pytest.approx(3.7560589357 + 0.3, abs=0.001)
    assert "hung" in codes(a_design(a_piece(swag)))


def test_low_on_a_level_tube_locked_clusters_are_tied() -> None:
    # Common practice, no source: where the frame is too near the floor to twist, tie.
    low = {"start": {"height_m": 0.6, "side": "right"}, "end": {"height_m": 0.6, "side": "left"}}
    design = a_design(a_piece(RING, runs=[a_run(*low.values())]))
    held = {c.hold: c.z_m for c in sorted(clusters(design), key=lambda c: c.z_m)}
    assert held["tied"] < PRACTICE.twist_clear_m <= held["locked"]
    assert "tied-low" in codes(design)
    arch = {"kind": "ellipse-arch", "span_m": 2.4, "rise_m": 2}
    assert {c.hold for c in clusters(a_design(a_piece(arch, runs=[a_run()])))} == {
        "locked"
    }  # upright feet


@pytest.mark.parametrize("facts", [{"passed": True}, {}])
def test_slipped_clusters_are_stopped_where_people_pass(facts: dict[str, Any]) -> None:
    design = a_design(a_piece(RING, runs=[a_run(hold="slipped")], **facts))
    assert ("slipped" in codes(design)) is bool(facts)


def test_spares_follow_the_grade() -> None:
    palette = [
        {"name": "red", "hex": "#aa0000"},
        {"name": "blue", "hex": "#0000aa", "grade": "party"},
    ]
    design = a_design(a_piece(RAIL, runs=[a_run()]), palette=palette)
    found = {write_key(n.key): n for n in work_out(design).takeoff.needs}
    red, blue = found["balloon/11 in/red"], found["balloon/11 in/blue/party grade"]
    assert abs(red.quantity - blue.quantity) <= 1
    assert blue.spare > red.spare


def test_a_cluster_built_once_is_slower_than_one_built_often() -> None:
    def placing(count: int) -> float:
        worked = work_out(a_design(a_piece(RAIL, runs=[a_run(clusters=count)])))
        (work,) = (w for w in worked.takeoff.labour if w.operation == "place a locked cluster")
        return float(work.minutes / work.times)

    # Wright 1936 (from memory): at 95 %, the mean of 1 over the mean of 20 is 20^0.074 = 1.2483.
    assert placing(1) / placing(20) == pytest.approx(20**0.0740005814, rel=1e-3)
    assert placing(20) == pytest.approx(placing(40), rel=1e-3)


def test_mixed_sizes_take_their_length_by_volume() -> None:
    recipe = {
        "name": "mixed",
        "balls": [
            {"count": 3, "size": "11 in", "blown_m": 0.25},
            {"count": 1, "size": "5 in", "blown_m": 0.12},
        ],
    }
    design = a_design(a_piece(RAIL, runs=[a_run(None, None, "mixed")]), recipes=[recipe])
    mean = ((3 * 0.25**3 + 0.12**3) / 4) ** (1 / 3)
    assert len(clusters(design)) == pytest.approx(3 / (0.8 * mean * layer_pitch(4)), abs=0.51)


def test_balls_of_every_kind_are_on_the_build_sheet_and_the_picture() -> None:
    piece = a_piece(
        {"kind": "column", "height_m": 1.6}, runs=[a_run()], topper={"size": "24 in", "blown_m": 0.5},
        skirt={"clusters": 3, "recipe": "small"}, floaters={"count": 2},
        features={"count": 1, "size": "24 in", "blown_m": 0.5}, accents={"count": 2},
    )  # fmt: skip
    worked = work_out(a_design(piece))
    parts = Counter(c.part for c in worked.composition.clusters)
    assert set(parts) == {"run", "topper", "skirt", "floater", "feature", "accent"}


def test_what_is_placed_by_hand_belongs_to_the_run_that_lies_there() -> None:
    runs = [a_run({"share": 0}, {"share": 0.4}), a_run({"share": 0.6}, {"share": 1})]
    places = [
        {"share": 0.8},
        {"share": 0.2},
        {"share": 0.5},
    ]  # the last on neither: the first answers
    loose = {"count": 3, "size": "5 in", "blown_m": 0.11, "at": places}
    rail = a_design(a_piece(RAIL, runs=runs, features=loose))
    assert [c.run for c in clusters(rail, "feature")] == [1, 0, 0]
    # Round a ring the second run goes on past the start.
    around = [a_run({"share": 0.2}, {"share": 0.5}), a_run({"share": 0.7}, {"share": 0.1})]
    ring = a_piece(
        RING, runs=around, features={**loose, "count": 2, "at": [{"share": 0.05}, {"share": 0.3}]}
    )
    assert [c.run for c in clusters(a_design(ring), "feature")] == [1, 0]

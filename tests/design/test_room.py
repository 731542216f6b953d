"""The room check: ceilings, doorways, outdoors."""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.design.document import Design, Room
from jobs.design.picture import draw
from jobs.design.picture_room import ceiling_cm
from jobs.design.room import passes
from jobs.design.starters import sketch
from jobs.design.supports import KINDS
from jobs.design.supports.base import FramePart
from jobs.design.takeoff import Finding
from jobs.design.values import nominal_m
from jobs.design.working import work_out
from tests.depth import examples
from tests.strategies import a_design, a_piece, a_run

FT = 0.3048


def found(design: Design, code: str) -> list[Finding]:
    return [f for f in work_out(design).takeoff.findings if f.code == code]


def a_ring(
    *runs: dict[str, Any], across: float = 7.5 * FT, ceiling: float = 8 * FT, **facts: Any
) -> Design:
    room = {"ceiling_m": ceiling, **facts}
    return a_design(a_piece({"kind": "ring", "diameter_m": across}, runs=list(runs)), room=room)


def high(height: float, side: str) -> dict[str, Any]:
    return {"height_m": height, "side": side}


def test_a_ring_of_seven_and_a_half_feet_cannot_be_covered_over_its_top_under_eight_feet() -> None:
    # Common practice, no source.
    (finding,) = found(a_ring(a_run()), "ceiling")
    assert finding.weight == "stop"
    assert "too high over the top" in finding.sentence
    assert "Ending the left side and the right side below" in finding.mend


def test_the_same_ring_can_be_covered_up_to_two_feet_below_the_ceiling() -> None:
    # Common practice, no source.
    assert not found(a_ring(a_run(high(2.5 * FT, "right"), high(6 * FT, "left"))), "ceiling")


@given(st.floats(1.2, 2.6), st.floats(2.0, 3.0), st.booleans(), st.integers(0, 50))
@settings(max_examples=examples(40), deadline=None)
def test_what_is_said_to_mend_a_ceiling_mends_it(
    across: float, ceiling: float, both: bool, seed: int
) -> None:
    start = {"share": 0.0}
    run = a_run(start, {"share": 1.0}) if both else a_run(start, {"share": 0.5})
    findings = found(a_ring(run, across=across, ceiling=ceiling), "ceiling")
    if not findings or "below" not in findings[0].mend:
        return
    height = float(re.search(r"below ([\d.]+) m", findings[0].mend).group(1))  # type: ignore[union-attr]
    if height >= across or height < 0.1:
        return
    shorter = [a_run(start, high(height, "left"))]
    if both:
        shorter.append(a_run(high(height, "right"), {"share": 1.0}))
    assert not found(a_ring(*shorter, across=across, ceiling=ceiling), "ceiling")


def test_a_frame_higher_than_the_ceiling_is_told_in_numbers() -> None:
    (finding,) = found(a_ring(across=2.5, ceiling=2.4), "ceiling-frame")
    assert "0.12 m higher than the ceiling of 2.40 m" in finding.sentence
    assert "ends at or below 2.38 m" in finding.mend


def test_outdoors_there_is_no_ceiling() -> None:
    assert not found(a_ring(a_run(), outdoors=True), "ceiling")


def part(width: float, thick: float = 0.03) -> FramePart:
    return FramePart(name="part", length_m=9, width_m=width, thickness_m=thick)


@pytest.mark.parametrize(
    ("piece", "door", "through"),
    [
        ((1.9, 0.03), (0.8, 2.0), True),  # upright
        ((2.1, 0.03), (0.8, 2.0), True),  # slanted: the doorway's diagonal is 2.154
        ((2.2, 0.03), (0.8, 2.0), False),  # longer than the diagonal
        ((2.12, 0.2), (0.8, 2.0), False),  # too thick to slant
        ((0.5, 0.5), (0.4, 2.0), False),
    ],
)
def test_a_flat_part_passes_a_doorway_upright_or_slanted(
    piece: tuple[float, float], door: tuple[float, float], through: bool
) -> None:
    # A rectangle in a rectangle: W. B. Carver, Amer. Math. Monthly 64 (1957), from memory.
    assert passes(part(*piece), *door) is through


@given(st.floats(0.05, 3), st.floats(0.01, 0.3), st.floats(0.5, 2), st.floats(1.5, 3))
def test_carvers_condition_agrees_with_turning_the_part(
    width: float, thick: float, a: float, b: float
) -> None:
    # The same question by brute force: some angle at which the turned rectangle's shadow fits.
    import numpy as np

    p, q = max(width, thick), min(width, thick)
    angle = np.linspace(0, np.pi / 2, 20001)
    wide = p * np.sin(angle) + q * np.cos(angle)
    tall = p * np.cos(angle) + q * np.sin(angle)
    room = np.minimum(a - wide, b - tall).max()
    if abs(room) > 1e-3:
        assert passes(part(width, thick), a, b) is bool(room > 0)


def test_a_ring_in_one_part_that_does_not_pass_is_told_how_many_parts_would() -> None:
    (finding,) = found(a_ring(ceiling=4, door_width_m=0.8, door_height_m=2.0), "doorway")
    assert finding.weight == "stop"
    count = int(re.search(r"In (\d+) parts", finding.mend).group(1))  # type: ignore[union-attr]
    support = {"kind": "ring", "diameter_m": 7.5 * FT, "part_count": count}
    room = {"ceiling_m": 4, "door_width_m": 0.8, "door_height_m": 2.0}
    assert not found(a_design(a_piece(support), room=room), "doorway")


def test_slipped_clusters_are_stopped_outdoors_and_wind_is_named() -> None:
    design = a_ring(a_run(hold="slipped"), outdoors=True)
    assert found(design, "slipped")[0].weight == "stop"
    (wind,) = found(design, "wind")
    assert "competent person" in wind.sentence
    assert "38 km/h (Beaufort 5)" in wind.mend
    findings = work_out(design, units="imperial").takeoff.findings
    (same,) = [f.mend for f in findings if f.code == "wind"]
    assert "24 mph (Beaufort 5)" in same


def test_what_was_not_measured_is_told() -> None:
    design = a_design(a_piece({"kind": "ring", "diameter_m": 1.5}))
    assert found(design, "no-ceiling")
    assert found(design, "no-doorway")


def test_work_above_two_metres_asks_for_a_ladder() -> None:
    assert found(a_ring(across=2.2, ceiling=4), "ladder")
    assert not found(a_ring(across=1.5, ceiling=4), "ladder")


@pytest.mark.parametrize(
    ("part", "facts", "lower", "words"),
    [
        ("topper", {"size": "24 in", "blown_m": 0.6}, "column", "column 0.42 m shorter"),
        ("floaters", {"count": 5, "height_m": 3.0}, "floaters", "0.90 m shorter"),
    ],
)  # fmt: skip
def test_what_stands_by_itself_is_told_how_to_clear_the_ceiling(
    part: str, facts: dict[str, Any], lower: str, words: str
) -> None:
    """By itself, without anything on the tube; what is said to mend it mends it (own arithmetic)."""

    def stops(less_m: float) -> list[Finding]:
        tall = 2.2 - (less_m if lower == "column" else 0)
        told = {**facts, **({"height_m": facts["height_m"] - less_m} if lower != "column" else {})}
        piece = a_piece({"kind": "column", "height_m": tall}, **{part: told})
        worked = work_out(a_design(piece, room={"ceiling_m": 2.4}))
        assert draw(worked, units="metric").count('class="ball"') == worked.takeoff.ball_count
        return [f for f in worked.takeoff.findings if f.code == "ceiling"]

    (finding,) = stops(0)
    assert words in finding.mend
    less_m = float(re.search(r"([\d.]+) m ", finding.mend)[1])  # type: ignore[index]
    assert not stops(less_m)


def test_too_high_is_never_nothing() -> None:
    piece = a_piece({"kind": "column", "height_m": 1.9}, floaters={"count": 1, "height_m": 1.9})
    top = max((s := work_out(a_design(piece)).settled).free_z_m + s.radii_m)
    worked = work_out(a_design(piece, room={"ceiling_m": round(float(top) - 0.003, 4)}))
    (finding,) = [f for f in worked.takeoff.findings if f.code == "ceiling"]
    assert "0.01 m too high" in finding.sentence


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_first_sketch_blows_no_balloon_beyond_its_size(kind: str, units: Any) -> None:
    for recipe in sketch(kind, Room(ceiling_m=3), units).recipes:
        for balls in recipe.balls:
            assert 0.5 * nominal_m(balls.size) < balls.blown_m <= nominal_m(balls.size)


def test_a_ceiling_is_drawn_at_its_height_where_it_is_near() -> None:
    def drawn(top_cm: float, **room: Any) -> float | None:
        worked = work_out(a_design(a_piece({"kind": "ring", "diameter_m": 2.0}), room=room))
        return ceiling_cm(worked, top_cm)

    assert drawn(210, ceiling_m=2.6) == pytest.approx(260)
    assert drawn(50, ceiling_m=2.2) == pytest.approx(220)  # near enough to a person of 1.7 m
    assert drawn(210, ceiling_m=6.0) is None
    assert drawn(210) is None
    assert drawn(210, ceiling_m=2.6, outdoors=True) is None

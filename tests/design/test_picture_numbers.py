"""The numbered picture: numbers outside, a leader line from each to its own cluster, none across another."""

from __future__ import annotations

import re
from itertools import combinations
from math import ceil, hypot
from typing import Any

import pytest
from hypothesis import given, settings

from jobs.design.picture_numbers import (
    COLUMN_MM,
    EDGE_MM,
    LETTER_MM,
    ROW_MM,
    Area,
    Leader,
    draw_numbered,
    every,
    lead,
    scale_in,
)
from jobs.design.picture_plane import project
from jobs.design.picture_room import extent
from jobs.design.working import Worked, work_out
from tests.depth import examples
from tests.strategies import a_design, a_piece, a_run, designs

A4 = Area(wide_mm=180, high_mm=180)
RING = {"kind": "ring", "diameter_m": 2.2}
RAIL = {"kind": "rail", "run_m": 6, "height_m": 1}


def leaders_of(worked: Worked, area: Area = A4) -> tuple[Leader, ...]:
    return lead(worked, scale_in(worked, area))


def crosses(one: Leader, other: Leader) -> bool:
    """Two line segments cross where each has the ends of the other on both sides (elementary)."""

    def side(a: Any, b: Any, p: Any) -> float:
        return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])

    return (
        side(one.at, one.to, other.at) * side(one.at, one.to, other.to) < -1e-6
        and side(other.at, other.to, one.at) * side(other.at, other.to, one.to) < -1e-6
    )


@given(designs())
@settings(max_examples=examples(25), deadline=None)
def test_every_number_stands_outside_and_points_into_its_own_cluster(design: Any) -> None:
    worked = work_out(design)
    found = leaders_of(worked)
    count = len(worked.composition.clusters)
    left, right, top, bottom = extent(worked, "front")
    flat, radii = project(worked.settled.centres_m, "front"), 100 * worked.settled.radii_m
    assert len({leader.at for leader in found}) == len(found)
    for leader in found:
        x, y = leader.at
        assert not (left < x < right and top < y < max(bottom, 0))
        mine = worked.settled.cluster == leader.number - 1
        # The dot is the middle of one of its balls, so it lies within the outline (ISO 128-2, from memory).
        gaps = [
            hypot(bx - leader.to[0], by - leader.to[1]) - r
            for bx, by, r in zip(flat[mine, 0], flat[mine, 1], radii[mine], strict=True)
        ]
        assert min(gaps) < 0
    step = 1 if len(found) == count else ceil(count / len(found))
    assert [leader.number for leader in found] == list(range(1, count + 1, step))[: len(found)]


@given(designs())
@settings(max_examples=examples(25), deadline=None)
def test_no_leader_line_crosses_another(design: Any) -> None:
    found = leaders_of(work_out(design))
    assert not [(a.number, b.number) for a, b in combinations(found, 2) if crosses(a, b)]


@pytest.mark.parametrize("support", [RING, RAIL])
def test_numbers_are_large_enough_to_read_and_keep_apart(support: dict[str, Any]) -> None:
    worked = work_out(a_design(a_piece(support, runs=[a_run()], accents={"count": 8})))
    scale = scale_in(worked, A4)
    svg = draw_numbered(worked, A4, prefix="n")
    box = re.search(r'viewBox="([-\d.]+) ([-\d.]+) ([-\d.]+) ([-\d.]+)"', svg)
    assert box
    wide, high = float(box[3]), float(box[4])
    # As wide as its area, so a centimetre of the room is `scale` mm on paper. Figures of this font are 0.7 of its
    # size: 2.5 mm at least, a size of lettering in ISO 3098 (from memory).
    assert wide * scale == pytest.approx(A4.wide_mm, rel=0.01)
    assert high * scale <= A4.high_mm + 0.5
    size = re.search(r'font-size="([\d.]+)"', svg)
    assert size
    assert float(size[1]) * scale == pytest.approx(LETTER_MM, rel=0.02)
    assert LETTER_MM * 0.7 >= 2.5
    places = [leader.at for leader in leaders_of(worked)]
    for (ax, ay), (bx, by) in combinations(places, 2):
        near = hypot(ax - bx, ay - by) * scale
        assert near > min(ROW_MM, COLUMN_MM) * 0.99
    assert svg.count("<text") == len(worked.composition.clusters)


def test_the_picture_fills_what_it_is_given() -> None:
    worked = work_out(a_design(a_piece(RAIL, runs=[a_run()])))
    left, right, *_ = extent(worked, "front")
    assert scale_in(worked, A4) * (right - left) == pytest.approx(180 - 2 * EDGE_MM)
    larger = Area(wide_mm=267, high_mm=170)
    assert scale_in(worked, larger) > 1.4 * scale_in(worked, A4)


def test_where_places_run_out_every_so_many_is_numbered() -> None:
    worked = work_out(a_design(a_piece(RING, runs=[a_run(clusters=150)]), count=2, blown_m=0.12))
    found = leaders_of(worked, Area(wide_mm=60, high_mm=60))
    step = found[1].number - found[0].number
    assert step > 1
    assert [leader.number for leader in found] == list(range(1, 151, step))
    assert (every(10, 10), every(11, 10), every(21, 10), every(0, 4)) == (1, 2, 3, 1)


def test_one_piece_of_several_is_drawn_by_itself() -> None:
    column = {"kind": "column", "height_m": 1.6}
    worked = work_out(
        a_design(
            a_piece(RING, runs=[a_run()]), a_piece(column, name="Post", runs=[a_run()], at_m=4)
        )
    )
    svg = draw_numbered(worked, A4, prefix="n", only=1)
    assert svg.count('class="ball"') == sum(
        len(c.balls) for c in worked.composition.clusters if c.piece == 1
    )
    assert {leader.number for leader in lead(worked, 1.0, 1)} == {
        n for n, c in enumerate(worked.composition.clusters, 1) if c.piece == 1
    }
    assert "<title>Post: its clusters" in svg


def test_a_design_without_a_balloon_has_no_numbers() -> None:
    assert leaders_of(work_out(a_design(a_piece(RING)))) == ()

"""Supports against published and computed lengths. A kind of support is a row of each table here."""

from __future__ import annotations

import math
from typing import Any

import mpmath
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError
from scipy import integrate

from jobs.design.places import stretch_of
from jobs.design.starters import neat_in
from jobs.design.stretch import Stretch
from jobs.design.supports import KINDS
from jobs.design.supports.base import NoSuchPlace, Support, box
from jobs.design.supports.curves import ACROSS, UP
from jobs.design.supports.legged_arch import LeggedArch
from jobs.design.supports.rail import Rail
from jobs.design.supports.ring import Ring
from jobs.design.values import Place

sizes = st.floats(0.3, 8)


def made(kind: str, **facts: Any) -> Support:
    return KINDS[kind].model_validate({"kind": kind, **facts})


def neat(length_m: float) -> float:
    return math.floor(length_m / 0.05 + 1e-6) * 0.05


@pytest.mark.parametrize(
    ("support", "length"),
    # Computed with mpmath to 25 digits; ellipses by DLMF 19.30(i), L = 4aE(k).
    [
        (made("ring", diameter_m=2), 2 * math.pi),
        (made("ellipse-arch", span_m=3, rise_m=2), 5.5258730402),
        (made("ellipse-arch", span_m=3, rise_m=1), 7.9327197946 / 2),
        (made("ellipse-arch", span_m=4, rise_m=1), 9.6884482205 / 2),
        (made("ellipse-arch", span_m=2, rise_m=0.5), 4.8442241103 / 2),
        (made("ellipse-arch", span_m=2, rise_m=0.1), 4.0639741801 / 2),
        (made("ellipse-arch", span_m=2, rise_m=1), math.pi),
        (made("circle-arch", span_m=3, rise_m=1), 3.82201692),
        (made("circle-arch", span_m=2.4, rise_m=2), 5.60524994),
        (made("circle-arch", span_m=2, rise_m=1), math.pi),  # rise = span/2 is a half circle
        (made("rod-arch", span_m=3, rise_m=1), 3.7560589357),
        (made("rod-arch", span_m=3, rise_m=2), 5.3164519275),
        (made("rod-arch", span_m=2.4, rise_m=2.2), 5.3223154657),
        (made("swag", span_m=3, sag_m=1, hook_m=2), 3.7560589357),
        (made("legged-arch", span_m=3, leg_m=1), 6.7123889804),
        (made("panel", shape="square", board_width_m=2, board_height_m=1.5), 7),
        (made("panel", shape="rounded", board_width_m=2, board_height_m=1.5, corner_m=0.3), 6.4849555922),
        (made("panel", shape="rounded", board_width_m=2.4, board_height_m=2.1, corner_m=0.25), 8.5707963268),
        (made("panel", shape="round top", board_width_m=1, board_height_m=2), 1 + 3 + math.pi / 2),
        (made("rail", run_m=3, height_m=1), 3),
        (made("column", height_m=1.8), 1.8),
        (made("wall-line", points_m=[(0, 1), (3, 1), (3, 2)], way="straight"), 4),
        (made("drawn-curve", points_m=[(0, 0), (0, 2), (3, 2), (3, 0)]), 4.7574729890),
        # (0,0)(1,2)(2,−1)(3,1), lifted by one so that it stands above the floor
        (made("drawn-curve", points_m=[(0, 1), (1, 3), (2, 0), (3, 2)]), 3.7488632821),
    ],
    ids=lambda x: x.kind if isinstance(x, Support) else None,
)  # fmt: skip
def test_a_support_is_as_long_as_its_curve(support: Support, length: float) -> None:
    assert support.length_m == pytest.approx(length, abs=5e-9)


def test_a_catenary_is_longer_than_the_parabola_through_its_points() -> None:
    # mpmath: parabolas 3/1, 3/2 and 2.4/2.2.
    for span, rise, parabola in (
        (3, 1, 3.7359388248),
        (3, 2, 5.2324208054),
        (2.4, 2.2, 5.2186923490),
    ):
        rod = made("rod-arch", span_m=span, rise_m=rise)
        assert rod.length_m > parabola
        a = rod.path._a_m  # type: ignore[attr-defined]
        assert rod.length_m == pytest.approx(2 * math.sqrt(rise * (rise + 2 * a)), abs=1e-9)


@pytest.mark.parametrize(
    ("diameter", "above", "length"),
    [(2, 0.5, 4.18879020), (2, 1, 3.14159265), (2, 1.5, 2.09439510), (1.8, 0.6, 3.43913983)],
)
def test_ring_length_above_a_height(diameter: float, above: float, length: float) -> None:
    # Circle arithmetic, computed with mpmath to 25 digits.
    ring = Ring(diameter_m=diameter)
    left, right = ring.s_at_height(above, "left"), ring.s_at_height(above, "right")
    assert right - left == pytest.approx(length, abs=5e-9)


@pytest.mark.parametrize(("first", "last", "length"), [(0, 30, 0.766104894), (0, 60, 1.432489723),
                                                       (30, 75, 0.951633515), (0, 90, 1.983179949)])  # fmt: skip
def test_part_of_an_ellipse(first: float, last: float, length: float) -> None:
    # a = 1.5, b = 1, parameter from the minor-axis end; computed with mpmath to 25 digits.
    arch = made("ellipse-arch", span_m=3, rise_m=1)
    heights = np.cos(np.radians([first, last]))
    start, end = (arch.s_at_height(float(max(h, 0)), "right") for h in heights)
    assert end - start == pytest.approx(length, abs=5e-9)


@given(sizes, sizes, st.floats(0, 1))
def test_a_point_of_an_arch_lies_on_the_ellipse_at_its_length(
    span: float, rise: float, share: float
) -> None:
    arch = made("ellipse-arch", span_m=span, rise_m=rise)
    s = share * arch.length_m
    ((x, z),) = arch.points(np.array([s]))
    assert (2 * x / span) ** 2 + (z / rise) ** 2 == pytest.approx(1, abs=1e-9)
    # mpmath integrates the speed itself, a way round elliptic functions.
    angle = mpmath.asin(min(1, max(-1, 2 * x / span)))
    speed = mpmath.quad(
        lambda t: mpmath.sqrt((span / 2 * mpmath.cos(t)) ** 2 + (rise * mpmath.sin(t)) ** 2),
        [0, abs(angle)],
    )
    assert abs(s - arch.length_m / 2) == pytest.approx(float(speed), abs=2e-6)


@given(st.sampled_from(sorted(KINDS)), st.floats(1.2, 3.2))
def test_a_polyline_is_never_longer_than_its_curve(kind: str, free: float) -> None:
    support = KINDS[kind].begin(free, neat)
    points = support.points(np.linspace(0, support.length_m, 400))
    chords = np.linalg.norm(np.diff(points, axis=0), axis=1).sum()
    assert chords <= support.length_m + 1e-9
    assert chords == pytest.approx(support.length_m, rel=0.01)


@given(st.sampled_from(sorted(KINDS)), st.floats(0.01, 0.99))
def test_directions_are_those_of_the_path(kind: str, share: float) -> None:
    support = KINDS[kind].begin(2.4, neat)
    s, step = share * support.length_m, 1e-5
    corners = [*support.path.turns(ACROSS), *support.path.turns(UP)]
    if min((abs(s - c) for c in corners), default=1) < 2 * step:
        return
    before, after = support.points(np.array([s - step, s + step]))
    assert support.directions(np.array([s]))[0] == pytest.approx(
        (after - before) / (2 * step), abs=1e-4
    )


@given(
    st.sampled_from(sorted(set(KINDS) - {"rail"})),
    st.floats(0.02, 0.98),
    st.sampled_from(["left", "right"]),
)
def test_a_height_comes_back_and_lies_on_its_side(kind: str, share: float, side: Any) -> None:
    support = KINDS[kind].begin(2.4, neat)
    (_, low), (_, high) = support.path.box
    height = low + share * (high - low)
    at = support.points(np.array(support.path.crossings(height)))
    ((x, z),) = support.points(np.array([support.s_at_height(height, side)]))
    assert z == pytest.approx(height, abs=1e-8)
    assert x == pytest.approx(
        at[:, ACROSS].min() if side == "left" else at[:, ACROSS].max(), abs=1e-8
    )


@given(st.sampled_from(sorted(KINDS)))
def test_the_box_holds_every_point(kind: str) -> None:
    support = KINDS[kind].begin(2.2, neat)
    points = support.points(np.linspace(0, support.length_m, 2000))
    (x0, z0), (x1, z1) = support.path.box
    assert points.min(axis=0) == pytest.approx([x0, z0], abs=1e-3)
    assert points.max(axis=0) == pytest.approx([x1, z1], abs=1e-3)
    assert (points >= np.array([x0, z0]) - 1e-9).all()
    assert (points <= np.array([x1, z1]) + 1e-9).all()


@given(st.lists(st.tuples(st.floats(-3, 3), st.floats(0, 3)), min_size=4, max_size=4, unique=True))
def test_a_drawn_curve_is_as_long_as_its_speed_integrates_to(
    points: list[tuple[float, float]],
) -> None:
    try:
        curve = made("drawn-curve", points_m=points)
    except ValidationError:
        return  # ends where it begins
    p = np.array(points)

    def speed(t: float) -> float:
        d = 3 * (
            (1 - t) ** 2 * (p[1] - p[0]) + 2 * (1 - t) * t * (p[2] - p[1]) + t**2 * (p[3] - p[2])
        )
        return float(np.hypot(*d))

    cusp = min(speed(t) for t in np.linspace(0, 1, 501)) < 0.02 * curve.length_m
    reference = integrate.quad(speed, 0, 1, limit=500, epsabs=1e-10)[0]
    assert curve.length_m == pytest.approx(reference, abs=2e-3 if cusp else 1e-6)


def test_a_smoothed_line_goes_through_its_points() -> None:
    corners = [(-1.5, 1.0), (-0.5, 2.0), (0.5, 1.7), (1.5, 2.2)]
    line = made("wall-line", points_m=corners, way="smoothed")
    near = line.points(np.linspace(0, line.length_m, 4000))
    for corner in corners:
        assert np.linalg.norm(near - corner, axis=1).min() < 2e-3
    assert line.length_m > made("wall-line", points_m=corners, way="straight").length_m


def test_a_major_arc_bulges_past_its_feet() -> None:
    arch = made("circle-arch", span_m=2.4, rise_m=2, tube_m=0.02)  # R = 1.36
    assert arch.width_m == pytest.approx(2 * 1.36 + 0.02)
    assert arch.feet_x_m == pytest.approx((-1.2, 1.2), abs=0.02)


def test_a_ring_in_halves_is_as_narrow_as_its_radius() -> None:
    (half,) = Ring(diameter_m=2, part_count=2).frame_parts()
    assert (half.width_m, half.length_m, half.count) == (
        pytest.approx(1.025),
        pytest.approx(2.025),
        2,
    )


def test_a_bent_rod_is_carried_straight() -> None:
    (rod,) = made("rod-arch", span_m=3, rise_m=2).frame_parts()
    assert rod.length_m == pytest.approx(5.3164519275)
    assert rod.width_m == 0.025


def test_a_panel_in_two_boards_has_a_joint_at_each_end_of_the_cut() -> None:
    panel = made("panel", shape="square", board_width_m=1, board_height_m=2, part_count=2)
    assert panel.points(np.array(panel.joints_s_m))[:, UP] == pytest.approx([1, 1])
    (board,) = panel.frame_parts()
    assert (board.length_m, board.width_m, board.count) == (1, 1, 2)


def test_a_tube_weighs_what_steel_weighs() -> None:
    # 25 mm by 1.2 mm steel tube: 0.704 kg/m, from π(D − t)t·7850; tube makers' tables say 0.70 (from memory).
    assert made("rail", run_m=50, height_m=0.001).mass_kg / 50 == pytest.approx(0.704, abs=0.001)
    assert made("ring", diameter_m=2, weight_kg=6.5).mass_kg == 6.5


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_parts_weigh_together_what_the_support_weighs(kind: str) -> None:
    support = KINDS[kind].begin(2.4, neat)
    whole = sum(part.mass_kg * part.count for part in support.frame_parts())
    assert whole == pytest.approx(support.mass_kg)


def test_what_hangs_has_hooks_and_a_line_and_no_feet() -> None:
    swag = made("swag", span_m=3, sag_m=0.8, hook_m=2)
    assert swag.hooks_s_m == (0, pytest.approx(swag.length_m))
    assert (swag.feet_x_m, swag.frame_parts(), swag.joints_s_m) == ((), (), ())
    line = made("wall-line", points_m=[(0, 1), (3, 1)])
    assert len(line.hooks_s_m) == 3 / 0.6 + 1


def test_a_stretch_on_a_ring_may_pass_its_lowest_point() -> None:
    ring = Ring(diameter_m=2)
    low = stretch_of(ring, Place(height_m=0.5, side="right"), Place(height_m=0.5, side="left"))
    assert low.length_m == pytest.approx(2 * np.pi - 4.18879020, abs=1e-8)


def test_a_place_that_is_not_there_is_refused_with_expected_and_got() -> None:
    with pytest.raises(NoSuchPlace, match=r"expected a height from 0\.00 to 2\.00 m, got 2\.50 m"):
        Ring(diameter_m=2).s_at_height(2.5, "left")
    with pytest.raises(NoSuchPlace, match="a rail is level"):
        Rail(run_m=3, height_m=1).s_at_height(1, "left")
    with pytest.raises(NoSuchPlace, match="expected an end beyond the start"):
        stretch_of(Rail(run_m=3, height_m=1), Place(share=0.5), Place(share=0.2))


@pytest.mark.parametrize(
    ("kind", "facts", "says"),
    [
        ("panel", {"board_width_m": 2, "board_height_m": 0.9}, "a round top on 2.00 m is 1.00 m high"),
        ("panel", {"shape": "rounded", "board_width_m": 1, "board_height_m": 2, "corner_m": 0.6}, "below 0.50"),
        ("swag", {"span_m": 3, "sag_m": 2, "hook_m": 2}, "below the hooks’ height of 2.00 m"),
        ("wall-line", {"points_m": [(0, 1), (0, 1)]}, "at least 1 cm"),
        ("drawn-curve", {"points_m": [(0, 1), (1, 1), (2, 1), (3, 1), (4, 1)]}, "three for each bend"),
    ],
)  # fmt: skip
def test_what_cannot_be_built_is_refused(kind: str, facts: dict[str, Any], says: str) -> None:
    with pytest.raises(ValidationError, match=says):
        made(kind, **facts)


def test_stretches_share_what_both_cover_once_round_a_closed_path_too() -> None:
    def stretch(start: float, end: float) -> Stretch:
        return Stretch(start_s_m=start, end_s_m=end)

    assert stretch(0, 2).overlap_m(stretch(1, 3), None) == pytest.approx(1)
    assert stretch(0, 2).overlap_m(stretch(3, 4), None) == 0
    assert stretch(0, 2).overlap_m(stretch(2, 4), None) == 0
    assert stretch(1, 4).overlap_m(stretch(2, 3), None) == pytest.approx(1)
    # Ten metres round: from 9 over the start to 11 is from 9 to 10 and from 0 to 1.
    assert stretch(9, 11).overlap_m(stretch(0, 0.5), 10) == pytest.approx(0.5)
    assert stretch(0, 0.5).overlap_m(stretch(9, 11), 10) == pytest.approx(0.5)
    assert stretch(9, 11).overlap_m(stretch(3, 4), 10) == 0


def test_an_arch_on_legs_begins_two_metres_wide_where_there_is_room_and_stays_below_the_ceiling() -> (
    None
):
    metric = neat_in("metric")
    assert LeggedArch.begin(5.0, metric).span_m == pytest.approx(2.0)
    for free in (1.0, 1.5, 2.0, 2.4, 3.0):
        begun = LeggedArch.begin(free, metric)
        assert begun.span_m <= min(2.0, free) + 1e-9
        assert begun.leg_m >= 0.2


def test_the_narrowest_box_of_a_turned_board_is_the_board() -> None:
    # A rectangle of 2 by 1 turned by whole degrees, its box found again at any of them.
    corners = np.array([[-1.0, -0.5], [1.0, -0.5], [1.0, 0.5], [-1.0, 0.5]])
    for degrees in range(180):
        c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
        assert box(corners @ np.array([[c, s], [-s, c]])) == pytest.approx((2.0, 1.0))

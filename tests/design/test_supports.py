"""Supports against published and computed lengths."""

import mpmath
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.design.document import Place
from jobs.design.places import stretch_of
from jobs.design.supports import KINDS, Arch, Rail, Ring
from jobs.design.supports.base import NoSuchPlace, Support

sizes = st.floats(0.3, 8)


@pytest.mark.parametrize(
    ("diameter", "above", "length"),
    [(2, 0.5, 4.18879020), (2, 1, 3.14159265), (2, 1.5, 2.09439510), (1.8, 0.6, 3.43913983)],
)
def test_ring_length_above_a_height(diameter: float, above: float, length: float) -> None:
    # Circle arithmetic, computed with mpmath to 25 digits.
    ring = Ring(diameter_m=diameter)
    left, right = ring.s_at_height(above, "left"), ring.s_at_height(above, "right")
    assert right - left == pytest.approx(length, abs=5e-9)


@pytest.mark.parametrize(
    ("span", "rise", "length"),
    [
        (3, 2, 5.5258730402),  # half-ellipse arch, computed with mpmath to 25 digits
        (3, 1, 7.9327197946 / 2),  # semi-axes 1.5 × 1: DLMF 19.30(i), L = 4aE(k)
        (4, 1, 9.6884482205 / 2),
        (2, 0.5, 4.8442241103 / 2),
        (2, 0.1, 4.0639741801 / 2),
        (2, 1, np.pi),  # a circle
    ],
)
def test_half_ellipse_length(span: float, rise: float, length: float) -> None:
    assert Arch(span_m=span, rise_m=rise).length_m == pytest.approx(length, abs=1e-9)


@pytest.mark.parametrize(("first", "last", "length"), [(0, 30, 0.766104894), (0, 60, 1.432489723),
                                                       (30, 75, 0.951633515), (0, 90, 1.983179949)])  # fmt: skip
def test_part_of_an_ellipse(first: float, last: float, length: float) -> None:
    # a = 1.5, b = 1, parameter from the minor-axis end; computed with mpmath to 25 digits.
    arch = Arch(span_m=3, rise_m=1)
    heights = np.cos(np.radians([first, last]))
    start, end = (arch.s_at_height(float(max(h, 0)), "right") for h in heights)
    assert end - start == pytest.approx(length, abs=5e-9)


@given(sizes, sizes, st.floats(0, 1))
def test_a_point_of_an_arch_lies_on_the_ellipse_at_its_length(
    span: float, rise: float, share: float
) -> None:
    arch = Arch(span_m=span, rise_m=rise)
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


@given(st.sampled_from(sorted(KINDS)), sizes, sizes)
def test_a_polyline_is_never_longer_than_its_curve(kind: str, first: float, second: float) -> None:
    support = a_support(kind, first, second)
    points = support.points(np.linspace(0, support.length_m, 200))
    chords = np.linalg.norm(np.diff(points, axis=0), axis=1).sum()
    assert chords <= support.length_m + 1e-9
    assert chords == pytest.approx(support.length_m, rel=0.01)


def a_support(kind: str, first: float, second: float) -> Support:
    fields = {
        "ring": ("diameter_m", "foot_m"),
        "arch": ("span_m", "rise_m"),
        "rail": ("run_m", "height_m"),
    }[kind]
    return KINDS[kind].model_validate({"kind": kind, fields[0]: first, fields[1]: second})


@given(sizes, st.floats(0, 1))
def test_heights_on_a_ring_come_back(diameter: float, share: float) -> None:
    ring = Ring(diameter_m=diameter, foot_m=0.2)
    height = 0.2 + share * diameter
    for side, sign in (("left", -1), ("right", 1)):
        ((x, z),) = ring.points(np.array([ring.s_at_height(height, side)]))  # type: ignore[arg-type]
        assert z == pytest.approx(height, abs=1e-9)
        assert sign * x >= -1e-9


def test_a_ring_in_halves_is_as_narrow_as_its_radius() -> None:
    (half,) = Ring(diameter_m=2, part_count=2).frame_parts()
    assert (half.width_m, half.length_m, half.count) == (
        pytest.approx(1.025),
        pytest.approx(2.025),
        2,
    )


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

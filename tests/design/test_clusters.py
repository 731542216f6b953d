"""Clusters of equal balls against the published spherical codes."""

import numpy as np
import pytest

from jobs.design.clusters import CENTRES_OVER_RADIUS, layer_pitch, mean_ball_m, outer_m, pitch_m
from jobs.design.settle import _code
from jobs.design.values import Balls, Recipe


@pytest.mark.parametrize(
    ("count", "angle"),
    [
        # Least angle in degrees, H. Cohn's table of spherical codes, MIT (hdl 1721.1/142661), n = 7 to 9;
        # OEIS A340918 for n = 10; regular polygon and solids for the others.
        (2, 180.0), (3, 120.0), (4, 109.471220634), (5, 90.0), (6, 90.0), (7, 77.8695421554),
        (8, 74.8584921856), (9, 70.5287793655), (10, 66.1468219879), (12, 63.4349488229),
    ],
)  # fmt: skip
def test_a_cluster_reaches_as_far_as_the_best_spherical_code(count: int, angle: float) -> None:
    centres = 1 / np.sin(np.radians(angle) / 2)
    assert CENTRES_OVER_RADIUS[count] == pytest.approx(centres, abs=1e-8)
    assert outer_m(count, 0.25) == pytest.approx(0.25 * (centres + 1), abs=1e-8)


@pytest.mark.parametrize(
    ("count", "pitch"),
    # Brute force over four layers of rigid balls, scipy; 2^(−1/4) for quads.
    [(2, 0.707106781), (3, 0.816496581), (4, 2**-0.25), (5, 0.850650808), (6, 0.855599677)],
)
def test_rings_of_balls_stack_at_their_pitch(count: int, pitch: float) -> None:
    assert layer_pitch(count) == pytest.approx(pitch, abs=1e-9)


def quads(blown: float = 0.24) -> Recipe:
    return Recipe(name="quad", balls=(Balls(count=4, size="11 in", blown_m=blown),))


def test_an_eight_takes_the_length_of_two_quads() -> None:
    # Common practice, no source: an eight is four pairs, two quads joined.
    eight = Recipe(name="eight", balls=(Balls(count=8, size="11 in", blown_m=0.24),))
    assert pitch_m(eight, 0.8) == pytest.approx(2 * pitch_m(quads(), 0.8))


def test_about_two_quads_of_nine_inch_balloons_go_to_a_foot() -> None:
    # Common practice, no source.
    assert 0.3048 / pitch_m(quads(9.5 * 0.0254), 0.8) == pytest.approx(2, abs=0.15)


def test_mixed_sizes_share_a_length_by_volume() -> None:
    mixed = (Balls(count=1, size="11 in", blown_m=0.2), Balls(count=1, size="5 in", blown_m=0.1))
    assert mean_ball_m(mixed) == pytest.approx(((0.2**3 + 0.1**3) / 2) ** (1 / 3))


@pytest.mark.parametrize("count", [2, 3, 4, 6, 8, 12])
def test_drawn_clusters_come_close_to_the_code(count: int) -> None:
    points = _code(count)
    gaps = points @ points.T - 2 * np.eye(count)
    least = np.degrees(np.arccos(gaps.max()))
    assert least == pytest.approx(np.degrees(2 * np.arcsin(1 / CENTRES_OVER_RADIUS[count])), abs=4)


def test_no_cluster_has_no_balls() -> None:
    with pytest.raises(ValueError, match="count: expected at least 1, got 0"):
        layer_pitch(0)

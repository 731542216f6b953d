"""Equal balls in a cluster: how far it reaches, how much length it takes."""

from __future__ import annotations

from math import cos, pi, sqrt

from jobs.design.values import Balls, Recipe

# Centre distance over ball radius, R/r = 1/sin(θ/2), for n equal balls touching round one point, where θ is
# the least angle of the best spherical code (Tammes problem). Source: table of spherical codes, H. Cohn,
# MIT (hdl 1721.1/142661), n = 7 to 10; regular solids for 4, 6, 12; 11 balls fit no wider than 12.
CENTRES_OVER_RADIUS = {
    1: 0.0,
    2: 1.0,
    3: 1.1547005384,
    4: 1.2247448714,
    5: 1.4142135624,
    6: 1.4142135624,
    7: 1.5912538738,
    8: 1.6453287768,
    9: 1.7320508076,
    10: 1.8324645637,
    11: 1.9021130326,
    12: 1.9021130326,
}


def outer_m(count: int, ball_m: float) -> float:
    """Outer diameter of a cluster of equal balls: d (R/r + 1).

    >>> round(outer_m(4, 1.0), 6)
    2.224745
    """
    return ball_m * (CENTRES_OVER_RADIUS[count] + 1)


def layer_pitch(count: int) -> float:
    """Pitch over diameter of flat rings of n rigid balls stacked along a line, each turned by π/n.

    √(1 − 1/(4cos²(π/2n))) for n ≥ 2; a single ball takes its diameter. Elementary geometry: a ball rests
    on its two nearest in the ring below. ValueError for n < 1.

    >>> round(layer_pitch(4), 9)
    0.840896415
    """
    if count < 1:
        raise ValueError(f"count: expected at least 1, got {count}")
    return 1.0 if count == 1 else sqrt(1 - 1 / (4 * cos(pi / (2 * count)) ** 2))


def mean_ball_m(balls: tuple[Balls, ...]) -> float:
    """Diameter of the ball of mean volume, (Σd³/n)^(1/3): how mixed sizes share a length."""
    count = sum(b.count for b in balls)
    return float((sum(b.count * b.blown_m**3 for b in balls) / count) ** (1 / 3))


def pitch_m(recipe: Recipe, squeeze: float) -> float:
    """Length of support that a cluster takes, metres: its rigid layers times the squeeze.

    Up to six balls are one layer; seven to twelve are two, so that an eight takes two quads' length.
    """
    return squeeze * mean_ball_m(recipe.balls) * sum(map(layer_pitch, layers(recipe.ball_count)))


def layers(count: int) -> tuple[int, ...]:
    """Balls in each flat ring of a cluster on a tube."""
    return (count,) if count <= 6 else (count // 2, count - count // 2)


def heap_balls(
    *, width_m: float, depth_m: float, height_m: float, ball_m: float, packing: float
) -> float:
    """Balls in a heap at a foot: its section falls off as a quarter ellipse.

    n = φ · (π/4)·w·d·h / (πb³/6). Elementary geometry; φ is the packing.

    >>> round(heap_balls(width_m=1, depth_m=0.5, height_m=0.4, ball_m=0.25, packing=0.55), 3)
    10.56
    """
    return packing * (pi / 4) * width_m * depth_m * height_m / (pi / 6 * ball_m**3)

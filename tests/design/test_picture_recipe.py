"""A cluster taken apart: as many circles as it has balls, none over another, each with its size."""

from __future__ import annotations

import re
from itertools import combinations

import pytest

from jobs.design.clusters import layers
from jobs.design.picture_recipe import draw_recipe
from jobs.design.values import Balls, Recipe

BALL = re.compile(r'class="ball" cx="([-\d.]+)" cy="([-\d.]+)" r="([-\d.]+)"')


@pytest.mark.parametrize("count", range(1, 13))
def test_every_ball_is_drawn_whole_and_inside(count: int) -> None:
    svg = draw_recipe(Recipe(name="c", balls=(Balls(count=count, size="11 in", blown_m=0.26),)))
    balls = [tuple(map(float, found)) for found in BALL.findall(svg)]
    assert len(balls) == count == svg.count(">11 in<")
    for (x1, y1, r1), (x2, y2, r2) in combinations(balls, 2):
        assert (x1 - x2) ** 2 + (y1 - y2) ** 2 >= (r1 + r2 - 0.1) ** 2
    left, top, wide, high = map(float, re.search(r'viewBox="([^"]*)"', svg)[1].split())  # type: ignore[index]
    for x, y, r in balls:
        assert left <= x - r
        assert x + r <= left + wide
        assert top <= y - r
        assert y + r <= top + high


def test_an_eight_is_two_quads_and_sizes_stay_true() -> None:
    # Two quads make an eight (common practice, no source).
    mixed = Recipe(
        name="<eight>",
        balls=(
            Balls(count=6, size="11 in", blown_m=0.26),
            Balls(count=2, size="5 in", blown_m=0.11),
        ),
    )
    svg = draw_recipe(mixed)
    assert layers(8) == (4, 4)
    assert svg.count('class="tube"') == 2
    assert sorted(float(r) for _, _, r in BALL.findall(svg)) == [5.5, 5.5, *[13.0] * 6]
    assert "&lt;eight&gt;: 8 balls in 2 rings" in svg

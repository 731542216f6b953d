"""Colours dealt along a run."""

from collections import Counter
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.design.compose import compose
from jobs.design.palette import deal
from jobs.design.practice import PRACTICE
from pricing.core.shares import largest_remainder
from tests.depth import examples
from tests.strategies import a_design, a_piece, a_run


@pytest.mark.parametrize(
    ("total", "weights", "shares"),
    [
        # Hamilton's method by hand; the last is the standard textbook apportionment of ten seats.
        (100, [1, 1, 1], [34, 33, 33]),
        (1001, [50, 30, 20], [501, 300, 200]),
        (29, [33, 33, 34], [10, 9, 10]),
        (10, [47000, 16000, 15800, 12000, 6100, 3100], [5, 2, 1, 1, 1, 0]),
    ],
)
def test_shares_are_whole_and_lose_nothing(
    total: int, weights: list[int], shares: list[int]
) -> None:
    assert largest_remainder(total, weights) == shares


weights = st.lists(st.integers(0, 50), min_size=1, max_size=6).filter(any)


@given(weights, st.integers(0, 300), st.integers(0, 99))
def test_each_colour_is_right_to_one_and_the_total_exact(
    shares: list[int], count: int, seed: int
) -> None:
    order = deal(shares, count, np.random.default_rng(seed))
    assert len(order) == count
    tally = Counter(order)
    for i, weight in enumerate(shares):
        assert abs(tally[i] - count * weight / sum(shares)) < 1


@given(weights, st.integers(1, 200), st.integers(0, 99))
def test_no_colour_stands_beside_itself_while_another_will_do(
    shares: list[int], count: int, seed: int
) -> None:
    order = deal(shares, count, np.random.default_rng(seed))
    most = max(Counter(order).values())
    touching = sum(a == b for a, b in zip(order, order[1:], strict=False))
    # The fewest neighbours alike that any order can have: m of one colour have m − 1 gaps for the others.
    assert touching == max(0, 2 * most - count - 1)


def test_the_same_seed_gives_the_same_order() -> None:
    assert deal([3, 2, 1], 60, np.random.default_rng(5)) == deal(
        [3, 2, 1], 60, np.random.default_rng(5)
    )
    assert deal([3, 2, 1], 60, np.random.default_rng(5)) != deal(
        [3, 2, 1], 60, np.random.default_rng(6)
    )


HEXES = ("#efe6d2", "#e8b9ae", "#9db092", "#c8a24c", "#446688")


def in_colours(weights: list[int], *pieces: dict[str, Any], count: int = 4) -> list[int]:
    """Balls of each colour in a design whose palette has these weights."""
    palette = [
        {"name": f"colour {i}", "hex": HEXES[i], "weight": weight}
        for i, weight in enumerate(weights)
    ]
    clusters = compose(a_design(*pieces, count=count, palette=palette), PRACTICE).clusters
    tally = Counter(ball.colour.name for cluster in clusters for ball in cluster.balls)
    return [tally[colour["name"]] for colour in palette]


def quads(runs: int, **facts: Any) -> dict[str, Any]:
    """A rail with so many runs of one quad each."""
    stretches = [({"share": i / runs}, {"share": (i + 1) / runs}) for i in range(runs)]
    rail = {"kind": "rail", "run_m": 4.0, "height_m": 1.0}
    return a_piece(rail, runs=[a_run(*at, clusters=1) for at in stretches], **facts)


def test_short_runs_share_the_colours_between_them() -> None:
    # 32 balls by five equal shares are 6.4 each (own arithmetic).
    assert sorted(in_colours([1] * 5, quads(8))) == [6, 6, 6, 7, 7]


def test_columns_do_not_all_get_the_same_topper() -> None:
    column = a_piece({"kind": "column", "height_m": 1.6}, topper={"size": "36 in", "blown_m": 0.6})
    assert in_colours([1] * 5, *[column] * 10) == [2] * 5


@given(
    st.lists(st.integers(1, 9), min_size=2, max_size=4),
    st.lists(st.integers(1, 8), min_size=1, max_size=4),
    st.integers(0, 7),
    st.integers(2, 9),
)
@settings(max_examples=examples(60), deadline=None)
def test_each_colour_of_a_whole_design_is_right_to_one(
    weights: list[int], runs: list[int], floaters: int, count: int
) -> None:
    extra = {"floaters": {"count": floaters}} if floaters else {}
    got = in_colours(weights, *(quads(n, **extra) for n in runs), count=count)
    for mine, weight in zip(got, weights, strict=True):
        assert abs(mine - sum(got) * weight / sum(weights)) <= 1


@given(weights, st.lists(st.integers(0, 60), min_size=1, max_size=6))
def test_a_later_deal_takes_nothing_back(shares: list[int], counts: list[int]) -> None:
    so_far = [0] * len(shares)
    for count in counts:
        order = deal(shares, count, np.random.default_rng(3), so_far)
        assert len(order) == count
        for colour in order:
            so_far[colour] += 1
    for mine, weight in zip(so_far, shares, strict=True):
        # Two, not one: a remainder that fell due at once for many colours may wait.
        assert abs(mine - sum(so_far) * weight / sum(shares)) < 2

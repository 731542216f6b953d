"""Colours dealt along a run."""

from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.design.palette import deal
from pricing.core.shares import largest_remainder


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

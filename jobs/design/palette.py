"""Shares into whole balloons, and an order in which no colour stands beside itself needlessly."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pricing.core.shares import largest_remainder


def deal(weights: Sequence[int], count: int, rng: np.random.Generator) -> list[int]:
    """Indices into the palette for `count` balls in order: totals exact, neighbours unlike.

    At each step a colour that could not be kept from touching itself later goes first; otherwise the one
    that is furthest behind its share, ties by the generator. No colour follows itself while another will do.
    """
    left = largest_remainder(count, weights)
    due = [share / max(count, 1) for share in left]
    nudge = rng.random((count, len(left))) * 0.75
    order: list[int] = []
    owed = [0.0] * len(left)
    last = -1
    for step in range(count):
        owed = [o + d for o, d in zip(owed, due, strict=True)]
        choice = _next(left, owed, nudge[step], last, count - step)
        order.append(choice)
        left[choice] -= 1
        owed[choice] -= 1
        last = choice
    return order


def _next(left: list[int], owed: list[float], nudge: np.ndarray, last: int, remaining: int) -> int:
    open_to = [i for i, n in enumerate(left) if n and i != last] or [last]
    # A colour that fills more than half of what is left must alternate from now on.
    crowded = [i for i in open_to if 2 * left[i] > remaining]
    if crowded:
        return crowded[0]
    return max(open_to, key=lambda i: owed[i] + nudge[i])

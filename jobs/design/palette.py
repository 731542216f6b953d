"""Shares into whole balloons, and an order in which no colour stands beside itself needlessly."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pricing.core.shares import largest_remainder


def deal(
    weights: Sequence[int],
    count: int,
    rng: np.random.Generator,
    before: Sequence[int] = (),
) -> list[int]:
    """Indices into the palette for `count` balls in order: totals exact, neighbours unlike.

    `before` is what each colour has had already; then the totals are those of all balls so far.
    At each step a colour that could not be kept from touching itself later goes first; otherwise the one
    that is furthest behind its share, ties by the generator. No colour follows itself while another will do.
    """
    left = _shares(weights, count, before) if any(before) else largest_remainder(count, weights)
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


def _shares(weights: Sequence[int], count: int, before: Sequence[int]) -> list[int]:
    """What each colour gets of `count` more, so that all so far go by largest remainder; none is taken back.

    Where colours already have more than that allows, those furthest behind their share come first.
    """
    whole, total = sum(weights), count + sum(before)
    due = [max(total * w // whole, had) - had for w, had in zip(weights, before, strict=True)]

    def behind(i: int) -> int:
        """How far below its share of the total a colour would stay, in parts of one over `whole`."""
        return total * weights[i] - (before[i] + due[i]) * whole

    while sum(due) > count:
        due[min((i for i, n in enumerate(due) if n), key=behind)] -= 1
    for i in sorted(range(len(due)), key=lambda i: (-behind(i), i))[: count - sum(due)]:
        due[i] += 1
    return due


def _next(left: list[int], owed: list[float], nudge: np.ndarray, last: int, remaining: int) -> int:
    open_to = [i for i, n in enumerate(left) if n and i != last] or [last]
    # A colour that fills more than half of what is left must alternate from now on.
    crowded = [i for i in open_to if 2 * left[i] > remaining]
    if crowded:
        return crowded[0]
    return max(open_to, key=lambda i: owed[i] + nudge[i])

"""Sharing whole things out with nothing lost."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction


def largest_remainder(total: int, weights: Sequence[int | Fraction]) -> list[int]:
    """Whole shares of `total` by weight, adding up to it exactly; ties go to the first.

    Hamilton's method. A negative total is shared like its opposite. ValueError when all weights are zero
    or one is negative.

    >>> largest_remainder(1001, [50, 30, 20])
    [501, 300, 200]
    """
    if any(w < 0 for w in weights) or not sum(weights):
        raise ValueError(f"weights: expected none below zero and one above it, got {list(weights)}")
    if total < 0:
        return [-share for share in largest_remainder(-total, weights)]
    whole = sum(weights)
    exact = [Fraction(total) * w / whole for w in weights]
    shares = [int(x) for x in exact]
    by_rest = sorted(range(len(shares)), key=lambda i: (shares[i] - exact[i], i))
    for i in by_rest[: total - sum(shares)]:
        shares[i] += 1
    return shares

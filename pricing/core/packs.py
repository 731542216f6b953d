"""Whole packs for what is needed: what a picker pulls from the shelf."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Pull:
    packs: int
    left: Decimal  # what remains in the last pack


def whole_packs(wanted: Decimal, pack_count: Decimal) -> Pull:
    """Fewest packs that hold what is wanted. ValueError unless the pack holds something.

    >>> whole_packs(Decimal(130), Decimal(50))
    Pull(packs=3, left=Decimal('20'))
    """
    if pack_count <= 0 or wanted < 0:
        raise ValueError(
            f"expected a pack above 0 and a need of 0 or more, got {pack_count} and {wanted}"
        )
    packs = int((wanted / pack_count).to_integral_value(ROUND_CEILING))
    return Pull(packs=packs, left=packs * pack_count - wanted)

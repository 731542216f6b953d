"""Whole packs for what is needed: what a picker pulls from the shelf."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from pricing.core.money import up_to_multiple


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
    held = up_to_multiple(wanted, pack_count)
    return Pull(packs=int(held / pack_count), left=held - wanted)

"""How quantities are written. Pure."""

from __future__ import annotations

from decimal import Decimal


def plain_number(number: Decimal) -> str:
    """Without needless zeros.

    >>> plain(Decimal("12.500")), plain(Decimal("100"))
    ('12.5', '100')
    """
    return f"{number.normalize():f}"

"""Sentences without the sums of money in them. Pure.

>>> without_sums("Payment of £121.81 written down", "GBP", "en-GB")
'Payment of (a sum) written down'
>>> without_sums("300 GBP in cash, 12 ft wide", "GBP", "en-GB")
'(a sum) in cash, 12 ft wide'
"""

from __future__ import annotations

import re
from functools import lru_cache

from babel.numbers import get_currency_symbol

SUM = "(a sum)"
NUMBER = r"[-−]?\d(?:[\d.,'’\s]*\d)?"
SIGNS = "$¢£¤¥\u20a0-\u20cf"  # Unicode, block of currency symbols


@lru_cache
def pattern(currency: str, language: str) -> re.Pattern[str]:
    symbols = {currency, *(get_currency_symbol(currency, tag) for tag in ("en", language))}
    words = "|".join(sorted(map(re.escape, symbols), key=len, reverse=True))
    sign = rf"(?:(?<![^\W\d_])(?:{words})(?![^\W\d_])|[A-Z]{{0,3}}[{SIGNS}])"
    return re.compile(rf"[-−]?{sign}\s?{NUMBER}|{NUMBER}\s?{sign}")


def without_sums(text: str, currency: str, language: str) -> str:
    """The text without amounts in `currency` (ISO 4217), or with any currency's sign; `language` is BCP 47."""
    return pattern(currency, language.replace("-", "_")).sub(SUM, text)

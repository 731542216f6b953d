"""Amounts as people type them: read exactly as the studio's language writes figures, or refused. Pure."""

from __future__ import annotations

import re
from decimal import Decimal

from babel import Locale
from babel.numbers import get_decimal_symbol, get_group_symbol

SPACES = re.compile(r"[\s’'](?=\d{3}(?!\d))")  # as in 1 250 and 1'250
FIGURE = re.compile(r"(-?)(\d+(?:[.,]\d+)*)")


class Unclear(ValueError):
    """A figure that can be read in two ways, or in none."""


def read_amount(text: str, language: str = "en", *, places: int = 3) -> Decimal:
    """An amount typed with dots and commas, as a language writes figures (Unicode CLDR). Raises Unclear.

    One mark before three digits is the only figure that can mean two things. It groups thousands where the language
    groups by it, and parts decimals where the language parts by it and there can be so many `places`.

    >>> read_amount("1.234,56"), read_amount("1,234.56"), read_amount("12,50")
    (Decimal('1234.56'), Decimal('1234.56'), Decimal('12.50'))
    >>> read_amount("1,250", "en"), read_amount("1.250", "de")
    (Decimal('1250'), Decimal('1250'))
    """
    found = FIGURE.fullmatch(SPACES.sub("", text.strip()))
    if not found:
        raise Unclear("no figure")
    sign, digits = found.groups()
    marks = re.findall(r"[.,]", digits)
    if marks and _last_groups(digits, marks, language, places):
        whole, rest = digits, ""
    else:
        whole, _, rest = digits.rpartition(marks[-1]) if marks else (digits, "", "")
    if re.search(r"[.,]", whole) and not re.fullmatch(r"\d{1,3}([.,])\d{3}(\1\d{3})*", whole):
        raise Unclear("marks that do not stand before every third digit")
    return Decimal(sign + re.sub(r"[.,]", "", whole) + (f".{rest}" if rest else ""))


def _last_groups(digits: str, marks: list[str], language: str, places: int) -> bool:
    """Whether the last mark groups thousands; otherwise it parts decimals."""
    if len(marks) > 1:
        return len(set(marks)) == 1
    if not re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", digits):
        return False
    if marks[0] == get_group_symbol(_locale(language)):
        return True
    if marks[0] != decimal_mark(language) or places < 3:
        raise Unclear("thousands or decimals")
    return False


def decimal_mark(language: str) -> str:
    """
    >>> decimal_mark("en-GB"), decimal_mark("de-DE"), decimal_mark("de-CH")
    ('.', ',', '.')
    """
    return str(get_decimal_symbol(_locale(language)))


def _locale(language: str) -> Locale:
    return Locale.parse(language.replace("-", "_"))

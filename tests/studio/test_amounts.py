"""Figures as they are typed: exact, or refused."""

from __future__ import annotations

from decimal import Decimal

import pytest
from babel.numbers import format_decimal
from hypothesis import given
from hypothesis import strategies as st

from studio.amounts import Unclear, read_amount

LANGUAGES = (
    "en-GB",
    "en-US",
    "de-DE",
    "de-CH",
    "de-AT",
    "fr-FR",
    "nl-NL",
    "pl-PL",
    "es-ES",
    "sv-SE",
)


@pytest.mark.parametrize(
    ("typed", "language", "places", "amount"),
    [
        ("1.234,56", "de-DE", 2, "1234.56"),
        ("1,234.56", "de-DE", 2, "1234.56"),  # nothing else can be meant
        ("12,50", "de-DE", 2, "12.50"),
        ("12,50", "en-GB", 2, "12.50"),
        ("12.50", "de-DE", 2, "12.50"),
        ("1.250", "de-DE", 2, "1250"),
        ("1,250", "en-GB", 2, "1250"),
        ("20,125", "en-GB", 2, "20125"),
        ("20.125", "en-GB", 3, "20.125"),  # a currency of three decimals
        ("20,125", "de-DE", 3, "20.125"),
        ("1,250", "de-DE", 2, None),
        ("1.250", "en-GB", 2, None),
        ("1,250", "de-CH", 2, None),
        ("1’250.50", "de-CH", 2, "1250.50"),
        ("1 250,50", "fr-FR", 2, "1250.50"),
        ("1.234.567", "en-GB", 2, "1234567"),
        ("0,125", "en-GB", 2, "0.125"),
        ("1234,567", "en-GB", 2, "1234.567"),
        ("-1.234,50", "de-DE", 2, "-1234.50"),
        ("1,23,456", "en-GB", 2, None),
        ("1.23,456.7", "de-DE", 2, None),
        ("12,3,4", "de-DE", 2, None),
        ("1 25", "en-GB", 2, None),
        (".", "en-GB", 2, None),
        ("1e5", "en-GB", 2, None),
        ("NaN", "en-GB", 2, None),
    ],
)  # fmt: skip
def test_a_figure_is_exact_or_refused(
    typed: str, language: str, places: int, amount: str | None
) -> None:
    if amount is None:
        with pytest.raises(Unclear):
            read_amount(typed, language, places=places)
    else:
        assert read_amount(typed, language, places=places) == Decimal(amount)


@given(st.decimals(min_value=-9_999_999, max_value=9_999_999, places=2), st.sampled_from(LANGUAGES))
def test_what_a_language_writes_is_read_back(amount: Decimal, language: str) -> None:
    # How languages write figures: Unicode CLDR, as Babel carries it.
    written = format_decimal(amount, locale=language.replace("-", "_")).replace("\u2212", "-")
    assert read_amount(written, language, places=2) == amount

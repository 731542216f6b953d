"""Money: exact, half-up, one currency."""

from decimal import Decimal
from fractions import Fraction
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.core.money import (
    Money,
    add_up,
    minor_places,
    round_half_up,
    up_to_multiple,
    write_money,
)


@pytest.mark.parametrize(
    ("value", "rounded"),
    # Half away from zero on both sides, as EN 16931's published example of 365.125 → 365.13 shows.
    [
        ("365.125", "365.13"),
        ("0.125", "0.13"),
        ("2.675", "2.68"),
        ("1.005", "1.01"),
        ("-0.125", "-0.13"),
    ],
)
def test_halves_are_rounded_away_from_zero(value: str, rounded: str) -> None:
    assert round_half_up(Decimal(value), 2) == Decimal(rounded)


@given(st.integers(-(10**9), 10**9), st.integers(1, 10**6), st.integers(0, 3))
def test_a_fraction_is_rounded_exactly(top: int, bottom: int, places: int) -> None:
    """Never further off than half, ties away from zero."""
    value = Fraction(top, bottom)
    got = round_half_up(value, places)
    off = abs(Fraction(got)) - abs(value)
    half = Fraction(1, 2 * 10**places)
    assert -half < off <= half
    assert got.as_tuple().exponent == -places


@given(
    st.decimals("0", "99999.99", places=2),
    st.decimals("0.05", "1000", places=2),
)
def test_a_multiple_is_reached_upwards(value: Decimal, step: Decimal) -> None:
    """Against the standard library's exact fractions."""
    assert up_to_multiple(value, step) == ceil(Fraction(value) / Fraction(step)) * step


@pytest.mark.parametrize(("value", "step"), [("-1", "5"), ("1", "0"), ("1", "-5")])
def test_nothing_is_brought_up_from_below_nothing_or_by_no_step(value: str, step: str) -> None:
    with pytest.raises(ValueError, match="expected a value of 0 or more and a step above 0"):
        up_to_multiple(Decimal(value), Decimal(step))


@pytest.mark.parametrize(
    ("currency", "places"), [("JPY", 0), ("KWD", 3), ("BHD", 3), ("GBP", 2), ("EUR", 2)]
)
def test_minor_units_follow_the_currency(currency: str, places: int) -> None:
    assert minor_places(currency) == places  # Unicode CLDR


def test_a_float_is_refused() -> None:
    with pytest.raises(TypeError, match="expected Decimal or int, got float"):
        Money(0.1, "GBP")  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="got float"):
        Money(Decimal(1), "GBP") * 0.5  # type: ignore[operator]


def test_currencies_do_not_mix() -> None:
    with pytest.raises(ValueError, match="expected GBP, got EUR"):
        Money(Decimal(1), "GBP") + Money(Decimal(1), "EUR")


@given(
    st.integers(-(10**9), 10**9), st.lists(st.integers(0, 1000), min_size=1, max_size=8).filter(any)
)
def test_shares_lose_no_penny(minor: int, weights: list[int]) -> None:
    whole = Money.of_minor(minor, "GBP")
    assert add_up(whole.share(weights), "GBP") == whole


def test_it_is_written_as_the_language_writes_it() -> None:
    amount = Money(Decimal("1250.5"), "EUR")
    assert write_money(amount, "en-IE") == "€1,250.50"
    assert write_money(amount, "de-DE") == "1.250,50\xa0€"

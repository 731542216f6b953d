"""Money: Decimal with a currency. A float is a TypeError; rounding is half away from zero, in one place."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from fractions import Fraction
from functools import cache
from math import floor

from babel.numbers import format_currency, get_currency_precision

from pricing.core.shares import largest_remainder


def round_half_up(value: Decimal | Fraction, places: int) -> Decimal:
    """Round half away from zero to so many decimal places: the only rounding of money in the house.

    What was divided on the way comes as a Fraction: a Decimal was cut by then, and half may have been lost.

    >>> round_half_up(Decimal("1.005"), 2), round_half_up(Decimal("-0.125"), 2)
    (Decimal('1.01'), Decimal('-0.13'))
    >>> round_half_up(Fraction("150.165") * 20 / 60, 2)
    Decimal('50.06')
    """
    if isinstance(value, Fraction):
        whole = floor(abs(value) * 10**places + Fraction(1, 2))
        return Decimal(whole if value >= 0 else -whole).scaleb(-places)
    return value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)


def up_to_multiple(value: Decimal, step: Decimal) -> Decimal:
    """The least multiple of a step that is no less than a value. ValueError unless value ≥ 0 and step > 0.

    >>> up_to_multiple(Decimal("226.90"), Decimal(5)), up_to_multiple(Decimal(50), Decimal(50))
    (Decimal('230.00'), Decimal('50'))
    """
    if value < 0 or step <= 0:
        raise ValueError(
            f"expected a value of 0 or more and a step above 0, got {value} and {step}"
        )
    # A Decimal's remainder takes the sign of the dividend, not of the divisor: -value % step goes down.
    over = value % step
    return value + step - over if over else value


@cache
def minor_places(currency: str) -> int:
    """Decimal places of a currency (ISO 4217 as Unicode CLDR gives it)."""
    return int(get_currency_precision(currency))


@dataclass(frozen=True, slots=True, order=False)
class Money:
    """An amount in one currency, always whole in its minor unit (cents, pence, yen)."""

    amount: Decimal
    currency: str

    def __post_init__(self) -> None:
        if isinstance(self.amount, float) or not isinstance(self.amount, Decimal | int):
            raise TypeError(f"amount: expected Decimal or int, got {type(self.amount).__name__}")
        amount = round_half_up(Decimal(self.amount), minor_places(self.currency))
        object.__setattr__(self, "amount", amount)

    def _same(self, other: object) -> Money:
        if not isinstance(other, Money):
            raise TypeError(f"expected Money, got {type(other).__name__}")
        if other.currency != self.currency:
            raise ValueError(f"expected {self.currency}, got {other.currency}")
        return other

    def __add__(self, other: Money) -> Money:
        return Money(self.amount + self._same(other).amount, self.currency)

    def __sub__(self, other: Money) -> Money:
        return Money(self.amount - self._same(other).amount, self.currency)

    def __neg__(self) -> Money:
        return Money(-self.amount, self.currency)

    def __mul__(self, factor: Decimal | int) -> Money:
        if isinstance(factor, float):
            raise TypeError("factor: expected Decimal or int, got float")
        return Money(self.amount * factor, self.currency)

    def __lt__(self, other: Money) -> bool:
        return self.amount < self._same(other).amount

    def __le__(self, other: Money) -> bool:
        return self.amount <= self._same(other).amount

    def __gt__(self, other: Money) -> bool:
        return self.amount > self._same(other).amount

    def __ge__(self, other: Money) -> bool:
        return self.amount >= self._same(other).amount

    def __bool__(self) -> bool:
        return bool(self.amount)

    @property
    def minor(self) -> int:
        """The amount in minor units."""
        return int(self.amount.scaleb(minor_places(self.currency)))

    @classmethod
    def read(cls, text: str, currency: str) -> Money:
        """An amount that was stored as text. TypeError for what is no text, ValueError for what is no such amount.

        >>> Money.read("12.50", "GBP").amount
        Decimal('12.50')
        """
        if not isinstance(text, str):
            raise TypeError(f"amount: expected text, got {type(text).__name__}")
        try:
            exact = Decimal(text)
        except InvalidOperation:
            exact = Decimal("nan")
        if not exact.is_finite() or (made := cls(exact, currency)).amount != exact:
            raise ValueError(f"amount: expected one in {currency}, got {text[:40]}")
        return made

    @classmethod
    def exact(cls, amount: Fraction, currency: str) -> Money:
        """An amount that was worked out exactly, rounded once."""
        return cls(round_half_up(amount, minor_places(currency)), currency)

    @classmethod
    def of_minor(cls, minor: int, currency: str) -> Money:
        return cls(Decimal(minor).scaleb(-minor_places(currency)), currency)

    def percent(self, percent: Decimal) -> Money:
        return self * (percent / 100)

    def share(self, weights: Sequence[int | Fraction]) -> tuple[Money, ...]:
        """Parts by weight that add up to the whole, ties to the first."""
        return tuple(
            Money.of_minor(part, self.currency) for part in largest_remainder(self.minor, weights)
        )


def add_up(amounts: Iterable[Money], currency: str) -> Money:
    """The sum; nothing adds up to zero in that currency."""
    return sum(amounts, Money(Decimal(0), currency))


def write_money(money: Money, language: str) -> str:
    """As people of that language write it (Unicode CLDR).

    >>> write_money(Money(Decimal("1250.5"), "GBP"), "en-GB")
    '£1,250.50'
    """
    return str(format_currency(money.amount, money.currency, locale=language.replace("-", "_")))

"""The task behind a buying plan in whole packs and whole minor units, and what a choice of packs costs: exactly."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from math import gcd

type Counts = tuple[int, ...]  # how many of each choice


@dataclass(frozen=True, slots=True, kw_only=True)
class PackChoice:
    """A pack that could be bought."""

    price: int  # minor units
    contents: Mapping[str, int]
    supplier: int
    minimum: int = 1  # none, or at least so many


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """So much of a key has to come out of these choices together."""

    key: str
    need: int
    choices: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """What a supplier asks of an order, minor units."""

    delivery: int
    minimum: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Leftover:
    """What is left of a key beyond its need is worth something, up to an amount."""

    at_most: int
    each: Fraction  # minor units


@dataclass(frozen=True, kw_only=True)
class Case:
    choices: tuple[PackChoice, ...]
    covers: tuple[Cover, ...]
    charges: tuple[Charge, ...]  # by supplier
    needs: Mapping[str, int]  # of each key in all
    leftovers: Mapping[str, Leftover]

    def goods(self, counts: Sequence[int]) -> dict[int, int]:
        """Value of goods by supplier, of those that are bought from."""
        goods: dict[int, int] = defaultdict(int)
        for choice, count in zip(self.choices, counts, strict=True):
            if count:
                goods[choice.supplier] += choice.price * count
        return dict(goods)

    def cost(self, counts: Counts) -> int:
        return sum(goods + self.charges[s].delivery for s, goods in self.goods(counts).items())

    def worth(self, counts: Counts) -> Fraction:
        """Of what is left over."""
        held: dict[str, int] = defaultdict(int)
        for choice, count in zip(self.choices, counts, strict=True):
            for key, many in choice.contents.items() if count and self.leftovers else ():
                held[key] += many * count
        worths = (
            left.each * min(left.at_most, max(held[key] - self.needs.get(key, 0), 0))
            for key, left in self.leftovers.items()
        )
        return sum(worths, Fraction(0))

    @property
    def most_worth(self) -> Fraction:
        """Of all that could be left over."""
        return sum((left.at_most * left.each for left in self.leftovers.values()), Fraction(0))

    def net(self, counts: Counts) -> Fraction:
        return self.cost(counts) - self.worth(counts)

    def spare(self, counts: Counts) -> list[int]:
        """By how much each cover is exceeded."""
        return [
            sum(self.choices[i].contents[cover.key] * counts[i] for i in cover.choices) - cover.need
            for cover in self.covers
        ]

    def holds(self, counts: Counts) -> bool:
        """Nothing short, and every order one that the supplier takes."""
        return (
            all(spare >= 0 for spare in self.spare(counts))
            and all(n == 0 or n >= c.minimum for c, n in zip(self.choices, counts, strict=True))
            and all(goods >= self.charges[s].minimum for s, goods in self.goods(counts).items())
        )

    def wanted(self, key: str) -> int:
        """More of a key than this is worth nothing."""
        left = self.leftovers.get(key)
        return self.needs.get(key, 0) + (left.at_most if left else 0)

    @cached_property
    def useful(self) -> Counts:
        """More of a choice than this serves for nothing but to reach a supplier's minimum."""
        return tuple(
            max([c.minimum, *(-(-self.wanted(key) // many) for key, many in c.contents.items())])
            for c in self.choices
        )

    @cached_property
    def most(self) -> Counts:
        """More of a choice than this never pays: its last pack could be left out."""
        return tuple(
            useful + (-(-self.charges[c.supplier].minimum // c.price) if c.price else 0)
            for useful, c in zip(self.useful, self.choices, strict=True)
        )

    @cached_property
    def step(self) -> int:
        """Costs are multiples of this; 0 when the worth of leftovers makes them finer."""
        deliveries = (charge.delivery for charge in self.charges)
        return 0 if self.leftovers else gcd(*(c.price for c in self.choices), *deliveries)

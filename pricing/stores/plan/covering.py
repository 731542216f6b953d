"""The integer programme behind a buying plan: whole packs, whole minor units, nothing else."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from math import gcd, inf

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, csc_array

WHOLE, WHOLE_OR_NONE = 1, 3  # kinds of columns, as the solver numbers them
NONE_POSSIBLE = 2  # what the solver answers when nothing holds
LINE_CELLS = 100_000  # of the table for one line

type Counts = tuple[int, ...]  # how many of each choice
type Terms = list[tuple[int, float]]  # column, factor
type Orders = tuple[bool | None, ...]  # by supplier: ordered from, or not, or either


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
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
    choices: tuple[Choice, ...]
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


class Rows:
    """The rows of a programme, one after the other: sum of factor × column ≥ a number."""

    def __init__(self) -> None:
        self._entries: list[tuple[int, int, float]] = []
        self.at_least: list[float] = []

    def add(self, terms: Terms, at_least: float) -> None:
        self._entries += [(len(self.at_least), column, factor) for column, factor in terms]
        self.at_least.append(at_least)

    def matrix(self, columns: int) -> csc_array:
        entries = np.array(self._entries, dtype=float).reshape(-1, 3)
        at = entries[:, 0].astype(int), entries[:, 1].astype(int)
        return coo_array((entries[:, 2], at), shape=(len(self.at_least), columns)).tocsc()


def solve(
    case: Case,
    time_limit_s: float,
    *,
    between: tuple[Counts, Counts] | None = None,
    orders: Orders = (),
    below: float = inf,
) -> tuple[Counts | None, float]:
    """The least net cost that the solver finds in time, and a bound below which none lies.

    `between` are limits to the counts, both included; `orders` may settle which suppliers are ordered
    from; `below` is a cost that is to be bettered. Where they leave nothing the bound is infinite.
    """
    limits = between or ((0,) * len(case.choices), case.most)
    costs = [
        *(float(c.price) for c in case.choices),
        *(float(charge.delivery) for charge in case.charges),
        *(-float(worth.each) for worth in case.leftovers.values()),
    ]
    rows = _rows(case, limits[1])
    if 0 < below < inf:
        rows.add([(column, -cost / below) for column, cost in enumerate(costs)], -1)
    scale = case.step or 1
    bounds, integrality = _columns(case, limits, orders)
    answer = milp(
        np.array(costs) / scale,
        constraints=LinearConstraint(rows.matrix(len(costs)), lb=rows.at_least),
        bounds=bounds,
        integrality=integrality,
        options={"time_limit": max(time_limit_s, 0.01), "mip_rel_gap": 0},
    )
    if answer.status == NONE_POSSIBLE:
        return None, inf
    bound = -inf if answer.mip_dual_bound is None else float(answer.mip_dual_bound) * scale
    if answer.x is None:
        return None, bound
    counts = tuple(round(x) for x in answer.x[: len(case.choices)])
    return (counts if case.holds(counts) else None), bound


def _columns(
    case: Case, between: tuple[Counts, Counts], orders: Orders
) -> tuple[Bounds, list[int]]:
    """Limits and kinds of a count for each choice, a switch for each supplier, an amount for each leftover."""
    low, high = between
    lots = [
        c.minimum > 1 and lo == 0 < hi for c, lo, hi in zip(case.choices, low, high, strict=True)
    ]
    starts = [c.minimum if lot else lo for c, lot, lo in zip(case.choices, lots, low, strict=True)]
    left = case.leftovers.values()
    settled = orders or (None,) * len(case.charges)
    bounds = Bounds(
        [*starts, *(int(s is True) for s in settled), *(0 for _ in left)],
        [*high, *(int(s is not False) for s in settled), *(worth.at_most for worth in left)],
    )
    kinds = [WHOLE_OR_NONE if lot else WHOLE for lot in lots]
    return bounds, [*kinds, *(WHOLE for _ in case.charges), *(0 for _ in left)]


def _rows(case: Case, most: Counts) -> Rows:
    rows = Rows()
    for cover in case.covers:
        # What exceeds the need counts no more than the need: the same whole packs, a tighter programme.
        many = {i: min(case.choices[i].contents[cover.key], cover.need) for i in cover.choices}
        rows.add(list(many.items()), cover.need)
    first = len(case.choices)
    for s, charge in enumerate(case.charges):
        bought = [i for i, choice in enumerate(case.choices) if choice.supplier == s]
        for i in bought if charge.delivery or charge.minimum else ():
            rows.add([(i, -1), (first + s, most[i])], 0)
        if charge.minimum:
            goods: Terms = [(i, case.choices[i].price / charge.minimum) for i in bought]
            rows.add([*goods, (first + s, -1)], 0)
    for column, key in enumerate(case.leftovers, start=first + len(case.charges)):
        held: Terms = [
            (i, choice.contents[key])
            for i, choice in enumerate(case.choices)
            if key in choice.contents
        ]
        rows.add([*held, (column, -1)], case.needs.get(key, 0))
    return rows


def line_by_line(case: Case) -> Counts:
    """Each line's cheapest packs, bought without an eye for the others.

    What a supplier delivers comes in one order; one below the minimum is filled up with the pack that
    does it for least.
    """
    counts = [0] * len(case.choices)
    bought: dict[str, Counter[int]] = defaultdict(Counter)  # what is in time early is in time later
    for cover in case.covers:
        line = bought[cover.key]
        held = sum(case.choices[i].contents[cover.key] * line[i] for i in cover.choices)
        line.update(_cheapest_line(case, cover, cover.need - held))
    for line in bought.values():
        for i, count in line.items():
            counts[i] += count
    return filled_up(case, counts)


def filled_up(case: Case, bought: Sequence[int]) -> Counts:
    """Each order brought to its supplier's minimum with the pack that does it for least."""
    counts = list(bought)
    for s, goods in case.goods(bought).items():
        short = case.charges[s].minimum - goods
        if short > 0:
            fill = {
                i: max(-(-short // c.price), 0 if counts[i] else c.minimum)
                for i, c in enumerate(case.choices)
                if c.supplier == s
            }
            i = min(fill, key=lambda i: fill[i] * case.choices[i].price)
            counts[i] += fill[i]
    return tuple(counts)


def _cheapest_line(case: Case, cover: Cover, need: int) -> Counter[int]:
    """The packs that cover one need for least; a pack with a minimum is bought by that many."""
    unit = gcd(*(case.choices[i].contents[cover.key] for i in cover.choices))
    lots = [
        (c.price * c.minimum, c.contents[cover.key] * c.minimum // unit, i)
        for i, c in ((i, case.choices[i]) for i in cover.choices)
    ]
    counts: Counter[int] = Counter()
    steps = max(-(-need // unit), 0)
    if steps * len(lots) > LINE_CELLS:  # a very long line: most of it in packs of the best rate
        _, size, i = min(lots, key=lambda lot: Fraction(lot[0], lot[1]))
        counts[i] = (steps - LINE_CELLS // len(lots)) // size * case.choices[i].minimum
        steps -= counts[i] * size // case.choices[i].minimum
    least, last = [0], [lots[0]]
    for step in range(1, steps + 1):
        cost, lot = min((lot[0] + least[max(step - lot[1], 0)], lot) for lot in lots)
        least.append(cost)
        last.append(lot)
    while steps > 0:
        _, size, i = last[steps]
        counts[i] += case.choices[i].minimum
        steps -= size
    return counts


def trimmed(case: Case, counts: Counts) -> Counts:
    """Without the packs that can be left out, dearest first."""
    spare = case.spare(counts)
    covered: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for row, cover in enumerate(case.covers):
        for i in cover.choices:
            covered[i].append((row, case.choices[i].contents[cover.key]))
    for i in sorted(range(len(counts)), key=lambda i: -case.choices[i].price):
        while counts[i]:
            fewer = counts[i] if counts[i] == case.choices[i].minimum else 1
            if any(spare[row] < many * fewer for row, many in covered[i]):
                break
            less = (*counts[:i], counts[i] - fewer, *counts[i + 1 :])
            if not case.holds(less) or case.net(less) > case.net(counts):
                break
            counts = less
            spare = case.spare(counts)
    return counts

"""The integer programme behind a buying plan: whole packs, whole minor units, nothing else."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
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

    def goods(self, counts: Counts) -> dict[int, int]:
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
            max(c.minimum, *(-(-self.wanted(key) // many) for key, many in c.contents.items()))
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
    gap: float = 0,
) -> tuple[Counts | None, float]:
    """The least net cost that the solver finds in time, and a bound below which none lies.

    `between` are limits to the counts, both included; where they leave nothing the bound is infinite.
    Columns: a count for each choice, a switch for each supplier, an amount for each leftover.
    """
    low, high = between or ((0,) * len(case.choices), case.most)
    lots = [
        c.minimum > 1 and lo == 0 < hi for c, lo, hi in zip(case.choices, low, high, strict=True)
    ]
    starts = [c.minimum if lot else lo for c, lot, lo in zip(case.choices, lots, low, strict=True)]
    left = case.leftovers.values()
    others = [0] * len(case.charges), [0] * len(left)
    scale = case.step or 1
    costs = [c.price for c in case.choices] + [charge.delivery for charge in case.charges]
    rows = _rows(case, high)
    answer = milp(
        np.array([*costs, *(-float(worth.each) for worth in left)]) / scale,
        constraints=LinearConstraint(rows.matrix(len(costs) + len(left)), lb=rows.at_least),
        bounds=Bounds(
            [*starts, *others[0], *others[1]],
            [*high, *(1 for _ in case.charges), *(worth.at_most for worth in left)],
        ),
        integrality=[
            *(WHOLE_OR_NONE if lot else WHOLE for lot in lots),
            *(WHOLE for _ in case.charges),
            *others[1],
        ],
        options={"time_limit": max(time_limit_s, 0.01), "mip_rel_gap": gap},
    )
    if answer.status == NONE_POSSIBLE:
        return None, inf
    bound = -inf if answer.mip_dual_bound is None else float(answer.mip_dual_bound) * scale
    if answer.x is None:
        return None, bound
    counts = tuple(round(x) for x in answer.x[: len(case.choices)])
    return (counts if case.holds(counts) else None), bound


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
    lines: dict[str, list[Cover]] = defaultdict(list)
    for cover in case.covers:
        lines[cover.key].append(cover)
    counts = [0] * len(case.choices)
    for covers in lines.values():
        for i, count in _cheapest_line(case, covers).items():
            counts[i] += count
    for s, goods in case.goods(tuple(counts)).items():
        short = case.charges[s].minimum - goods
        if short > 0:
            i, more = min(
                (
                    (i, max(-(-short // c.price), 0 if counts[i] else c.minimum))
                    for i, c in enumerate(case.choices)
                    if c.supplier == s
                ),
                key=lambda top_up: top_up[1] * case.choices[top_up[0]].price,
            )
            counts[i] += more
    return tuple(counts)


def _cheapest_line(case: Case, covers: list[Cover]) -> dict[int, int]:
    holders = sorted({i for cover in covers for i in cover.choices})
    many = [case.choices[i].contents[covers[0].key] for i in holders]
    unit = gcd(*many)
    steps = -(-covers[-1].need // unit)
    simple = len(covers) == 1 and all(case.choices[i].minimum == 1 for i in holders)
    if not simple or steps * len(holders) > LINE_CELLS:
        return _solved_line(case, covers, holders)
    packs = [(case.choices[i].price, n // unit, i) for i, n in zip(holders, many, strict=True)]
    least, last = [0], [packs[0]]
    for step in range(1, steps + 1):
        cost, pack = min((p[0] + least[max(step - p[1], 0)], p) for p in packs)
        least.append(cost)
        last.append(pack)
    counts: dict[int, int] = defaultdict(int)
    while steps > 0:
        _, n, i = last[steps]
        counts[i] += 1
        steps -= n
    return counts


def _solved_line(case: Case, covers: list[Cover], holders: list[int]) -> dict[int, int]:
    key = covers[0].key
    alone = Case(
        choices=tuple(
            Choice(
                price=case.choices[i].price,
                contents={key: case.choices[i].contents[key]},
                supplier=0,
                minimum=case.choices[i].minimum,
            )
            for i in holders
        ),
        covers=tuple(
            Cover(key=key, need=c.need, choices=tuple(holders.index(i) for i in c.choices))
            for c in covers
        ),
        charges=(Charge(delivery=0, minimum=0),),
        needs={key: case.needs[key]},
        leftovers={},
    )
    counts, _ = solve(alone, LINE_LIMIT_S)
    if counts is None:  # no time: enough of the last pack that comes in time for each cover
        raise RuntimeError
    return dict(zip(holders, counts, strict=True))


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

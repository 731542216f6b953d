"""A good plan near a relaxation: from there down, a kit more or less at a time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from math import ceil
from operator import mul
from random import Random
from time import monotonic

from pricing.stores.plan.covering import Case, Counts, filled_up
from pricing.stores.plan.lines import Group, Line, Way, possible
from pricing.stores.plan.relaxing import Relaxed

LITTLE = 1e-6
ROUNDS = 60  # of trying every step down: a guess need not reach the very bottom
PAID = (0.01, 0.5)  # parts of an order that count as one

type Kits = Mapping[int, int]  # how many of each kit
type Tried = set[tuple[frozenset[int], tuple[tuple[int, int], ...]]]  # closed suppliers and start


def guesses(
    case: Case, lines: Sequence[Line], groups: Sequence[Group], relaxed: Relaxed, tried: Tried
) -> list[Counts]:
    """Whole plans made from a relaxation, each with all that its suppliers ask; none tried twice."""
    closed = {frozenset(s for s in _charging(case) if relaxed.orders[s] < part) for part in PAID}
    plans: dict[Counts, None] = {}
    for without in closed:
        for start in _starts(case, groups, relaxed):
            attempt = without, tuple(sorted(start.items()))
            if attempt not in tried:
                tried.add(attempt)
                descent = _Descent(case, lines, without, relaxed.free)
                if descent.down_from(start):
                    plans[descent.plan()] = None
    return list(plans)


def polished(case: Case, lines: Sequence[Line], counts: Counts, until: float) -> Counts | None:
    """Down from a plan, and on by small shakes until a moment of the monotonic clock."""
    goods = case.goods(counts)
    closed = frozenset(s for s in _charging(case) if not goods.get(s))
    descent = _Descent(case, lines, closed, {})
    if not descent.down_from({kit: counts[kit] for line in lines for kit in line.kits}):
        return None
    chance = Random(1)  # noqa: S311  not a secret: the same plan every time
    while descent.kits and monotonic() < until:
        descent.shake(chance)
    return descent.plan()


def _charging(case: Case) -> set[int]:
    return {s for s, charge in enumerate(case.charges) if charge.delivery or charge.minimum}


def _starts(case: Case, groups: Sequence[Group], relaxed: Relaxed) -> list[dict[int, int]]:
    """Numbers of kits: what the relaxation has most of, and its mean."""
    most: dict[int, int] = {}
    mean: dict[int, int] = {}
    for group, parts in zip(groups, relaxed.parts, strict=True):
        largest = group.values[parts.index(max(parts))]
        for position, kit in enumerate(group.kits):
            most[kit] = largest[position]
            exact = sum(v[position] * part for v, part in zip(group.values, parts, strict=True))
            mean[kit] = max(n for n in possible(case, kit) if n == 0 or n <= exact + 0.5)
    return [most] if most == mean else [most, mean]


class _Descent:
    """Steps down from a start. Closed suppliers stay closed; an order that is begun reaches its minimum."""

    def __init__(
        self,
        case: Case,
        lines: Sequence[Line],
        closed: frozenset[int],
        free: Mapping[int, float],
    ) -> None:
        self.case, self.lines, self.closed = case, lines, closed
        self.rate = {s: 1 - free.get(s, 0.0) for s in range(len(case.charges))}
        self.strict = any(line.strict for line in lines)  # else what lines spend is not told apart
        self.touched: dict[int, list[int]] = defaultdict(list)
        for n, line in enumerate(lines):
            for kit in line.kits:
                self.touched[kit].append(n)
        self.kits = [kit for kit in self.touched if case.choices[kit].supplier not in closed]
        self.beside = {
            kit: list(dict.fromkeys(a for n in self.touched[kit] for a in lines[n].kits))
            for kit in self.kits
        }
        self.prices: dict[int, set[int]] = defaultdict(set)
        for choice in case.choices:
            self.prices[choice.supplier].add(choice.price)
        self.known: dict[tuple[int, Counts], list[Way]] = {}

    def down_from(self, start: Kits) -> bool:
        """Go down as far as it leads; False when a line is not covered there."""
        self.counts = {kit: n if kit in self.beside else 0 for kit, n in start.items()}
        self.ways = [self.ends(n)[0] for n in range(len(self.lines))]
        self.open = sum(not way.covers for way in self.ways)  # lines that are not covered
        self.cost = 0.0  # against that of the start
        self.goods: dict[int, float] = defaultdict(float)
        for kit, count in self.counts.items():
            self.goods[self.case.choices[kit].supplier] += self.case.choices[kit].price * count
        for line, way in zip(self.lines, self.ways, strict=True):
            for s, spent in zip(line.strict, way.goods, strict=False):
                self.goods[s] += spent
        self.go_down(self.kits, range(len(self.lines)))
        return not self.open

    def plan(self) -> Counts:
        bought = [0] * len(self.case.choices)
        for i, count in (*self.counts.items(), *(pack for way in self.ways for pack in way.packs)):
            bought[i] += count
        return filled_up(self.case, bought)

    def go_down(self, kits: Collection[int], lines: Iterable[int]) -> None:
        """Step by step with these kits and lines, until no step leads down."""
        steps = [{kit: by} for kit in kits for by in (-1, 1)]
        swaps = [
            {a: by, b: -by}
            for a in kits
            for b in self.beside[a]
            for by in (-1, 1)
            if a != b and b in self.beside and (a < b or b not in kits)
        ]
        spending = [n for n in lines if self.lines[n].strict]
        for _ in range(ROUNDS):
            if not (
                sum(map(self.move, steps))
                or sum(map(self.respend, spending))
                or sum(map(self.move, swaps))
            ):
                return

    def shake(self, chance: Random) -> None:
        """Leave one kit out or take one more, and go down from there with those beside it."""
        counts, ways, goods = dict(self.counts), list(self.ways), dict(self.goods)
        stood = self.open, self.cost
        kit = chance.choice(self.kits)
        self.move({kit: -self.counts[kit] or self.case.choices[kit].minimum}, at_any_cost=True)
        self.go_down([a for a in self.beside[kit] if a in self.beside], self.touched[kit])
        if (self.open, self.cost + LITTLE) > stood:
            self.counts, self.ways, self.goods = counts, ways, defaultdict(float, goods)
            self.open, self.cost = stood

    def ends(self, n: int) -> list[Way]:
        """The ways to finish a line beside the kits as they stand, the cheapest first."""
        line = self.lines[n]
        place = (0,) * len(line.enough)
        for kit, gives in line.kits.items():
            if self.counts[kit]:
                place = line.added(place, tuple(self.counts[kit] * many for many in gives))
        if (n, place) not in self.known:
            rates = [*(self.rate[s] for s in line.strict), 1.0]
            ways = line.ends(place, self.closed)
            self.known[n, place] = sorted(
                ways, key=lambda way: sum(map(mul, rates, way.goods))
            ) or [Way((), frozenset(), (0.0,) * (len(line.strict) + 1), covers=False)]
        return self.known[n, place]

    def move(self, by: Kits, *, at_any_cost: bool = False) -> bool:
        """Buy so many kits more, if that leads down."""
        before = {kit: self.counts[kit] for kit in by}
        after = {kit: before[kit] + more for kit, more in by.items()}
        if any(count not in possible(self.case, kit) for kit, count in after.items()):
            return False
        self.counts |= after
        lines = {n for kit in by for n in self.touched[kit]}
        if self.changes({n: self.ends(n)[0] for n in lines}, by, at_any_cost=at_any_cost):
            return True
        self.counts |= before
        return False

    def respend(self, n: int) -> bool:
        """Buy a line's own packs in another way, if that leads down."""
        return sum(self.changes({n: way}, {}) for way in self.ends(n)) > 0

    def changes(self, ways: Mapping[int, Way], by: Kits, *, at_any_cost: bool = False) -> bool:
        """Take these ways and so many kits more, if that leads down; a line not covered leads up."""
        cost, open_ = 0.0, 0
        goods: dict[int, float] = defaultdict(float)
        for kit, more in by.items():
            choice = self.case.choices[kit]
            cost += choice.price * more
            goods[choice.supplier] += choice.price * more
        for n, way in ways.items():
            old = self.ways[n]
            open_ += old.covers - way.covers
            cost += sum(way.goods) - sum(old.goods)
            for s, now, then in zip(self.lines[n].strict, way.goods, old.goods, strict=False):
                goods[s] += now - then
        for s, more_goods in goods.items():
            cost += self.asked(s, self.goods[s] + more_goods) - self.asked(s, self.goods[s])
        if not at_any_cost and (open_, cost) > (0, -LITTLE):
            return False
        self.open += open_
        self.cost += cost
        for n, way in ways.items():
            self.ways[n] = way
        for s, more_goods in goods.items():
            self.goods[s] += more_goods
        return True

    def asked(self, supplier: int, goods: float) -> float:
        """What a supplier with a minimum asks beside the goods: delivery, and to fill the order up."""
        charge = self.case.charges[supplier]
        if not self.strict or not charge.minimum or goods < LITTLE:
            return 0.0
        short = charge.minimum - goods
        if short < LITTLE:
            return charge.delivery
        fills = (ceil(short / price - LITTLE) * price for price in self.prices[supplier])
        return charge.delivery + min(fills)

"""A good plan near a relaxation: from there down, a kit more or less at a time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from itertools import permutations
from math import ceil
from operator import mul

from pricing.core.covering import Case, Counts, filled_up
from pricing.core.relaxing import Group, Line, Relaxed, Way, possible

LITTLE = 1e-6
HIGH = 1e15  # the cost of a line that cannot be covered
PAID = (0.01, 0.5)  # parts of an order that count as one


def guesses(
    case: Case, lines: Sequence[Line], groups: Sequence[Group], relaxed: Relaxed
) -> list[Counts]:
    """Whole plans made from a relaxation, each with all that its suppliers ask."""
    charging = {s for s, charge in enumerate(case.charges) if charge.delivery or charge.minimum}
    closed = {frozenset(s for s in charging if relaxed.orders[s] < part) for part in PAID}
    plans: dict[Counts, None] = {}
    for without in closed:
        descent = _Descent(case, lines, without, relaxed.free)
        for start in _starts(case, groups, relaxed):
            found = descent.down_from(start)
            if found is not None:
                plans[filled_up(case, found)] = None
    return list(plans)


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
        self.touched: dict[int, list[int]] = defaultdict(list)
        for n, line in enumerate(lines):
            for kit in line.kits:
                self.touched[kit].append(n)
        self.kits = [kit for kit in self.touched if case.choices[kit].supplier not in closed]
        self.steps: list[dict[int, int]] = [{kit: by} for kit in self.kits for by in (-1, 1)]
        self.swaps = [
            {a: 1, b: -1}
            for a, b in permutations(self.kits, 2)
            if not set(self.touched[a]).isdisjoint(self.touched[b])
        ]
        self.prices: dict[int, set[int]] = defaultdict(set)
        for choice in case.choices:
            self.prices[choice.supplier].add(choice.price)
        self.known: dict[tuple[int, Counts], list[Way]] = {}
        self.counts: dict[int, int] = {}
        self.ways: list[Way] = []
        self.goods: dict[int, float] = {}

    def down_from(self, start: Mapping[int, int]) -> Counts | None:
        """The counts at the bottom; None when a line cannot be covered there."""
        self.counts = {kit: n if kit in set(self.kits) else 0 for kit, n in start.items()}
        self.ways = [self.ends(n)[0] for n in range(len(self.lines))]
        self.goods = defaultdict(float)
        for kit, count in self.counts.items():
            self.goods[self.case.choices[kit].supplier] += self.case.choices[kit].price * count
        for line, way in zip(self.lines, self.ways, strict=True):
            for s, spent in zip(line.strict, way.goods, strict=False):
                self.goods[s] += spent
        while (
            any([self.move(step) for step in self.steps])
            or any([self.respend(n) for n in range(len(self.lines))])
            or any([self.move(swap) for swap in self.swaps])
        ):
            pass
        if any(way.goods[-1] >= HIGH for way in self.ways):
            return None
        bought = [0] * len(self.case.choices)
        for i, count in (*self.counts.items(), *(pack for way in self.ways for pack in way.packs)):
            bought[i] += count
        return tuple(bought)

    def ends(self, n: int) -> list[Way]:
        """The ways to finish a line beside the kits as they stand, the cheapest first."""
        line = self.lines[n]
        place = (0,) * len(line.enough)
        for kit, gives in line.kits.items():
            if self.counts[kit]:
                place = line.added(place, tuple(self.counts[kit] * many for many in gives))
        if (n, place) not in self.known:
            rates = [*(self.rate[s] for s in line.strict), 1.0]
            self.known[n, place] = sorted(
                line.ends(place, self.closed), key=lambda way: sum(map(mul, rates, way.goods))
            ) or [Way((), frozenset(), (0.0,) * len(line.strict) + (HIGH,))]
        return self.known[n, place]

    def move(self, by: Mapping[int, int]) -> bool:
        """Buy so many kits more, if that leads down."""
        before = {kit: self.counts[kit] for kit in by}
        for kit, more in by.items():
            count = before[kit] + more
            if count not in possible(self.case, kit):
                return False
        self.counts.update((kit, before[kit] + more) for kit, more in by.items())
        lines = {n for kit in by for n in self.touched[kit]}
        if self.improves({n: self.ends(n)[0] for n in lines}, by):
            return True
        self.counts |= before
        return False

    def respend(self, n: int) -> bool:
        """Buy a line's own packs in another way, if that leads down."""
        ways = self.ends(n) if self.lines[n].strict else []
        return any([self.improves({n: way}, {}) for way in ways])

    def improves(self, ways: Mapping[int, Way], by: Mapping[int, int]) -> bool:
        """Whether these ways and so many kits more lead down; then they are taken."""
        cost, goods = 0.0, dict[int, float]()
        for kit, more in by.items():
            choice = self.case.choices[kit]
            cost += choice.price * more
            goods[choice.supplier] = goods.get(choice.supplier, 0.0) + choice.price * more
        for n, way in ways.items():
            before = self.ways[n].goods
            cost += sum(way.goods) - sum(before)
            for s, now, then in zip(self.lines[n].strict, way.goods, before, strict=False):
                goods[s] = goods.get(s, 0.0) + now - then
        for s, more_goods in goods.items():
            cost += self.asked(s, self.goods[s] + more_goods) - self.asked(s, self.goods[s])
        if cost > -LITTLE:
            return False
        for n, way in ways.items():
            self.ways[n] = way
        for s, more_goods in goods.items():
            self.goods[s] += more_goods
        return True

    def asked(self, supplier: int, goods: float) -> float:
        """What a supplier with a minimum asks beside the goods: delivery, and to fill the order up."""
        charge = self.case.charges[supplier]
        if not charge.minimum or goods < LITTLE:
            return 0.0
        short = charge.minimum - goods
        if short < LITTLE:
            return charge.delivery
        fills = (ceil(short / price - LITTLE) * price for price in self.prices[supplier])
        return charge.delivery + min(fills)

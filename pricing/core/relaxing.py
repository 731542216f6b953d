"""A close bound for a buying plan, and what each number of a kit would cost beyond it.

What makes the integer programme slow are kits, which tie lines together. For one line it only matters
how much of it the kits cover; its own packs then cost what they cost, by the whole pack. So each line is
a path, kit by kit, through what is covered so far, with the packs for the rest as its last step (an arc
flow, Valério de Carvalho 1999), and all paths agree on how often each kit is bought. Without whole
numbers the bound of that is about one percent off where that of the plain programme is ten.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import inf
from operator import add, ge, le

import numpy as np
from scipy.optimize import linprog

from pricing.core.covering import NONE_POSSIBLE, Case, Counts, Cover, Orders, Rows, Terms

WIDE = 60_000  # columns at most
LARGE = 5_000  # columns from which the interior-point method measures faster than the simplex
MANY_WAYS = 400  # to buy a line's own packs at most


class GiveUp(Exception):
    """Too wide or too slow to be worth it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Kits that are decided together: how often each, one value for each way still open."""

    kits: tuple[int, ...]
    values: tuple[Counts, ...]

    def only(self, kept: Sequence[bool]) -> Group:
        values = tuple(value for value, keep in zip(self.values, kept, strict=True) if keep)
        return Group(kits=self.kits, values=values)


@dataclass(frozen=True, slots=True)
class Way:
    """One way to buy a line's own packs."""

    gives: Counts  # to each tally
    suppliers: frozenset[int]  # of those that charge
    goods: tuple[float, ...]  # bought of each supplier with a minimum; last, of all others
    packs: tuple[tuple[int, int], ...] = ()  # which choices, and how often

    def as_good_as(self, other: Way) -> bool:
        return (
            self.suppliers <= other.suppliers
            and all(map(ge, self.gives, other.gives))
            and all(map(le, self.goods, other.goods))
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One key: how much of it is needed by when, what gives it, and what its own packs cost.

    A tally stands for each day; a last one for all that is held, where leftovers are worth something.
    """

    needs: Counts
    enough: Counts  # more than this changes nothing
    kits: Mapping[int, Counts]  # what one kit gives to each tally
    strict: tuple[int, ...]  # suppliers with a minimum, in the order of a way's goods
    ways: tuple[Way, ...]
    worth: float  # of each that the last tally holds beyond `need`
    need: int
    known: dict[tuple[Counts, frozenset[int]], list[Way]] = field(default_factory=dict)

    def ends(self, place: Counts, closed: frozenset[int]) -> list[Way]:
        """The best ways to cover the rest from here, less what their leftovers are worth."""
        if (place, closed) not in self.known:
            self.known[place, closed] = _best(self._finishing(place, closed))
        return self.known[place, closed]

    def _finishing(self, place: Counts, closed: frozenset[int]) -> Iterator[Way]:
        for way in self.ways:
            end = self.added(place, way.gives)
            if all(map(ge, end, self.needs)) and not way.suppliers & closed:
                worth = self.worth * max(end[-1] - self.need, 0)
                goods = (*way.goods[:-1], way.goods[-1] - worth)
                yield Way((), way.suppliers, goods, way.packs)

    def added(self, covered: Counts, gives: Counts) -> Counts:
        return tuple(map(min, self.enough, map(add, covered, gives)))

    def given(self, group: Group) -> list[Counts]:
        """What each value of a group gives to each tally."""
        held = [(at, self.kits[kit]) for at, kit in enumerate(group.kits) if kit in self.kits]
        return [
            tuple(
                min(most, sum(value[at] * gives[tally] for at, gives in held))
                for tally, most in enumerate(self.enough)
            )
            for value in group.values
        ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Relaxed:
    bound: float
    orders: list[float]  # by supplier: the part of an order that the answer pays for
    free: dict[
        int, float
    ]  # by supplier with a minimum: the part of a price that fills up an order which lacks as much
    parts: list[list[float]]  # by group: the part of each value in the answer
    dearer: list[
        list[float]
    ]  # by group: what a plan with that value costs beyond the bound at least


@dataclass(frozen=True, slots=True)
class _Arc:
    start: Counts  # covered before
    added: Counts
    end: Counts
    column: int


type _Path = list[
    tuple[int, list[_Arc]]
]  # steps: group and arcs; last, −1 and the line's own packs


def possible(case: Case, i: int) -> range | tuple[int, ...]:
    """How often a choice can be of use."""
    return (0, *range(case.choices[i].minimum, case.useful[i] + 1))


def lines_of(case: Case) -> list[Line]:
    """One line a key. GiveUp when there are too many ways to buy one."""
    holders: dict[str, list[int]] = defaultdict(list)
    for i, choice in enumerate(case.choices):
        for key in choice.contents:
            holders[key].append(i)
    covers: dict[str, list[Cover]] = defaultdict(list)
    for cover in case.covers:
        covers[cover.key].append(cover)
    return [_line(case, key, covers[key], held) for key, held in holders.items()]


def _line(case: Case, key: str, covers: Sequence[Cover], holders: Iterable[int]) -> Line:
    left = case.leftovers.get(key)
    in_time = [frozenset(cover.choices) for cover in covers]
    gives: dict[int, Counts] = {}
    for i in holders:
        many = case.choices[i].contents[key]
        gives[i] = (*(many if i in rows else 0 for rows in in_time), *((many,) if left else ()))
    needs = tuple(cover.need for cover in covers)
    enough = (*needs, case.wanted(key)) if left else needs
    own = {i: given for i, given in gives.items() if len(case.choices[i].contents) == 1}
    sellers = {case.choices[i].supplier for i in own}
    strict = tuple(sorted(s for s in sellers if case.charges[s].minimum))
    return Line(
        needs=(*needs, 0) if left else needs,
        enough=enough,
        kits={i: given for i, given in gives.items() if i not in own},
        strict=strict,
        ways=tuple(_ways(case, own, enough, strict)),
        worth=float(left.each) if left else 0.0,
        need=case.needs.get(key, 0),
    )


def _ways(
    case: Case, own: Mapping[int, Counts], enough: Counts, strict: Sequence[int]
) -> list[Way]:
    """The ways to buy a line's own packs of which no other is as good.

    A way is judged by what it spends with each supplier that has a minimum, not by the sum: what an
    order lacks to its minimum is filled up at cost.
    """
    ways = [Way((0,) * len(enough), frozenset(), (0.0,) * (len(strict) + 1))]
    for i, gives in own.items():
        choice = case.choices[i]
        charge = case.charges[choice.supplier]
        charged = frozenset([choice.supplier] if charge.delivery or charge.minimum else [])
        at = strict.index(choice.supplier) if choice.supplier in strict else len(strict)
        grown = list(ways)
        for way in ways:
            for n in possible(case, i)[1:]:
                total = tuple(
                    min(most, before + n * many)
                    for most, before, many in zip(enough, way.gives, gives, strict=True)
                )
                goods = list(way.goods)
                goods[at] += n * choice.price
                packs = (*way.packs, (i, n))
                grown.append(Way(total, way.suppliers | charged, tuple(goods), packs))
                if total == enough:
                    break
        ways = _best(grown)
        if len(ways) > MANY_WAYS:
            raise GiveUp
    return ways


def _best(ways: Iterable[Way]) -> list[Way]:
    """Those that no other is as good as."""
    best: list[Way] = []
    for way in sorted(ways, key=lambda w: (sum(w.goods), len(w.suppliers), -sum(w.gives))):
        if not any(other.as_good_as(way) for other in best):
            best.append(way)
    return best


class _Flow:
    """The relaxation under way: columns, rows, and the paths of the lines."""

    def __init__(self, case: Case, groups: Sequence[Group], orders: Orders) -> None:
        self.case, self.groups = case, groups
        self.closed = frozenset(s for s, ordered in enumerate(orders) if ordered is False)
        self.costs: list[float] = []
        self.most: list[float] = []
        self.equal, self.least = Rows(), Rows()
        self.orders = [self.column(charge.delivery, 1) for charge in case.charges]
        self.fills = [self.column(1) for _ in case.charges]  # what orders lack to their minimum
        self.goods: dict[int, Terms] = defaultdict(list)
        self.values = [self._decide(group) for group in groups]
        self.paths: list[_Path] = []
        self.filling: dict[int, int] = {}  # rows by supplier

    def column(self, cost: float, most: float = inf) -> int:
        if len(self.costs) >= WIDE:
            raise GiveUp
        self.costs.append(cost)
        self.most.append(most)
        return len(self.costs) - 1

    def _decide(self, group: Group) -> list[int]:
        """A column for each value of a group, of which one is chosen."""
        choices = [self.case.choices[i] for i in group.kits]
        columns = [
            self.column(sum(c.price * n for c, n in zip(choices, value, strict=True)))
            for value in group.values
        ]
        self.equal.add([(column, 1) for column in columns], 1)
        for position, choice in enumerate(choices):
            bought = [
                (column, choice.price * value[position])
                for column, value in zip(columns, group.values, strict=True)
                if value[position]
            ]
            self.goods[choice.supplier] += bought
            self._ordered(choice.supplier, [column for column, _ in bought])
        return columns

    def _ordered(self, supplier: int, columns: Iterable[int]) -> None:
        """These columns, of which at most one is chosen, need an order."""
        charge = self.case.charges[supplier]
        if charge.delivery or charge.minimum:
            self.least.add([(self.orders[supplier], 1), *((column, -1) for column in columns)], 0)

    def walk(self, line: Line) -> None:
        """A line's path: the groups that hold it, those that give most first, then its own packs."""
        touching = []
        for n, group in enumerate(self.groups):
            if not line.kits.keys().isdisjoint(group.kits):
                given = line.given(group)
                touching.append((sum(map(sum, given)), n, given))
        path: _Path = []
        coming: dict[Counts, list[int]] = {(0,) * len(line.enough): []}
        for _, n, given in sorted(touching, reverse=True):
            arcs = self._step(line, n, given, list(coming))
            self._go_on(arcs, coming, first=not path)
            coming = defaultdict(list)
            for arc in arcs:
                coming[arc.end].append(arc.column)
            path.append(_Step(n, given, arcs))
        arcs = self._last_step(line, list(coming))
        self._go_on(arcs, coming, first=not path)
        self.paths.append([*path, _Step(-1, [], arcs)])

    def _go_on(
        self, arcs: Iterable[_Arc], coming: Mapping[Counts, list[int]], *, first: bool
    ) -> None:
        """What comes to a place leaves it; the path begins once."""
        leaving: dict[Counts, Terms] = defaultdict(list)
        for arc in arcs:
            leaving[arc.start].append((arc.column, 1))
        for place, columns in coming.items():
            self.equal.add([*leaving[place], *((column, -1) for column in columns)], int(first))

    def _step(
        self, line: Line, n: int, given: Iterable[Counts], places: Iterable[Counts]
    ) -> list[_Arc]:
        choosing: dict[Counts, Terms] = defaultdict(list)
        for column, gives in zip(self.values[n], given, strict=True):
            choosing[gives].append((column, -1))
        arcs = [
            _Arc(place, gives, line.added(place, gives), self.column(0))
            for place in places
            for gives in choosing
        ]
        for arc in arcs:
            choosing[arc.added].append((arc.column, 1))
        for terms in choosing.values():
            self.equal.add(terms, 0)
        return arcs

    def _last_step(self, line: Line, places: Iterable[Counts]) -> list[_Arc]:
        arcs, ordered = [], defaultdict(list)
        for place in places:
            for way in line.ends(place, self.closed):
                column = self.column(sum(way.goods))
                arcs.append(_Arc(place, (), (), column))
                for supplier in way.suppliers:
                    ordered[supplier].append(column)
                for supplier, goods in zip(line.strict, way.goods, strict=False):
                    self.goods[supplier].append((column, goods))
        for supplier, columns in ordered.items():
            self._ordered(supplier, columns)
        return arcs

    def fill_up(self) -> None:
        """Orders reach their minimum."""
        for s, charge in enumerate(self.case.charges):
            if charge.minimum:
                goods = [(column, price / charge.minimum) for column, price in self.goods[s]]
                fill = (self.fills[s], 1 / charge.minimum)
                self.filling[s] = len(self.least.at_least)
                self.least.add([*goods, fill, (self.orders[s], -1)], 0)


def relax(
    case: Case,
    lines: Sequence[Line],
    groups: Sequence[Group],
    orders: Orders,
    time_limit_s: float,
) -> Relaxed | None:
    """The relaxation's answer; None when no plan is left. GiveUp when it is too much."""
    flow = _Flow(case, groups, orders)
    for line in lines:
        flow.walk(line)
    flow.fill_up()
    scale = case.step or 1
    lower = [0.0] * len(flow.costs)
    for s, ordered in enumerate(orders):
        lower[flow.orders[s]] = float(ordered is True)
    answer = linprog(
        np.array(flow.costs) / scale,
        A_eq=flow.equal.matrix(len(flow.costs)),
        b_eq=flow.equal.at_least,
        A_ub=-flow.least.matrix(len(flow.costs)),
        b_ub=-np.array(flow.least.at_least),
        bounds=np.array([lower, flow.most]).T,
        method="highs-ipm" if len(flow.costs) > LARGE else "highs-ds",
        options={"time_limit": max(time_limit_s, 0.01)},
    )
    if answer.status == NONE_POSSIBLE:
        return None
    if answer.status:
        raise GiveUp
    reduced = np.maximum(answer.lower.marginals, 0) * scale
    dearer = [[float(reduced[column]) for column in columns] for columns in flow.values]
    for path in flow.paths:
        for step, least in _detours(path, reduced.tolist()):
            for v, gives in enumerate(step.given):
                dearer[step.group][v] += least[gives]
    return Relaxed(
        bound=float(answer.fun) * scale,
        orders=[float(answer.x[column]) for column in flow.orders],
        free={
            s: -float(answer.ineqlin.marginals[row]) * scale / case.charges[s].minimum
            for s, row in flow.filling.items()
        },
        parts=[[float(answer.x[column]) for column in columns] for columns in flow.values],
        dearer=dearer,
    )


def _detours(path: _Path, reduced: Sequence[float]) -> Iterator[tuple[_Step, dict[Counts, float]]]:
    """For each group on a path and what it adds: the reduced cost of the best path with that."""
    before: list[dict[Counts, float]] = [{path[0].arcs[0].start: 0.0}]
    for step in path:
        reached: dict[Counts, float] = defaultdict(lambda: inf)
        for arc in step.arcs:
            cost = before[-1].get(arc.start, inf) + reduced[arc.column]
            reached[arc.end] = min(reached[arc.end], cost)
        before.append(reached)
    after: dict[Counts, float] = {(): 0.0}
    for step, start in zip(reversed(path), reversed(before[:-1]), strict=True):
        rest: dict[Counts, float] = defaultdict(lambda: inf)
        least: dict[Counts, float] = defaultdict(lambda: inf)
        for arc in step.arcs:
            cost = reduced[arc.column] + after.get(arc.end, inf)
            rest[arc.start] = min(rest[arc.start], cost)
            least[arc.added] = min(least[arc.added], start.get(arc.start, inf) + cost)
        after = rest
        if step.group >= 0:
            yield step, least

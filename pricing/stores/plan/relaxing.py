"""A close bound for a buying plan, and what each number of a kit would cost beyond it.

What makes the integer programme slow are kits, which tie lines together. For one line it only matters
how much of it the kits cover; its own packs then cost what they cost, by the whole pack. So each line is
a path, kit by kit, through what is covered so far, with the packs for the rest as its last step (an arc
flow, Valério de Carvalho 1999), and all paths agree on how often each kit is bought. Without whole
numbers that is off by one percent or less where the plain programme is off by eight (measured).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import inf

import numpy as np
from scipy.optimize import OptimizeResult, linprog

from pricing.stores.plan.covering import NONE_POSSIBLE, Case, Counts, Orders, Rows, Terms
from pricing.stores.plan.lines import GiveUp, Group, Line

LARGE = 5_000  # columns from which the interior-point method measures faster than the simplex


@dataclass(frozen=True, slots=True, kw_only=True)
class Relaxed:
    """What the relaxation answers; `parts` and `dearer` by group and by value of the group."""

    bound: float
    orders: list[float]  # by supplier: the part of an order that is paid for
    free: dict[int, float]  # by supplier with a minimum: part of a price that fills up its order
    parts: list[list[float]]  # of each value
    dearer: list[list[float]]  # how far above the bound a plan with that value lies at least


@dataclass(frozen=True, slots=True)
class _Arc:
    start: Counts  # covered before
    added: Counts
    end: Counts
    column: int


@dataclass(frozen=True, slots=True)
class _Step:
    group: int  # −1: the last step, by the line's own packs
    given: list[Counts]  # by each value of the group
    arcs: list[_Arc]


type _Path = list[_Step]


class _Flow:
    """The relaxation under way: columns, rows, and the paths of the lines."""

    def __init__(self, case: Case, groups: Sequence[Group], orders: Orders, wide: int) -> None:
        self.case, self.groups, self.wide = case, groups, wide
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
        if len(self.costs) >= self.wide:
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

    def solved(self, orders: Orders, time_limit_s: float) -> OptimizeResult:
        columns, scale = len(self.costs), self.case.step or 1
        lower = [0.0] * columns
        for s, ordered in enumerate(orders):
            lower[self.orders[s]] = float(ordered is True)
        return linprog(
            np.array(self.costs) / scale,
            A_eq=self.equal.matrix(columns),
            b_eq=self.equal.at_least,
            A_ub=-self.least.matrix(columns),
            b_ub=-np.array(self.least.at_least),
            bounds=np.array([lower, self.most]).T,
            method="highs-ipm" if columns > LARGE else "highs-ds",
            options={"time_limit": time_limit_s},
        )


def relax(
    case: Case,
    lines: Sequence[Line],
    groups: Sequence[Group],
    orders: Orders,
    *,
    wide: int,
    time_limit_s: float,
) -> Relaxed | None:
    """The relaxation's answer; None when no plan is left. GiveUp beyond so many columns or seconds."""
    flow = _Flow(case, groups, orders, wide)
    for line in lines:
        flow.walk(line)
    flow.fill_up()
    answer = flow.solved(orders, max(time_limit_s, 0.01))
    if answer.status == NONE_POSSIBLE:
        return None
    if answer.status:
        raise GiveUp
    scale = case.step or 1
    reduced = (np.maximum(answer.lower.marginals, 0) * scale).tolist()
    dearer = [[reduced[column] for column in columns] for columns in flow.values]
    for path in flow.paths:
        for step, least in _detours(path, reduced):
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

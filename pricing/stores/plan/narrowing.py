"""The cheapest counts, proven soon: what can be part of a cheapest plan is narrowed down first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations
from math import inf
from time import monotonic, thread_time

from pricing.stores.plan.covering import Case, Counts, Orders, solve, trimmed
from pricing.stores.plan.guessing import Tried, guesses, polished
from pricing.stores.plan.lines import GiveUp, Group, Line, lines_of, possible
from pricing.stores.plan.relaxing import Relaxed, relax

# Measured on price books of 200 packs and kits, a fifth of them kits, and on small ones of all kinds.
SMALL = 60  # choices up to which the integer programme may settle all by itself
FIRST_S = 1.0  # that it has for that
TURN_S = 3.0  # of work at narrowing before the integer programme has a turn; the next are longer
POLISH_S = 1.0  # kept for going down from what the integer programme finds
COLUMNS_A_SECOND = 2_000  # of a relaxation: more take too much of the time there is
TIED = 300  # values of a group at most
SLOW = 0.8  # part of the values that is left: more, and a part is split
FINEST = 0.01  # of a minor unit: a plan that is cheaper by less is no cheaper
SETTLED = 0.01  # as near as this to none or all of an order is none or all

type Limits = tuple[Counts, Counts]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """A part of all plans: those that order from these suppliers and buy kits by these numbers."""

    orders: Orders
    groups: tuple[Group, ...]
    bound: float = -inf  # no plan of this part costs less

    def without(self, case: Case, supplier: int) -> _Part:
        groups = []
        for group in self.groups:
            theirs = [case.choices[kit].supplier == supplier for kit in group.kits]
            groups.append(
                group.only(
                    [not any(n and t for n, t in zip(v, theirs, strict=True)) for v in group.values]
                )
            )
        return replace(self, orders=_set(self.orders, supplier, False), groups=tuple(groups))

    def with_order(self, supplier: int) -> _Part:
        return replace(self, orders=_set(self.orders, supplier, True))

    def split(self, at: tuple[int, Counts]) -> list[_Part]:
        """Without a value of a group, and with no other."""
        n, value = at
        parts = []
        for keep in (False, True):
            group = self.groups[n].only([(v == value) is keep for v in self.groups[n].values])
            parts.append(replace(self, groups=(*self.groups[:n], group, *self.groups[n + 1 :])))
        return parts


def _set(orders: Orders, supplier: int, ordered: bool) -> Orders:
    return (*orders[:supplier], ordered, *orders[supplier + 1 :])


def cheapest(case: Case, start: Counts, time_limit_s: float) -> tuple[Counts, Fraction]:
    """The cheapest counts found in time, never dearer than `start`, and what none can be cheaper than.

    The latter is the net cost itself when it is proven that nothing is cheaper.
    """
    if not case.covers:
        return start, case.net(start)
    search = _Search(case, start, time_limit_s)
    bound = search.run()
    net = case.net(search.best)
    if search.room(bound) < 0:
        return search.best, net
    most_worth = sum((left.at_most * left.each for left in case.leftovers.values()), Fraction(0))
    return search.best, -most_worth if bound == -inf else min(Fraction(bound), net)


class _Search:
    """Parts of all plans are narrowed, split or settled until none is left that can hold a cheaper one.

    The reduced costs of a relaxation tell which numbers of a kit no cheaper plan can have. Where the
    relaxation orders from a supplier by half, the part is split in two: with that supplier and
    without. Else kits that share lines are tied into groups, whose relaxation is closer. What cannot
    be narrowed any more is settled by the integer programme, between narrow limits.
    """

    def __init__(self, case: Case, start: Counts, time_limit_s: float) -> None:
        self.case, self.best = case, start
        self.until = monotonic() + time_limit_s
        self.wide = int(COLUMNS_A_SECOND * time_limit_s)
        self.lines: list[Line] = []
        self.tried: Tried = set()

    def run(self) -> float:
        """The bound that results; `best` is the plan."""
        whole = _Part(orders=(None,) * len(self.case.charges), groups=())
        least = self.settled([whole], FIRST_S) if len(self.case.choices) <= SMALL else -inf
        if self.room(least) < 0:
            return least
        for rough in (False, True):
            try:
                self.lines = lines_of(self.case, rough=rough)
                break
            except GiveUp:
                continue
        if rough:
            return max(least, self.settled([whole], inf))
        kits = sorted({kit for line in self.lines for kit in line.kits})
        values = {kit: tuple((n,) for n in possible(self.case, kit)) for kit in kits}
        groups = tuple(Group(kits=(kit,), values=values[kit]) for kit in kits)
        return max(least, self.narrow([replace(whole, groups=groups)]))

    def narrow(self, parts: list[_Part]) -> float:
        """Narrow by turns with the integer programme, which has as long a turn: some need the other."""
        turn_s, begun, bound, least = TURN_S, thread_time(), inf, -inf
        while parts and self.room(least) >= 0:
            part = parts.pop()
            if self.room(part.bound) < 0:
                continue
            try:
                parts += self.narrowed(part)
            except GiveUp:
                bound = min(bound, self.settled([part], inf))
            if parts and thread_time() > begun + turn_s:
                least = max(least, min(bound, self.settled(parts, turn_s)))
                turn_s, begun = turn_s * 4, thread_time()
        return max(bound, least)

    def room(self, bound: float) -> float:
        """How far above a bound a plan that is cheaper than the best can lie; below 0: there is none."""
        net, step = float(self.case.net(self.best)), self.case.step or FINEST
        return net - step - bound + min(step / 2, 1e-6 * max(net, 1.0))

    def found(self, counts: Counts | None) -> None:
        if counts is not None and self.case.holds(counts):
            self.best = min(self.best, trimmed(self.case, counts), key=self.case.net)

    def settled(self, parts: Sequence[_Part], seconds: float) -> float:
        """The bound of these parts after the integer programme has had so long, or what time is left."""
        least = min(part.bound for part in parts)
        left = self.until - monotonic()
        if left < 0 and least > -inf:
            return least
        limits = [_limits(self.case, part.groups) for part in parts]
        counts, bound = solve(
            self.case,
            min(left - min(POLISH_S, left / 10), seconds),
            between=(
                tuple(map(min, zip(*(low for low, _ in limits), strict=True))),
                tuple(map(max, zip(*(high for _, high in limits), strict=True))),
            ),
            orders=parts[0].orders if len(parts) == 1 else (),
            below=float(self.case.net(self.best)),
        )
        self.found(counts)
        bound = max(least, bound)
        if self.lines and self.room(bound) >= 0:
            until = min(self.until, monotonic() + POLISH_S)
            self.found(polished(self.case, self.lines, self.best, until))
        return bound

    def narrowed(self, part: _Part) -> list[_Part]:
        """What is left of a part, the most hopeful last; GiveUp when no relaxation narrows it."""
        if monotonic() > self.until:
            raise GiveUp
        relaxed = relax(
            self.case,
            self.lines,
            part.groups,
            part.orders,
            wide=self.wide,
            time_limit_s=self.until - monotonic(),
        )
        if relaxed is None:
            return []
        bound = max(part.bound, relaxed.bound)
        for counts in guesses(self.case, self.lines, part.groups, relaxed, self.tried):
            self.found(counts)
        room = self.room(bound)
        groups = tuple(
            group.only([cost <= room for cost in dearer])
            for group, dearer in zip(part.groups, relaxed.dearer, strict=True)
        )
        if room < 0 or not all(group.values for group in groups):
            return []
        rest = replace(part, groups=groups, bound=bound)
        halves = self.halves(part, relaxed)
        if halves:
            supplier = min(halves, key=lambda s: abs(relaxed.orders[s] - 0.5))
            two = [rest.without(self.case, supplier), rest.with_order(supplier)]
            two = [half for half in two if all(group.values for group in half.groups)]
            return two if relaxed.orders[supplier] > 0.5 else two[::-1]
        tied = _tied(self.case, groups)
        values = [sum(len(group.values) for group in some) for some in (part.groups, groups)]
        no_closer = bound <= part.bound + 1e-6 * max(abs(bound), 1.0)
        if no_closer and len(tied) == len(groups) and values[1] >= values[0] * SLOW:
            return rest.split(_evenest(part.groups, groups, relaxed))
        return [replace(rest, groups=tied)]

    def halves(self, part: _Part, relaxed: Relaxed) -> list[int]:
        """Suppliers from whom the relaxation neither orders nor does not."""
        return [
            s
            for s, (charge, ordered) in enumerate(zip(self.case.charges, part.orders, strict=True))
            if ordered is None
            and (charge.delivery or charge.minimum)
            and SETTLED < relaxed.orders[s] < 1 - SETTLED
        ]


def _evenest(
    before: Sequence[Group], after: Sequence[Group], relaxed: Relaxed
) -> tuple[int, Counts]:
    """The group about which the relaxation is least decided, and the value it has most of."""
    open_ = []
    for n, (group, left, parts) in enumerate(zip(before, after, relaxed.parts, strict=True)):
        if len(left.values) > 1:
            part, value = max(
                (p, v) for p, v in zip(parts, group.values, strict=True) if v in left.values
            )
            open_.append((part, n, value))
    if not open_:
        raise GiveUp
    _, n, value = min(open_)
    return n, value


def _limits(case: Case, groups: Iterable[Group]) -> Limits:
    low, high = [0] * len(case.choices), list(case.most)
    for group in groups:
        for i, counts in zip(group.kits, zip(*group.values, strict=True), strict=True):
            low[i] = min(counts)
            if max(counts) < case.useful[i]:
                high[i] = max(counts)
    return tuple(low), tuple(high)


def _tied(case: Case, groups: Sequence[Group]) -> tuple[Group, ...]:
    """Groups that share lines made one, those that share most first, as long as few values result."""
    tied = list(groups)
    keys = [frozenset(key for i in g.kits for key in case.choices[i].contents) for g in tied]
    while True:
        gone: set[int] = set()
        for _, a, b in sorted(_pairs(tied, keys), reverse=True):
            if not gone & {a, b}:
                gone |= {a, b}
                values = tuple(x + y for x in tied[a].values for y in tied[b].values)
                tied.append(Group(kits=tied[a].kits + tied[b].kits, values=values))
                keys.append(keys[a] | keys[b])
        if not gone:
            return tuple(tied)
        tied = [group for n, group in enumerate(tied) if n not in gone]
        keys = [held for n, held in enumerate(keys) if n not in gone]


def _pairs(
    groups: Sequence[Group], keys: Sequence[frozenset[str]]
) -> Iterator[tuple[float, int, int]]:
    """Groups that may be tied: how much they share for the values that result, and which."""
    undecided = [n for n, group in enumerate(groups) if len(group.values) > 1]
    for a, b in combinations(undecided, 2):
        shared, values = len(keys[a] & keys[b]), len(groups[a].values) * len(groups[b].values)
        if shared > 1 and values <= TIED:
            yield shared / values**0.5, a, b

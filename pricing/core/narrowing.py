"""The cheapest counts, proven soon: how often each mixed kit can be bought is narrowed down first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import combinations
from math import inf
from time import monotonic

from pricing.core.covering import Case, Counts, solve, trimmed
from pricing.core.relaxing import GiveUp, Group, lines_of, possible, relax

ROUNDS = 6
TIED = 300  # values of a group at most
GUESS_S = 2.0
GUESS_GAPS = (0.005, 0.001)  # how near the best a guess has to be: at first, and then
FINEST = 0.01  # of a minor unit: a plan that is cheaper by less is no cheaper

type Limits = tuple[Counts, Counts]


def cheapest(case: Case, start: Counts, time_limit_s: float) -> tuple[Counts, Fraction]:
    """The cheapest counts found in time, never dearer than `start`, and what none can be cheaper than.

    The latter is the net cost itself when it is proven that nothing is cheaper.
    """
    if not case.covers:
        return start, case.net(start)
    until = monotonic() + time_limit_s
    best, bound, limits = _narrowed(case, start, until)
    if _room(case, best, bound) >= 0:
        found, proven = solve(case, until - monotonic(), between=limits)
        best = _better(case, best, found)
        bound = max(bound, proven)
    net = case.net(best)
    return best, net if _room(case, best, bound) < 0 else Fraction(max(bound, 0.0))


def _better(case: Case, best: Counts, found: Counts | None) -> Counts:
    return best if found is None else min(best, trimmed(case, found), key=case.net)


def _room(case: Case, best: Counts, bound: float) -> float:
    """How far above the bound a plan that is cheaper than the best can lie; below 0: there is none."""
    net, step = float(case.net(best)), case.step or FINEST
    return net - step - bound + min(step / 2, 1e-6 * max(net, 1.0))


def _narrowed(case: Case, best: Counts, until: float) -> tuple[Counts, float, Limits | None]:
    """The best counts so far, the bound, and the limits between which anything cheaper lies.

    The reduced costs of a relaxation tell which numbers of a kit no cheaper plan can have. What
    remains is tied into groups of kits that share lines, whose relaxation is closer, and narrowed
    again.
    """
    bound, limits = -inf, None
    try:
        lines = lines_of(case)
        groups = [
            Group(kits=(kit,), values=tuple((n,) for n in possible(case, kit)))
            for kit in sorted({kit for line in lines for kit in line.kits})
        ]
        for turn in range(ROUNDS):
            relaxed = relax(case, lines, groups, until - monotonic())
            if relaxed is None:
                return best, inf, None
            bound = max(bound, relaxed.bound)
            guess = [group.only(used) for group, used in zip(groups, relaxed.used, strict=True)]
            seconds, gap = min(until - monotonic(), GUESS_S), GUESS_GAPS[turn > 0]
            found, _ = solve(case, seconds, between=_limits(case, guess), gap=gap)
            best = _better(case, best, found)
            room = _room(case, best, bound)
            groups = [
                group.only([cost <= room for cost in dearer])
                for group, dearer in zip(groups, relaxed.dearer, strict=True)
            ]
            if room < 0 or not all(group.values for group in groups):
                return best, inf, None
            limits = _limits(case, groups)
            groups = _tied(case, groups)
    except GiveUp:
        pass
    return best, bound, limits


def _limits(case: Case, groups: Iterable[Group]) -> Limits:
    low, high = [0] * len(case.choices), list(case.most)
    for group in groups:
        for i, counts in zip(group.kits, zip(*group.values, strict=True), strict=True):
            low[i] = min(counts)
            if max(counts) < case.useful[i]:
                high[i] = max(counts)
    return tuple(low), tuple(high)


def _tied(case: Case, groups: Sequence[Group]) -> list[Group]:
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
            return tied
        tied = [group for n, group in enumerate(tied) if n not in gone]
        keys = [held for n, held in enumerate(keys) if n not in gone]


def _pairs(groups: Sequence[Group], keys: Sequence[frozenset[str]]) -> list[tuple[float, int, int]]:
    """Groups that may be tied: how much they share for the values that result, and which."""
    undecided = [n for n, group in enumerate(groups) if len(group.values) > 1]
    pairs = []
    for a, b in combinations(undecided, 2):
        shared, values = len(keys[a] & keys[b]), len(groups[a].values) * len(groups[b].values)
        if shared > 1 and values <= TIED:
            pairs.append((shared / values**0.5, a, b))
    return pairs

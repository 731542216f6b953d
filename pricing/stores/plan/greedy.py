"""A sound buying plan without a solver: each line's cheapest packs alone, orders filled up, the spare left out."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from fractions import Fraction
from math import gcd

from pricing.stores.plan.covering import Case, Counts, Cover

LINE_CELLS = 100_000  # of the table for one line


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

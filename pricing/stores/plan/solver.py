"""The cheapest packs by integer programming (HiGHS): what it answers is rounded, then checked in whole numbers."""

from __future__ import annotations

from fractions import Fraction
from math import inf, isfinite
from time import monotonic

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, csc_array

from pricing.stores.plan.covering import Case, Counts
from pricing.stores.plan.greedy import trimmed

WHOLE, WHOLE_OR_NONE = 1, 3  # kinds of columns, as the solver numbers them
NEAR = 0.005  # a part of the cost: a plan that is proven to lie within it of the cheapest is near enough
PROOF_SHARE = (
    0.5  # of the time: in what is left of it a plan that is near enough is improved or proven
)
PROOF_NODES = (
    1_000  # of the search for that, so that a slower machine as a rule ends where a faster one does
)
FINEST = 0.01  # of a minor unit: a plan that is cheaper by less is no cheaper

type Terms = list[tuple[int, float]]  # column, factor


def cheapest(case: Case, start: Counts, time_limit_s: float) -> tuple[Counts, Fraction]:
    """The cheapest counts found in time, never dearer than `start`, and a net cost below which none lies.

    The latter is that of the counts when it is proven that nothing is cheaper. First the solver stops as
    soon as it is `NEAR`, by the same steps on every machine; then, up to `PROOF_NODES` and while half the
    time lasts, it looks for the cheapest itself. `start` has to hold: it is the plan where it finds none.
    """
    best, bound = start, -inf
    begun = monotonic()
    for near, nodes, share in ((NEAR, None, 1.0), (0.0, PROOF_NODES, PROOF_SHARE)):
        left_s = begun + share * time_limit_s - monotonic()
        if left_s <= 0 or _is_cheapest(case, best, bound):
            break
        counts, least = _solve(case, left_s, near, nodes)
        bound = max(bound, least)
        if counts is not None:
            best = min(best, trimmed(case, counts), key=case.net)
    net = case.net(best)
    if _is_cheapest(case, best, bound):
        return best, net
    return best, -case.most_worth if bound == -inf else Fraction(bound)


def _is_cheapest(case: Case, counts: Counts, bound: float) -> bool:
    """Whether no plan's cost lies between the bound and that of the counts: costs go by steps."""
    if not case.covers:
        return True
    net, step = float(case.net(counts)), case.step or FINEST
    return net - step + min(step / 2, 1e-6 * max(net, 1.0)) < bound


def _solve(
    case: Case, time_limit_s: float, near: float, nodes: int | None
) -> tuple[Counts | None, float]:
    """What the solver finds until it is so near, or out of time or nodes; a net cost below which none lies.

    No counts where it finds none, or none that hold in whole numbers; no bound (−inf) where it has none.
    """
    costs = [
        *(float(c.price) for c in case.choices),
        *(float(charge.delivery) for charge in case.charges),
        *(-float(worth.each) for worth in case.leftovers.values()),
    ]
    scale = case.step or 1
    bounds, kinds = _columns(case)
    rows = _rows(case)
    answer = milp(
        np.array(costs) / scale,
        constraints=LinearConstraint(rows.matrix(len(costs)), lb=rows.at_least),
        bounds=bounds,
        integrality=kinds,
        options={
            "time_limit": time_limit_s,
            "node_limit": nodes,
            "mip_rel_gap": near,
        },
    )
    least = answer.mip_dual_bound
    bound = float(least) * scale if least is not None and isfinite(least) else -inf
    if answer.x is None:
        return None, bound
    counts = tuple(round(x) for x in answer.x[: len(case.choices)])
    return (counts if case.holds(counts) else None), bound


class _Rows:
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


def _columns(case: Case) -> tuple[Bounds, list[int]]:
    """A count for each choice, a switch for each supplier, an amount for each leftover: limits and kinds."""
    lots = [c.minimum > 1 for c in case.choices]
    left = case.leftovers.values()
    bounds = Bounds(
        [
            *(c.minimum if lot else 0 for c, lot in zip(case.choices, lots, strict=True)),
            *(0 for _ in (*case.charges, *left)),
        ],
        [*case.most, *(1 for _ in case.charges), *(worth.at_most for worth in left)],
    )
    kinds = [WHOLE_OR_NONE if lot else WHOLE for lot in lots]
    return bounds, [*kinds, *(WHOLE for _ in case.charges), *(0 for _ in left)]


def _rows(case: Case) -> _Rows:
    rows = _Rows()
    for cover in case.covers:
        # What exceeds the need counts no more than the need: the same whole packs, a tighter programme.
        many = {i: min(case.choices[i].contents[cover.key], cover.need) for i in cover.choices}
        rows.add(list(many.items()), cover.need)
    first = len(case.choices)
    for s, charge in enumerate(case.charges):
        bought = [i for i, choice in enumerate(case.choices) if choice.supplier == s]
        for i in bought if charge.delivery or charge.minimum else ():
            rows.add([(i, -1), (first + s, case.most[i])], 0)
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

"""Ribbon off the roll: which cuts come from which roll so that the fewest rolls are opened."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import ceil, gcd, inf
from time import monotonic

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

FEW_PATTERNS = 2_000  # as many as the solver takes whole in a second or so
TABLE_CELLS = 60_000_000  # bytes of the knapsack's table at most
SCALE = 1_000_000  # worths of cuts are whole millionths of a roll, so that bounds are exact

type Pattern = tuple[int, ...]  # how often each length, in the order of the lengths


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRoll:
    """One way to cut a roll, and how many rolls are cut so."""

    pattern: tuple[tuple[int, int], ...]  # (length of a cut in mm, how many), longest first
    times: int
    left_mm: int  # what remains of each


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting:
    rolls: tuple[CutRoll, ...]
    roll_mm: int
    at_least: int  # no cutting needs fewer rolls
    proven: bool  # that this is the fewest

    @property
    def count(self) -> int:
        return sum(roll.times for roll in self.rolls)

    @property
    def left_mm(self) -> int:
        return sum(roll.left_mm * roll.times for roll in self.rolls)


def cut_rolls(
    cuts_mm: Mapping[int, int] | Sequence[int], roll_mm: int, *, time_limit_s: float = 10
) -> Cutting:
    """The fewest rolls that hold all cuts, and how each roll is cut.

    `cuts_mm` is length → how many, or one length for each cut. First fit decreasing is tried against
    the total length; where they differ, an integer programme over cutting patterns decides (Gilmore
    and Gomory 1961): over all patterns when there are few, else over those that column generation
    finds. Then `proven` is only true when the count meets a bound worked out in whole numbers.
    ValueError when a length or a count makes no sense or a cut is longer than a roll.

    >>> cutting = cut_rolls({1200: 3, 800: 2}, 2000)
    >>> [(roll.pattern, roll.times) for roll in cutting.rolls]
    [(((1200, 1), (800, 1)), 2), (((1200, 1),), 1)]
    """
    wanted = _checked(cuts_mm, roll_mm)
    lengths, counts = tuple(wanted), tuple(wanted.values())
    first_fit = _first_fit_decreasing(lengths, counts, roll_mm)
    best, at_least = first_fit, -(-sum(a * n for a, n in wanted.items()) // roll_mm)
    if first_fit.total() > at_least:
        best, at_least = _fewer(lengths, counts, roll_mm, first_fit, at_least, time_limit_s)
    rolls = [
        CutRoll(
            pattern=tuple((a, n) for a, n in zip(lengths, pattern, strict=True) if n),
            times=times,
            left_mm=roll_mm - _length(pattern, lengths),
        )
        for pattern, times in sorted(best.items(), reverse=True)
    ]
    return Cutting(
        rolls=tuple(rolls),
        roll_mm=roll_mm,
        at_least=at_least,
        proven=best.total() == at_least,
    )


def _checked(cuts_mm: Mapping[int, int] | Sequence[int], roll_mm: int) -> dict[int, int]:
    """Length → how many, longest first."""
    if roll_mm <= 0:
        raise ValueError(f"roll_mm: expected more than 0, got {roll_mm}")
    cuts = dict(cuts_mm) if isinstance(cuts_mm, Mapping) else Counter(cuts_mm)
    for length, count in cuts.items():
        if not isinstance(length, int) or not 0 < length <= roll_mm:
            raise ValueError(
                f"cuts_mm: expected whole mm above 0, up to the roll's {roll_mm} mm, got {length} mm"
            )
        if count < 0:
            raise ValueError(f"cuts_mm: expected 0 or more cuts of {length} mm, got {count}")
    return {length: cuts[length] for length in sorted(cuts, reverse=True) if cuts[length]}


def _length(pattern: Pattern, lengths: Sequence[int]) -> int:
    return sum(a * n for a, n in zip(lengths, pattern, strict=True))


def _fill(lengths: Sequence[int], left: Sequence[int], roll_mm: int) -> Pattern:
    """The longest cuts first, as many of each as fit and are left."""
    pattern, room = [], roll_mm
    for length, count in zip(lengths, left, strict=True):
        pattern.append(min(count, room // length))
        room -= pattern[-1] * length
    return tuple(pattern)


def _first_fit_decreasing(
    lengths: Sequence[int], counts: Sequence[int], roll_mm: int
) -> Counter[Pattern]:
    """Roll by roll, which comes to the same as cut by cut; alike rolls are cut in one go."""
    rolls: Counter[Pattern] = Counter()
    left = list(counts)
    while any(left):
        pattern = _fill(lengths, left, roll_mm)
        times = min(n // used for n, used in zip(left, pattern, strict=True) if used)
        rolls[pattern] += times
        left = [n - used * times for n, used in zip(left, pattern, strict=True)]
    return rolls


def _fewer(
    lengths: tuple[int, ...],
    counts: tuple[int, ...],
    roll_mm: int,
    best: Counter[Pattern],
    at_least: int,
    time_limit_s: float,
) -> tuple[Counter[Pattern], int]:
    """Fewer rolls than `best` if there are, and the highest bound that was proven."""
    until = monotonic() + time_limit_s
    unit = gcd(roll_mm, *lengths)
    lengths, roll = tuple(a // unit for a in lengths), roll_mm // unit
    patterns = _all_patterns(lengths, counts, roll)
    whole = patterns is not None
    if patterns is None:
        patterns, dived, bound = _dive(lengths, counts, roll, list(best), until)
        at_least = max(at_least, bound)
        best = min(best, dived, key=Counter.total)
    if best.total() > at_least:
        found, bound = _fewest_of(patterns, counts, max(until - monotonic(), 0.1))
        if whole:
            at_least = max(at_least, bound)
        if found is not None and found.total() < best.total():
            best = found
    return best, min(at_least, best.total())


def _all_patterns(lengths: Sequence[int], counts: Sequence[int], roll: int) -> list[Pattern] | None:
    """Every pattern to which no wanted cut can be added; None when there are many."""
    found: list[Pattern] = []
    for steps, pattern in enumerate(_maximal(lengths, counts, roll), start=1):
        if pattern is not None:
            found.append(pattern)
        if len(found) > FEW_PATTERNS or steps > 20 * FEW_PATTERNS:
            return None
    return found


def _maximal(lengths: Sequence[int], counts: Sequence[int], roll: int) -> Iterator[Pattern | None]:
    """Maximal patterns, longest cuts first; None for each that turned out not to be one."""
    last = len(lengths) - 1
    pattern = [0] * len(lengths)

    def grow(i: int, room: int, smallest_refused: float) -> Iterator[Pattern | None]:
        most = min(counts[i], room // lengths[i])
        for n in range(most, -1 if i < last else most - 1, -1):
            pattern[i] = n
            rest = room - n * lengths[i]
            refused = lengths[i] if n < counts[i] else smallest_refused
            if i < last:
                yield from grow(i + 1, rest, min(refused, smallest_refused))
            else:
                yield tuple(pattern) if rest < min(refused, smallest_refused) else None

    return grow(0, roll, inf)


def _fewest_of(
    patterns: Sequence[Pattern], counts: Sequence[int], time_limit_s: float
) -> tuple[Counter[Pattern] | None, int]:
    """The fewest rolls by these patterns, and a bound that holds for these patterns."""
    answer = milp(
        np.ones(len(patterns)),
        constraints=LinearConstraint(np.array(patterns, dtype=float).T, lb=counts),
        integrality=np.ones(len(patterns)),
        bounds=Bounds(0, inf),
        options={"time_limit": time_limit_s, "mip_rel_gap": 0},
    )
    bound = 0 if answer.mip_dual_bound is None else max(ceil(answer.mip_dual_bound - 1e-6), 0)
    if answer.x is None:
        return None, bound
    times = {p: round(x) for p, x in zip(patterns, answer.x, strict=True) if round(x)}
    return _each_cut_once(times, counts), bound


def _each_cut_once(times: Mapping[Pattern, int], counts: Sequence[int]) -> Counter[Pattern] | None:
    """The same rolls without the cuts that nobody wants; None when one is missing."""
    rolls: Counter[Pattern] = Counter()
    left = list(counts)
    for pattern, many in times.items():
        for _ in range(many):
            used = _cut_down(pattern, left)
            left = [rest - n for n, rest in zip(used, left, strict=True)]
            if any(used):
                rolls[used] += 1
    return None if any(left) else rolls


def _dive(
    lengths: Sequence[int],
    counts: Sequence[int],
    roll: int,
    start: Sequence[Pattern],
    until: float,
) -> tuple[list[Pattern], Counter[Pattern], int]:
    """Patterns worth having, a cutting made of them, and a bound that holds for every cutting.

    The relaxed programme is solved, its whole rolls are cut (or the nearest to a whole one, when
    there is none), and what is left is a smaller problem, until nothing is.
    """
    known = dict.fromkeys(start)
    rolls: Counter[Pattern] = Counter()
    left, bound = list(counts), 0
    while any(left) and monotonic() < until:
        fitting = dict.fromkeys(_cut_down(p, left) for p in known)
        shares, proven = _generate(lengths, left, roll, fitting, until)
        known |= fitting
        bound = bound or proven
        times = {p: int(x + 1e-6) for p, x in shares.items() if x >= 1 - 1e-6}
        for pattern, most in (times or {max(shares, key=lambda p: shares[p]): 1}).items():
            used = min([most, *(n // k for n, k in zip(left, pattern, strict=True) if k)])
            rolls[pattern] += used
            left = [n - k * used for n, k in zip(left, pattern, strict=True)]
    rolls += _first_fit_decreasing(lengths, left, roll)
    return list(known), rolls, bound


def _cut_down(pattern: Pattern, left: Sequence[int]) -> Pattern:
    return tuple(min(n, most) for n, most in zip(pattern, left, strict=True))


def _generate(
    lengths: Sequence[int],
    counts: Sequence[int],
    roll: int,
    patterns: dict[Pattern, None],
    until: float,
) -> tuple[dict[Pattern, float], int]:
    """Column generation: rolls by pattern, in parts of a roll, and the bound that this proves.

    For any worths of the cuts, all cuts together are worth at most rolls × the best roll, so
    rolls ≥ worth of all / worth of the best roll (Farley 1990). Worths are whole numbers here and the
    best roll is found exactly, so the bound owes nothing to rounding. `patterns` grows.
    """
    bound = 0
    affordable = sum(n.bit_length() for n in counts) * (roll + 1) <= TABLE_CELLS
    while True:
        shares = linprog(
            np.ones(len(patterns)),
            A_ub=-np.array(list(patterns), dtype=float).T,
            b_ub=-np.array(counts, dtype=float),
        )
        by_pattern = dict(zip(patterns, map(float, shares.x), strict=True))
        if not affordable or monotonic() >= until:
            return by_pattern, bound
        worths = [max(round(-y * SCALE), 0) for y in shares.ineqlin.marginals]
        pattern = _worthiest(lengths, counts, worths, roll)
        best = sum(w * n for w, n in zip(worths, pattern, strict=True))
        bound = max(bound, -(-sum(w * n for w, n in zip(worths, counts, strict=True)) // best))
        if pattern in patterns or best <= SCALE + sum(pattern):
            return by_pattern, bound
        patterns[pattern] = None


def _worthiest(
    lengths: Sequence[int], counts: Sequence[int], worths: Sequence[int], roll: int
) -> Pattern:
    """The cuts that fit one roll and are worth most: a knapsack, solved in whole numbers."""
    value = np.zeros(roll + 1, dtype=np.int64)
    taken: list[tuple[int, int, NDArray[np.bool_]]] = []
    for i, (length, count, worth) in enumerate(zip(lengths, counts, worths, strict=True)):
        for many in _lots(min(count, roll // length) if worth else 0):
            size = many * length
            better = np.zeros(roll + 1, dtype=np.bool_)
            with_it = value[: roll + 1 - size] + many * worth
            better[size:] = with_it > value[size:]
            value[size:] = np.maximum(value[size:], with_it)
            taken.append((i, many, better))
    pattern, room = [0] * len(lengths), roll
    for i, many, better in reversed(taken):
        if better[room]:
            pattern[i] += many
            room -= many * lengths[i]
    return tuple(pattern)


def _lots(count: int) -> Iterator[int]:
    """Lots that make any number up to `count`: 1, 2, 4, … and the rest."""
    lot = 1
    while count > 0:
        yield min(lot, count)
        count -= lot
        lot *= 2

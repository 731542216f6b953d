"""A line of a buying plan by itself: what covers it, and what its own packs cost beside the kits."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from operator import add, ge, le

from pricing.stores.plan.covering import Case, Counts, Cover

MANY_WAYS = 600  # to buy a line's own packs at most
TOO_MANY_WAYS = 10_000  # before the best of them are picked


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
    covers: bool = True  # the line

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


def possible(case: Case, i: int) -> range | tuple[int, ...]:
    """How often a choice can be of use."""
    return (0, *range(case.choices[i].minimum, case.useful[i] + 1))


def lines_of(case: Case, *, rough: bool = False) -> list[Line]:
    """One line a key. GiveUp when there are too many ways to buy one.

    Roughly: with the cheapest ways only, whatever they leave an order short of its minimum.
    """
    holders: dict[str, list[int]] = defaultdict(list)
    for i, choice in enumerate(case.choices):
        for key in choice.contents:
            holders[key].append(i)
    covers: dict[str, list[Cover]] = defaultdict(list)
    for cover in case.covers:
        covers[cover.key].append(cover)
    return [_line(case, key, covers[key], held, rough) for key, held in holders.items()]


def _line(
    case: Case, key: str, covers: Sequence[Cover], holders: Iterable[int], rough: bool
) -> Line:
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
    strict = () if rough else tuple(sorted(s for s in sellers if case.charges[s].minimum))
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
            if len(grown) > TOO_MANY_WAYS:
                raise GiveUp
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

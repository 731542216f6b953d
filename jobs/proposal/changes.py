"""What differs between two versions of a proposal, in a client's words. Pure."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from jobs.design.document import Design
from jobs.proposal.frozen import Contents, OfferedChoice, OfferedEvent
from pricing.core.money import Money


@dataclass(frozen=True, slots=True, kw_only=True)
class OfferedWay:
    """One alternative of a version, without extras."""

    letter: str  # "" where there is but one
    name: str
    total: Money
    extras: tuple[str, ...]
    pieces: dict[str, str]  # what stands there by name, and everything that makes it
    shades: dict[str, str]
    colours: Mapping[str, int]  # balloons of each; empty where they were not kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """What is frozen of a version, as far as a client would compare it."""

    number: int
    event: OfferedEvent | None  # None where it was not kept
    ways: tuple[OfferedWay, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Writing:
    """How the studio writes money and days."""

    money: Callable[[Money], str]
    day: Callable[[datetime], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class FrozenWay:
    """An alternative as it was frozen, without extras."""

    choice: OfferedChoice
    design: Design
    contents: Contents | None


def version_of(number: int, ways: Sequence[FrozenWay], event: OfferedEvent | None) -> Version:
    """A version from what was frozen of it. Of several alternatives each has its letter."""
    return Version(
        number=number, event=event, ways=tuple(_way(way, is_one=len(ways) == 1) for way in ways)
    )


def _way(frozen: FrozenWay, *, is_one: bool) -> OfferedWay:
    choice, design = frozen.choice, frozen.design
    return OfferedWay(
        letter="" if is_one else choice.letter,
        name=choice.name,
        total=choice.figures.total,
        extras=choice.extras,
        pieces=dict(_pieces(design)),
        shades={colour.name: f"{colour.hex} {colour.finish}" for colour in design.palette},
        colours=frozen.contents.colours if frozen.contents else {},
    )


def _pieces(design: Design) -> Iterator[tuple[str, str]]:
    """Every piece by name with the recipes that it uses; of the same name: numbered."""
    seen: dict[str, int] = {}
    for piece in design.pieces:
        name = piece.name
        seen[name] = seen.get(name, 0) + 1
        text = piece.model_dump_json()
        used = [
            r.model_dump_json()
            for r in design.recipes
            if json.dumps(r.name, ensure_ascii=False) in text
        ]
        yield (name if seen[name] == 1 else f"{name} ({seen[name]})", text + "".join(used))


def changes_between(before: Version, after: Version, write: Writing) -> tuple[str, ...]:
    """Sentences, the weightiest first; one that says so when nothing differs."""
    said = [*_event(before.event, after.event, write), *_ways(before.ways, after.ways, write)]
    return tuple(said) or ("Date, place, pieces and price are as they were.",)


def _event(was: OfferedEvent | None, now: OfferedEvent | None, write: Writing) -> Iterator[str]:
    if not was or not now:
        return
    if was.starts.date() != now.starts.date():
        yield f"It is on {write.day(now.starts)}; it was on {write.day(was.starts)}."
    hours = [f"{event.starts:%H:%M} to {event.ends:%H:%M}" for event in (was, now)]
    if hours[0] != hours[1]:
        yield f"It lasts from {hours[1]}; it was {hours[0]}."
    if was.venue != now.venue:
        yield f"It is at {now.venue}; it was at {was.venue}."


def _ways(
    before: tuple[OfferedWay, ...], after: tuple[OfferedWay, ...], write: Writing
) -> Iterator[str]:
    """Alternatives by letter; where one side has but one, it is held against the other's first."""
    known = {way.letter: way for way in before}
    told = set()
    for place, way in enumerate(after):
        was = known.get(way.letter)
        if was is None and place == 0 and "" in (way.letter, before[0].letter):
            was = before[0]
        if was is None:
            name = f"Choice {way.letter}{', ' + way.name if way.name else ''}"
            yield f"{name} is new: {write.money(way.total)}."
            continue
        told.add(was.letter)
        first = f"Choice {way.letter}: " if len(after) > 1 else ""
        for sentence in _way_changes(was, way, write):
            yield first + sentence if first else sentence[0].upper() + sentence[1:]
    for way in before:
        if way.letter not in told:
            yield f"Choice {way.letter}{', ' + way.name if way.name else ''} is no longer offered."


def _way_changes(was: OfferedWay, now: OfferedWay, write: Writing) -> Iterator[str]:
    if was.total != now.total:
        yield f"the total is {write.money(now.total)}; it was {write.money(was.total)}."
    yield from (f"{name} is new." for name in now.pieces if name not in was.pieces)
    yield from (f"{name} is no longer there." for name in was.pieces if name not in now.pieces)
    for name, made in now.pieces.items():
        if was.pieces.get(name, made) != made:
            yield f"{name} is built differently."
    yield from _colours(was, now)
    yield from (f"you may now add “{x}”." for x in now.extras if x not in was.extras)
    yield from (f"“{x}” can no longer be added." for x in was.extras if x not in now.extras)


def _colours(was: OfferedWay, now: OfferedWay) -> Iterator[str]:
    for name, shade in now.shades.items():
        if was.shades.get(name, shade) != shade:
            yield f"{name} is another shade."
    if not was.colours or not now.colours:
        return
    for name, many in now.colours.items():
        before = was.colours.get(name, 0)
        if not before:
            yield f"{name} is new: {_balloons(many)}."
        elif before != many:
            yield f"{name}: {_balloons(many)}; it was {before}."
    yield from (f"{name} is no longer there." for name in was.colours if name not in now.colours)


def _balloons(many: int) -> str:
    return f"{many} balloon{'' if many == 1 else 's'}"

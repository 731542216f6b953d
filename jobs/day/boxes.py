"""What is packed where. Pure: every surface that says what goes into the van says what `pack` says."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

from jobs.day.bags import Bag, Carried
from jobs.design.needs import balloon_key
from jobs.design.parts import PART_KINDS
from jobs.design.parts.base import Box
from jobs.design.takeoff import KitToPack, TakeOff
from pricing.core.need import Need
from pricing.core.supply_keys import write_key
from studio.measure import Units, write_amount

type Kind = Literal["box", "loose", "bags"]

# In the order in which the van is loaded: what is needed last goes in first. (Common practice, no source.)
DOWN, SPARES, SOFT, FIXINGS, INFLATE, TOOLS, GAS, FRAME, SAFETY, BAGS = (
    "For the take-down", "Spare balloons", "Greenery and ribbon", "Fixings", "To inflate on site", "Tools", "Helium",
    "Frame", "Safety, first out", "Bags of balloons, on top",
)  # fmt: skip
KINDS: dict[str, Kind] = {
    DOWN: "box", SPARES: "box", SOFT: "box", FIXINGS: "box", INFLATE: "box", TOOLS: "box", GAS: "loose",
    FRAME: "loose", SAFETY: "box", BAGS: "bags",
}  # fmt: skip
BOXES: dict[Box, str] = {"soft": SOFT, "fixings": FIXINGS, "gas": GAS, "frame": FRAME}
# By the kind of supply: each loose part says where its own go; all others are fixings.
BY_KIND = {kind: BOXES[box] for part in PART_KINDS.values() for kind, box in part.boxes.items()}
ON_SITE = "/on site"  # ends the tick of balloons that are blown there
BY_GROUP = {"frame": FRAME, "safety": SAFETY, "tools": TOOLS}
BY_NAME = {
    "bin bags": DOWN, "pin on a handle": DOWN, "cylinder of helium with filler and strap": GAS,
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """One thing to pack, and to tick."""

    key: str  # stable within the job, for its tick; never shown
    where: str  # name of its group
    what: str
    count: str  # "12 ×" or "5.40 m"
    why: str = ""
    inside: tuple[str, ...] = ()  # of a bag: balloons by size and colour


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxGroup:
    """A box, things that lie loose, or the bags."""

    number: int  # the same on labels, page, list and Build
    name: str
    kind: Kind
    things: tuple[Packed, ...]

    @property
    def title(self) -> str:
        return f"{self.number}. {self.name}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Packing:
    """Everything that must be in the van, in the order in which it is loaded."""

    groups: tuple[BoxGroup, ...]

    @property
    def things(self) -> tuple[Packed, ...]:
        return tuple(thing for group in self.groups for thing in group.things)

    @property
    def boxes(self) -> tuple[BoxGroup, ...]:
        return tuple(group for group in self.groups if group.kind == "box")

    @property
    def bags(self) -> tuple[Packed, ...]:
        return tuple(t for group in self.groups if group.kind == "bags" for t in group.things)


def pack_boxes(takeoff: TakeOff, carried: Carried, units: Units) -> Packing:
    """Supplies, kit and bags in groups that are numbered in the order of loading; empty groups fall out."""
    consumables = [need for need in takeoff.needs if need.use == "consumable"]
    things = _each_once(
        [
            *_balloons(consumables, carried, units),
            *(_supply(need, units) for need in consumables if need.key.kind != "balloon"),
            *_kit(takeoff.kit),
            *(_bag(bag, len(carried.bags)) for bag in carried.bags),
        ]
    )
    found = {name: tuple(t for t in things if t.where == name) for name in KINDS}
    full = [(name, some) for name, some in found.items() if some]
    return Packing(
        groups=tuple(
            BoxGroup(number=i, name=name, kind=KINDS[name], things=some)
            for i, (name, some) in enumerate(full, 1)
        )
    )


def _each_once(things: list[Packed]) -> list[Packed]:
    """One tick for each: strands of two lengths are one supply, but two lines."""
    seen: Counter[str] = Counter()
    once = []
    for thing in things:
        tick = thing.key
        seen[tick] += 1
        once.append(replace(thing, key=f"{tick}/{thing.what}") if seen[tick] > 1 else thing)
    return once


def _balloons(needs: Iterable[Need], carried: Carried, units: Units) -> Iterator[Packed]:
    """Those for site and the spares; the others travel in their clusters."""
    on_site = Counter(balloon_key(b) for _, cluster in carried.on_site for b in cluster.balls)
    for need in needs:
        if need.key.kind != "balloon":
            continue
        if count := on_site[need.key]:
            yield Packed(
                key=write_key(need.key) + ON_SITE, where=INFLATE, what=need.label,
                count=_many(Decimal(count), need.unit, units),
            )  # fmt: skip
        if need.spare:
            yield Packed(
                key=write_key(need.key), where=SPARES, what=f"{need.label}, spare",
                count=_many(need.spare, need.unit, units),
            )  # fmt: skip


def _supply(need: Need, units: Units) -> Packed:
    return Packed(
        key=write_key(need.key),
        where=BY_KIND.get(need.key.kind, FIXINGS),
        what=need.label,
        count=_many(need.quantity + need.spare, need.unit, units),
        why=f"{_many(need.spare, need.unit, units).removesuffix(' ×')} of them spare" if need.spare else "",
    )  # fmt: skip


def _many(amount: Decimal, unit: str, units: Units) -> str:
    return write_amount(amount, unit, units) + (" ×" if unit == "each" else "")


def _kit(kit: Iterable[KitToPack]) -> Iterator[Packed]:
    """Pieces of one name share their lines."""
    counts: dict[str, int] = {}
    first: dict[str, KitToPack] = {}
    for item in kit:
        counts[item.name] = counts.get(item.name, 0) + item.count
        first.setdefault(item.name, item)
    for name, item in first.items():
        where = BY_NAME.get(name, BY_GROUP[item.group])
        yield Packed(
            key=f"kit/{name}", where=where, what=name, count=f"{counts[name]} ×", why=item.why
        )


def _bag(bag: Bag, of: int) -> Packed:
    """Its key says what is in it: another split is another bag, and not ticked yet."""
    return Packed(
        key=f"bag/{bag.clusters[0][0]}-{bag.clusters[-1][0]}",
        where=BAGS,
        what=f"bag {bag.number} of {of}: clusters {bag.numbers}",
        count="1 ×",
        why=f"{bag.contents}: {bag.balls} balloons",
        inside=bag.balloons,
    )

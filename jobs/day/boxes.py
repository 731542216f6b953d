"""What is packed where: boxes by what is opened when, frames loose, and what is still missing. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from jobs.design.takeoff import KitItem
from pricing.core.need import Need
from pricing.stock_words import plain

# Boxes in the order in which they are opened on site. (Common practice, no source.)
SAFETY, TOOLS, FIXINGS, SOFT, SPARES, LOOSE, DOWN = (
    "1 Safety", "2 Tools", "3 Fixings", "4 Greenery and ribbon", "5 Spare balloons", "Loose", "6 For the take-down",
)  # fmt: skip
BY_START = {
    "balloon": SPARES, "tie": FIXINGS, "fastener": FIXINGS, "tape": FIXINGS, "line": FIXINGS,
    "greenery": SOFT, "stem": SOFT, "ribbon": SOFT, "gas": LOOSE, "stick": SOFT, "weight": FIXINGS,
}  # fmt: skip
LATE = ("bin bags", "pin on a handle")


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """One thing to pack."""

    key: str  # stable within the job, for its tick
    box: str
    what: str
    count: str
    why: str = ""


def to_pack(needs: Iterable[Need], kit: Iterable[KitItem]) -> tuple[Packed, ...]:
    """Everything that must be in the van, box by box."""
    things = [_supply(need) for need in needs if need.use == "consumable"]
    things += [_kit(item) for item in kit]
    order = (SAFETY, TOOLS, FIXINGS, SOFT, SPARES, LOOSE, DOWN)
    return tuple(sorted(things, key=lambda p: order.index(p.box)))


def _supply(need: Need) -> Packed:
    """Balloons go inflated, in bags; their spares go in a box."""
    balloon = need.key.startswith("balloon/")
    many = need.spare if balloon else need.quantity + need.spare
    unit = "" if need.unit == "each" else f" {need.unit}"
    return Packed(
        key=need.key,
        box=BY_START.get(need.key.partition("/")[0], FIXINGS),
        what=f"{need.label}, spare" if balloon else need.label,
        count=f"{plain(many)}{unit}",
    )


def _kit(item: KitItem) -> Packed:
    box = {"frame": LOOSE, "safety": SAFETY, "tools": TOOLS}[item.group]
    return Packed(
        key=f"kit/{item.name}",
        box=DOWN if item.name in LATE else box,
        what=item.name,
        count=str(item.count),
        why=item.why,
    )


def boxes(things: Iterable[Packed]) -> list[tuple[str, list[Packed]]]:
    """Things by their box."""
    found: dict[str, list[Packed]] = {}
    for thing in things:
        found.setdefault(thing.box, []).append(thing)
    return list(found.items())

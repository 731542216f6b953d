"""What people call a supply: its key is for the machine."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

from pricing.core.supply_keys import KeyGrade, SupplyKey, UnreadableKey, parse_key, typed_key

NAMED = {
    SupplyKey("tie", "260"): "tie (modelling balloon, 260)",
    SupplyKey("tape", "low profile"): "low-profile tape",
    SupplyKey("line", "fishing"): "fishing line",
    SupplyKey("weight", "floater"): "weight for floaters",
    SupplyKey("weight", "ballast"): "ballast weight",
    SupplyKey("stick", "floater"): "stick for a balloon",
}
BY_KIND: dict[str, Callable[[str], str]] = {
    "balloon": lambda size: f"{size} balloon",
    "greenery": lambda plant: f"greenery strand, {plant}",
    "stem": lambda plant: f"greenery stem, {plant}",
    "ribbon": lambda width: f"ribbon {width}",
    "frame": lambda kind: f"{kind} frame",
    "fastener": str,
    "gas": str,
    "tool": str,
}


def supply_name(key: SupplyKey | str) -> str:
    """A supply's name from its key, or from the written form that rows carry.

    >>> supply_name("balloon/11 in/rose"), supply_name("ribbon/10 mm/ivory"), supply_name("tie/260")
    ('11 in balloon, rose', 'ribbon 10 mm, ivory', 'tie (modelling balloon, 260)')
    >>> supply_name("frame/ring"), supply_name("gas/helium"), supply_name("confetti")
    ('ring frame', 'helium', 'confetti')
    >>> supply_name("glitter/gold")  # a studio's own
    'glitter gold'
    """
    try:
        key = parse_key(key) if isinstance(key, str) else key
    except UnreadableKey:  # a name already
        return str(key)
    if named := NAMED.get(key):
        return named
    first, *more = key.words
    said = BY_KIND[key.kind](first) if key.kind in BY_KIND else f"{key.kind} {first}"
    return ", ".join([said, *more])


_BY_NAME = tuple(
    (kind, re.compile(pattern))
    for kind, pattern in (
        ("balloon", r"(?P<item>\d+ (?:in|cm)) balloon, (?P<colour>.+?)(?P<party>, party grade)?"),
        ("ribbon", r"ribbon (?P<item>\d+ mm), (?P<colour>.+)"),
        ("greenery", r"greenery strand, (?P<item>[^,]+)"),
        ("stem", r"greenery stem, (?P<item>[^,]+)"),
    )
)


def supply_key(said: str, known: Iterable[SupplyKey] = ()) -> SupplyKey | None:
    """The key of a supply by its name, as people type it; None where no supply is called so.

    `known` are the keys that a studio has. Balloons, ribbon and greenery may be of a colour or plant that is new.
    Capitals do not matter for what is known. A key stands for itself.

    >>> supply_key("11 in balloon, rose") == supply_key("balloon/11 in/rose") == parse_key("balloon/11 in/rose")
    True
    >>> str(supply_key("Helium", [parse_key("gas/helium")])), supply_key("moonbeams")
    ('gas/helium', None)
    """
    plain = " ".join(said.split())
    by_name = {supply_name(key).casefold(): key for key in (*NAMED, *known)}
    if key := by_name.get(plain.casefold()):
        return key
    for kind, pattern in _BY_NAME:
        if found := pattern.fullmatch(plain):
            told = found.groupdict()
            grade: KeyGrade = "party" if told.get("party") else ""
            return SupplyKey(kind, told["item"], colour=told.get("colour", ""), grade=grade)
    try:
        return typed_key(plain)
    except UnreadableKey:
        return None

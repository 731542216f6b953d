"""What people call a supply: its key is for the machine."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

NAMED = {
    "tie/260": "tie (modelling balloon, 260)",
    "tape/low profile": "low-profile tape",
    "line/fishing": "fishing line",
    "weight/floater": "weight for floaters",
    "weight/ballast": "ballast weight",
    "stick/floater": "stick for a balloon",
}
BY_START: dict[str, Callable[[str], str]] = {
    "balloon": lambda size: f"{size} balloon",
    "greenery": lambda plant: f"greenery strand, {plant}",
    "stem": lambda plant: f"greenery stem, {plant}",
    "ribbon": lambda width: f"ribbon {width}",
    "frame": lambda kind: f"{kind} frame",
    "fastener": str,
    "gas": str,
    "tool": str,
}


def supply_name(key: str) -> str:
    """A supply's name from its key; what has no slash in it is a name already.

    >>> supply_name("balloon/11 in/rose"), supply_name("ribbon/10 mm/ivory"), supply_name("tie/260")
    ('11 in balloon, rose', 'ribbon 10 mm, ivory', 'tie (modelling balloon, 260)')
    >>> supply_name("frame/ring"), supply_name("gas/helium"), supply_name("confetti")
    ('ring frame', 'helium', 'confetti')
    >>> supply_name("glitter/gold")  # a studio's own
    'glitter gold'
    """
    if named := NAMED.get(key):
        return named
    start, _, rest = key.partition("/")
    if not rest:
        return key
    first, *more = rest.split("/")
    said = BY_START[start](first) if start in BY_START else f"{start} {first}"
    return ", ".join([said, *more])


_BY_NAME = tuple(
    (re.compile(pattern), key)
    for pattern, key in (
        (r"(\d+ (?:in|cm)) balloon((?:, [^,/]+)+)", "balloon/"),
        (r"ribbon (\d+ mm)((?:, [^,/]+)+)", "ribbon/"),
        (r"greenery strand, ([^,/]+)()", "greenery/"),
        (r"greenery stem, ([^,/]+)()", "stem/"),
    )
)


def supply_key(said: str, known: Iterable[str] = ()) -> str | None:
    """The key of a supply by its name, as people type it; None where no supply is called so.

    `known` are the keys that a studio has. Balloons, ribbon and greenery may be of a colour or plant that is new.
    Capitals do not matter for what is known. A key stands for itself.

    >>> supply_key("11 in balloon, rose"), supply_key("Helium", ["gas/helium"]), supply_key("moonbeams")
    ('balloon/11 in/rose', 'gas/helium', None)
    """
    plain = " ".join(said.split())
    by_name = {supply_name(key).casefold(): key for key in (*NAMED, *known)}
    if key := by_name.get(plain.casefold()):
        return key
    for pattern, start in _BY_NAME:
        if found := pattern.fullmatch(plain):
            return start + found.group(1) + found.group(2).replace(", ", "/")
    return plain if "/" in plain else None

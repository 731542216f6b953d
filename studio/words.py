"""A studio's own sentences with places for the facts of a job: "Dear {client}, for your {event}…". Pure.

>>> filled("Dear {client}, {what} {", {"client": "Rufus"})
'Dear Rufus, {what} {'
>>> strangers("Dear {client}, {what}")
['what']
"""

from __future__ import annotations

import re
from collections.abc import Mapping

PLACES = ("client", "event", "day", "venue", "pieces", "balloons")
_PLACE = re.compile(r"\{([a-z]+)\}")


def filled(text: str, facts: Mapping[str, str]) -> str:
    """The text with its places filled in; what is no place stays as it was typed."""
    return _PLACE.sub(lambda found: facts.get(found[1], found[0]), text)


def strangers(text: str) -> list[str]:
    """Words in braces that are no place."""
    return [name for name in _PLACE.findall(text) if name not in PLACES]

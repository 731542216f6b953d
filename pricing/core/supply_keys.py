"""What names a supply for the machine: a typed key, its one parser and its one writer.

Rows, sheets and forms carry the written form ("balloon/11 in/ivory"); whoever has to look inside reads it here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import KW_ONLY, dataclass, replace
from typing import Literal

type KeyGrade = Literal["", "party"]  # "": professional, or what carries no grade

COLOURED = ("balloon", "ribbon")  # come in colours
ONE_WORD = ("greenery", "stem")  # plants: all that follows is the plant's name
PARTY = "party grade"
# How grades are written behind a colour; professional only where the colour itself would read as a grade.
GRADE_WORDS: dict[KeyGrade, str] = {"party": f"/{PARTY}", "": "/professional grade"}
# As people type one: words parted by slashes, none of them empty.
TYPED = r"^[^/\s][^/]*(/[^/]+)+$"


class UnreadableKey(ValueError):
    """A text that names no supply; the sentence says what was expected and what came."""


@dataclass(frozen=True, slots=True)
class SupplyKey:
    """A supply from the general to the particular. Raises UnreadableKey where a field has no place in its kind."""

    kind: str  # "balloon", "ribbon", "greenery", "frame", "tool" or a word of the studio's own
    item: str  # which of its kind: a balloon's size, a ribbon's width, the plant, the frame
    _: KW_ONLY
    colour: str = ""  # of balloons and ribbon; "": any
    grade: KeyGrade = ""  # of balloons of a colour
    details: tuple[
        str, ...
    ] = ()  # what else a studio tells apart, of kinds that come in no colours

    def __post_init__(self) -> None:
        whole = self.kind and self.item and all(self.details)
        coloured = self.kind in COLOURED if self.colour else not self.grade
        graded = not self.grade or self.kind == "balloon"
        told_apart = not self.details or self.kind not in (*COLOURED, *ONE_WORD)
        if not (whole and coloured and graded and told_apart):
            raise UnreadableKey(f"expected a kind, an item and what belongs to them, got {self!r}")

    def __str__(self) -> str:
        return write_key(self)

    @property
    def words(self) -> tuple[str, ...]:
        """What people read behind the kind, from the general to the particular."""
        told = (self.item, self.colour, PARTY if self.grade else "", *self.details)
        return tuple(filter(None, told))

    def widening(self) -> Iterator[SupplyKey]:
        """The key, then the more general ones that it falls under: without its grade, its colour, its last detail.

        A kind alone names no supply: a ring is not any frame.
        """
        yield self
        if self.grade:
            yield from replace(self, grade="").widening()
        elif self.colour:
            yield replace(self, colour="")
        elif self.details:
            yield from replace(self, details=self.details[:-1]).widening()

    def covers(self, other: SupplyKey) -> bool:
        """Whether the other is the same or more particular: any 11 in balloon covers an ivory one."""
        return self in other.widening()


def write_key(key: SupplyKey) -> str:
    """The written form. What comes last is written as it is; slashes in what comes before are escaped.

    >>> write_key(SupplyKey("balloon", "11 in", colour="rose/gold", grade="party"))
    'balloon/11 in/rose/gold/party grade'
    >>> write_key(SupplyKey("tool", "1/2 in drill", details=("small",)))
    'tool/1%2F2 in drill/small'
    """
    kind = _escape(key.kind)
    if key.kind in ONE_WORD:
        return f"{kind}/{key.item}"
    words = [kind, *map(_escape, (key.item, *key.details))]
    return "/".join([*words, *([_colour_and_grade(key)] if key.colour else [])])


def _colour_and_grade(key: SupplyKey) -> str:
    if key.kind != "balloon":
        return key.colour
    unclear = key.colour.endswith(tuple(GRADE_WORDS.values()))
    return key.colour + (GRADE_WORDS[key.grade] if key.grade or unclear else "")


def parse_key(text: str) -> SupplyKey:
    """The key of a written form: what `write_key` wrote. Raises UnreadableKey.

    All that follows a balloon's size, up to its grade, is its colour; so with a ribbon's width and with plants.

    >>> parse_key("balloon/11 in/rose/gold").colour, parse_key("frame/ring").item
    ('rose/gold', 'ring')
    """
    start, _, rest = text.partition("/")
    kind = _unescape(start)
    if kind in ONE_WORD:
        return SupplyKey(kind, rest)
    if kind not in COLOURED:
        item, *details = map(_unescape, rest.split("/"))
        return SupplyKey(kind, item, details=tuple(details))
    size, _, colour = rest.partition("/")
    if kind == "balloon":
        for grade, words in GRADE_WORDS.items():
            if colour.endswith(words) and colour != words:
                colour = colour.removesuffix(words)
                return SupplyKey(kind, _unescape(size), colour=colour, grade=grade)
    return SupplyKey(kind, _unescape(size), colour=colour)


def typed_key(text: str) -> SupplyKey:
    """The key that somebody typed, in a form or a sheet. Raises UnreadableKey."""
    if not re.match(TYPED, text):
        raise UnreadableKey(f"expected words parted by slashes such as balloon/11 in, got “{text}”")
    return parse_key(text)


def _escape(word: str) -> str:
    """Without slashes. A percent sign is escaped only where it would read as an escape."""
    return re.sub(r"%(?=2F|25)", "%25", word).replace("/", "%2F")


def _unescape(word: str) -> str:
    return re.sub(r"%(2F|25)", lambda found: "/" if found[1] == "2F" else "%", word)

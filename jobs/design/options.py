"""Parts of a design that the client may have or leave: which there are, which go together, and what is left."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import Annotated, NamedTuple

from pydantic import Field

from jobs.design.document import Design, Piece
from jobs.design.parts import PART_KINDS
from jobs.design.supports.base import Frozen
from jobs.design.values import Name

MOST = 4  # options of one design: sixteen ways, each counted and priced whole
WHOLE = "whole"
# Parts of a piece that can be left out by themselves, and their plain words.
LOOSE = {key: kind.words for key, kind in PART_KINDS.items()}


class Part(NamedTuple):
    """A piece by its place in the design (from 0), or something on it."""

    piece: int
    what: str


class Option(Frozen):
    """What is ticked together, by a name that the client reads."""

    name: Name
    parts: Annotated[tuple[Part, ...], Field(min_length=1)]
    only_with: str = ""  # another option without which it cannot be had
    not_with: str = ""  # another that it excludes


def parts_of(design: Design) -> Iterator[tuple[Part, str]]:
    """Everything that could be left to the client, with its words."""
    for at, piece in enumerate(design.pieces):
        if len(design.pieces) > 1:
            yield Part(at, WHOLE), piece.name
        for what, words in LOOSE.items():
            if piece.parts(PART_KINDS[what]):
                yield Part(at, what), f"{piece.name}: {words}"


def option_faults(design: Design, options: Sequence[Option]) -> list[str]:
    """Why these options do not go with this design, as sentences; none when they do."""
    there = dict(parts_of(design))
    names = [option.name for option in options]
    found = []
    if len(options) > MOST:
        found.append(f"Options: expected at most {MOST}, got {len(options)}.")
    for option in options:
        if gone := [part for part in option.parts if part not in there]:
            found.append(
                f"Option “{option.name}”: expected parts of the design, got {len(gone)} that it no longer has."
            )
        for word, other in (("only with", option.only_with), ("not with", option.not_with)):
            if other and (other not in names or other == option.name):
                found.append(
                    f"Option “{option.name}”, {word}: expected another option, got “{other}”."
                )
    if not found and (never := set(range(len(options))).difference(*ways_of_options(options))):
        found += [f"Option “{options[n].name}”: its rules exclude each other." for n in never]
    whole = {part.piece for option in options for part in option.parts if part.what == WHOLE}
    if len(whole) == len(design.pieces):
        found.append("Options: expected at least one piece that always stands, got none.")
    return found


def ways_of_options(options: Sequence[Option]) -> list[tuple[int, ...]]:
    """Every set of options, by their places from 0, that the rules allow: nothing first."""
    every = range(len(options))
    sets = (some for size in range(len(options) + 1) for some in combinations(every, size))
    return [some for some in sets if not why_not_optional(options, some)]


def why_not_optional(options: Sequence[Option], ticked: Sequence[int]) -> str:
    """Why this set is not on offer, for the client to read; "" when it is."""
    names = {options[n].name for n in ticked}
    for option in (options[n] for n in ticked):
        if option.only_with and option.only_with not in names:
            return f"“{option.name}” goes with “{option.only_with}”: tick both, or neither."
        if option.not_with in names:
            return f"“{option.name}” and “{option.not_with}”: choose one of the two."
    return ""


def with_only(design: Design, options: Sequence[Option], ticked: Sequence[int]) -> Design:
    """The design with the ticked options and without the others. What two share stays for either."""
    kept = {part for n in ticked for part in options[n].parts}
    out = {part for option in options for part in option.parts} - kept
    pieces = [
        _bare(piece, {part.what for part in out if part.piece == at})
        for at, piece in enumerate(design.pieces)
        if Part(at, WHOLE) not in out
    ]
    return design.model_copy(update={"pieces": tuple(pieces)})


def options_carried(options: Sequence[Option], design: Design) -> tuple[Option, ...]:
    """What of these options another design of the same pieces still has.

    Parts that it lacks are left out, and an option without any part goes, with every rule about it.
    """
    there = {part for part, _ in parts_of(design)}
    kept = {
        option: parts
        for option in options
        if (parts := tuple(part for part in option.parts if part in there))
    }
    names = {option.name for option in kept}
    return tuple(
        option.model_copy(update={"parts": parts, **_rules_about(option, names)})
        for option, parts in kept.items()
    )


def _rules_about(option: Option, names: set[str]) -> dict[str, str]:
    rules = {"only_with": option.only_with, "not_with": option.not_with}
    return {rule: other if other in names else "" for rule, other in rules.items()}


def always_in(options: Sequence[Option], design: Design, its_own: Sequence[Option]) -> list[str]:
    """Names of options whose parts another design has too, but never without: side by side, without extras, the
    one is shown bare and the other is not.
    """
    loose = {part for option in its_own for part in option.parts}
    fixed = {
        part
        for part, _ in parts_of(design)
        if part not in loose and Part(part.piece, WHOLE) not in loose
    }
    return [option.name for option in options if fixed.intersection(option.parts)]


def _bare(piece: Piece, out: set[str]) -> Piece:
    return piece.without(*(PART_KINDS[what] for what in out)) if out else piece

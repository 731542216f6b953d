"""What a design holds, in a client's words: no counts of ties, no trade shorthand. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from jobs.design.compose import Composition
from jobs.design.document import Design, Piece
from studio.measure import Units, write_length


@dataclass(frozen=True, slots=True, kw_only=True)
class Included:
    name: str
    lines: tuple[str, ...]


def included(design: Design, composition: Composition, units: Units) -> tuple[Included, ...]:
    """Piece by piece."""
    return tuple(
        Included(name=piece.name, lines=tuple(_lines(i, piece, composition, units)))
        for i, piece in enumerate(design.pieces)
    )


def _lines(index: int, piece: Piece, composition: Composition, units: Units) -> Iterator[str]:
    wide, high = piece.support.width_m, piece.support.top_m
    yield f"A {piece.support.words}, {write_length(wide, units)} wide and {write_length(high, units)} high"
    balls = [b for c in composition.clusters if c.piece == index for b in c.balls]
    if balls:
        colours = Counter(b.colour.name for b in balls)
        yield f"{len(balls)} balloons in {_listed([name for name, _ in colours.most_common()])}"
    if piece.features:
        count, across = piece.features.count, write_length(piece.features.blown_m, units)
        yield f"among them {count} large {_plural(count, 'balloon')}, {across} across"
    if piece.accents:
        yield f"and {piece.accents.count} small accent {_plural(piece.accents.count, 'cluster')}"
    if piece.skirt:
        yield "Balloons spilling over the floor at its foot"
    for plant in dict.fromkeys(s.plant for s in composition.strands if s.piece == index):
        yield f"Greenery ({plant}) along the open part"
    if piece.tails:
        count, long = piece.tails.count, write_length(piece.tails.length_m, units)
        yield f"{count} {piece.tails.colour} {_plural(count, 'ribbon')}, each {long} long"


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def _plural(count: int, word: str) -> str:
    return word if count == 1 else word + "s"

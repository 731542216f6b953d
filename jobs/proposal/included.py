"""What a design holds, in a client's words: no counts of ties, no trade shorthand. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from jobs.design.document import Piece
from jobs.design.working import Worked
from studio.measure import Units, write_diameter, write_length


@dataclass(frozen=True, slots=True, kw_only=True)
class Included:
    name: str
    lines: tuple[str, ...]


def included(worked: Worked, units: Units) -> tuple[Included, ...]:
    """Piece by piece."""
    return tuple(
        Included(name=piece.name, lines=tuple(_lines(i, piece, worked, units)))
        for i, piece in enumerate(worked.design.pieces)
    )


def _overall(index: int, piece: Piece, worked: Worked) -> tuple[float, float]:
    """Width and height of a piece with its balloons, metres."""
    support = piece.support
    left, right, top = piece.at_m + support.left_m, piece.at_m + support.right_m, support.top_m
    rest, clusters = worked.settled, worked.composition.clusters
    mine = np.array([c.piece == index and c.part != "floater" for c in clusters], dtype=bool)
    mine = mine[rest.cluster]
    if mine.any():
        x, z, r = rest.centres_m[mine, 0], rest.centres_m[mine, 2], rest.radii_m[mine]
        left, right = min(left, float((x - r).min())), max(right, float((x + r).max()))
        top = max(top, float((z + r).max()))
    return right - left, top


def _lines(index: int, piece: Piece, worked: Worked, units: Units) -> Iterator[str]:
    composition = worked.composition
    wide, high = (write_length(m, units) for m in _overall(index, piece, worked))
    words = piece.support.words
    article = "An" if words[0] in "aeiou" else "A"
    yield f"{article} {words}, with its balloons about {wide} wide and {high} high"
    balls = [b for c in composition.clusters if c.piece == index for b in c.balls]
    if balls:
        colours = Counter(b.colour.name for b in balls)
        yield f"{len(balls)} balloons in {listed([name for name, _ in colours.most_common()])}"
    if piece.features:
        count, across = piece.features.count, write_diameter(piece.features.blown_m, units)
        yield f"among them {count} large {_plural(count, 'balloon')}, {across} across"
    if minis := sum(c.piece == index and c.part == "accent" for c in composition.clusters):
        yield f"and {minis} small accent {_plural(minis, 'cluster')}"
    if piece.topper:
        yield f"One large balloon on top, {write_diameter(piece.topper.blown_m, units)} across"
    if piece.skirt:
        yield "Balloons spilling over the floor at its foot"
    if floaters := piece.floaters:
        way = "floating on ribbons" if floaters.on == "helium" else "standing on sticks"
        yield f"{floaters.count} single {_plural(floaters.count, 'balloon')} {way}"
    for plant in dict.fromkeys(s.plant for s in composition.strands if s.piece == index):
        yield f"Greenery ({plant}) along the open part"
    if piece.stems:
        yield f"Sprigs of greenery ({piece.stems.plant}) between the balloons"
    for colour in dict.fromkeys(w.colour for w in piece.wraps):
        yield f"Frame wrapped in {colour} ribbon"
    if piece.bows:
        yield f"{piece.bows.count} {piece.bows.colour} {_plural(piece.bows.count, 'bow')}"
    if piece.tails:
        count, long = piece.tails.count, write_length(piece.tails.length_m, units)
        yield f"{count} {piece.tails.colour} {_plural(count, 'ribbon')}, each {long} long"


def listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def _plural(count: int, word: str) -> str:
    return word if count == 1 else word + "s"

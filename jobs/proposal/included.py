"""What a design holds, in a client's words: no counts of ties, no trade shorthand. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from jobs.design.document import Piece
from jobs.design.parts import IN_WORDS
from jobs.design.wording import listed
from jobs.design.working import Worked
from studio.measure import Units, write_length


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
    mine = np.array([c.piece == index and not c.maker.apart for c in clusters], dtype=bool)
    mine = mine[rest.cluster]
    if mine.any():
        x, z, r = rest.centres_m[mine, 0], rest.centres_m[mine, 2], rest.radii_m[mine]
        left, right = min(left, float((x - r).min())), max(right, float((x + r).max()))
        top = max(top, float((z + r).max()))
    for part, extent in worked.composition.extents_on(index):
        if not part.apart:
            left, right = (
                min(left, piece.at_m + extent.left_m),
                max(right, piece.at_m + extent.right_m),
            )
            top = max(top, extent.top_m)
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
    for kind in IN_WORDS:
        mine = [(p, at) for p, at in composition.parts if at.index == index and type(p) is kind]
        yield from dict.fromkeys(line for p, at in mine for line in p.told(at, worked, units))

"""Composition → minutes by named operation, in the order of work, rest allowance included."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from decimal import Decimal

from jobs.design.composition import Composition
from jobs.design.document import Design
from jobs.design.parts.base import Times, Where
from jobs.design.practice import Practice, learning_factor
from pricing.core.need import Labour

type Work = Iterator[Times]


def tally_labour(
    design: Design, composition: Composition, practice: Practice
) -> tuple[Labour, ...]:
    """Minutes by operation. A cluster that repeats only a few times is slower than a steady hand's."""
    times: defaultdict[tuple[str, Where], float] = defaultdict(float)
    slow: defaultdict[tuple[str, Where], float] = defaultdict(float)  # times, weighed by learning
    for operation, place, count in _inflating(composition):
        times[operation, place] += count
        slow[operation, place] += count
    for operation, place, count, factor in _clusters(composition, practice):
        times[operation, place] += count
        slow[operation, place] += count * factor
    for operation, place, count in _everything_else(design, composition):
        times[operation, place] += count
        slow[operation, place] += count
    order = {name: i for i, name in enumerate(practice.minutes)}
    keys = sorted(times, key=lambda key: (key[1] != "workshop", order[key[0]]))
    return tuple(
        Labour(
            operation=operation,
            place=place,
            times=_milli(times[operation, place]),
            minutes=_milli(
                slow[operation, place] * practice.minutes[operation] * (1 + practice.allowance)
            ),
        )
        for operation, place in keys
        if times[operation, place]
    )


def _milli(value: float) -> Decimal:
    return Decimal(round(value * 1000)) / 1000


def _inflating(composition: Composition) -> Work:
    sizes: Counter[float] = Counter()
    for cluster in composition.clusters:
        if cluster.maker.on_gas:
            yield "fill a floater with helium", "site", len(cluster.balls)
            continue
        for ball in cluster.balls:
            sizes[ball.blown_m] += 1
    for blown_m, count in sizes.items():
        yield inflating(blown_m), "workshop", count


def inflating(blown_m: float) -> str:
    if blown_m <= 0.1524:
        return "inflate and size, up to 6 in"
    return "inflate and size, up to 12 in" if blown_m <= 0.3048 else "inflate and size, larger"


def _clusters(
    composition: Composition, practice: Practice
) -> Iterator[tuple[str, Where, float, float]]:
    """Making, placing, finishing and taking down, by kinds of equal clusters, with each kind's learning."""
    kinds = Counter(
        (c.maker.placing(c), c.maker.finessed, c.part, c.recipe, len(c.balls))
        for c in composition.clusters
    )
    for (placing, finessed, _, _, balls), count in kinds.items():
        factor = learning_factor(count, practice)
        for operation, each in making(balls):
            yield operation, "workshop", each * count, factor
        yield placing, "site", count, factor
        if finessed:
            yield "finesse a cluster", "site", count, factor
        yield "take down a cluster", "site", count, 1.0


def making(balls: int) -> Iterator[tuple[str, int]]:
    """An eight is two quads, a quad two pairs (common practice, no source)."""
    if balls == 1:
        yield "tie a single", 1
    elif balls in (2, 4, 8):
        yield "tie a pair", balls // 2
        yield "twist a quad", balls // 4
        yield "join an eight", balls // 8
    else:
        yield "make another cluster", 1


def _everything_else(design: Design, composition: Composition) -> Work:
    """What is done once, and by the piece: shopping, sorting and sweeping up are work too."""
    kinds = {(b.size, b.colour.name) for c in composition.clusters for b in c.balls}
    yield "shop and order", "workshop", 1
    yield "sort a size and colour", "workshop", len(kinds)
    yield "sweep up the workshop", "workshop", 1
    yield "sweep up on site", "site", 1
    yield "load", "workshop", 1
    yield "unload and carry in", "site", 1
    for piece in design.pieces:
        parts = sum(part.count for part in piece.support.frame_parts())
        yield "set up a frame part", "site", parts
        yield "take down a frame part", "site", parts
        yield "tape a joint", "site", len(piece.support.joints_s_m)
        if piece.support.hung:
            yield "set a hook", "site", len(piece.support.hooks_s_m)
            yield "string a metre of line", "site", piece.support.length_m
    for part, setting in composition.parts:
        yield from part.work(setting)

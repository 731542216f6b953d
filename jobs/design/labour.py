"""Composition → minutes by named operation, in the order of work, rest allowance included."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from decimal import Decimal
from typing import Literal

from jobs.design.compose import Composition, pieces_on_gas
from jobs.design.document import Design
from jobs.design.practice import Practice, learning_factor
from pricing.core.need import Labour

type Where = Literal["workshop", "site"]
type Work = Iterator[tuple[str, Where, float]]  # operation, place, times


def tally_labour(
    design: Design, composition: Composition, practice: Practice
) -> tuple[Labour, ...]:
    """Minutes by operation. A cluster that repeats only a few times is slower than a steady hand's."""
    times: defaultdict[tuple[str, Where], float] = defaultdict(float)
    slow: defaultdict[tuple[str, Where], float] = defaultdict(float)  # times, weighed by learning
    for operation, place, count in _inflating(design, composition):
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


def _inflating(design: Design, composition: Composition) -> Work:
    on_gas = pieces_on_gas(design)
    sizes: Counter[float] = Counter()
    for cluster in composition.clusters:
        if cluster.part == "floater" and cluster.piece in on_gas:
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
    kinds = Counter((c.part, c.recipe, len(c.balls), c.hold) for c in composition.clusters)
    for (part, _, balls, hold), count in kinds.items():
        factor = learning_factor(count, practice)
        for operation, each in making(balls):
            yield operation, "workshop", each * count, factor
        yield placing(part, hold), "site", count, factor
        if part == "run":
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


def placing(part: str, hold: str) -> str:
    named = {
        "accent": "set an accent",
        "feature": "set a feature",
        "skirt": "lay a skirt cluster",
        "topper": "set a topper",
        "floater": "set a floater",
    }
    return named.get(part, f"place a {hold} cluster")


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
    for strands in composition.strands:
        yield "wrap a metre of greenery", "site", strands.needed_m * strands.side_by_side
        yield "set a fastener", "site", strands.fasteners
    yield "tuck a stem", "site", sum(count for _, count in composition.stems)
    for ribbon in composition.ribbons:
        if ribbon.use == "wrap":
            yield "wrap a metre of ribbon", "site", ribbon.count * ribbon.cut_mm / 1000
        elif ribbon.use == "tail":
            yield "hang a ribbon tail", "site", ribbon.count
        elif ribbon.use == "bow":
            yield "tie a bow", "workshop", ribbon.count

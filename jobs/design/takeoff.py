"""Composition → take-off: everything the design uses, the minutes, and what it must answer for."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from math import ceil
from typing import Literal

from jobs.design.compose import Composition
from jobs.design.document import Design
from jobs.design.practice import Practice
from pricing.core.need import Labour, Need
from pricing.core.spares import spares

HALF_TIES = {"accent": 1, "feature": 1, "skirt": 1}  # half a tie each (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something the design must answer for."""

    code: str  # our own, e.g. "ceiling", "doorway"
    weight: Literal[
        "stop", "care", "note"
    ]  # stop: cannot be built so; care: somebody must decide; note: told
    piece: int | None  # index, None for the whole design
    sentence: str  # with numbers
    mend: str = ""  # what would mend it


@dataclass(frozen=True, slots=True, kw_only=True)
class KitItem:
    """A tool, a reusable part or a safety thing that must be in the van."""

    name: str
    count: int
    group: Literal["frame", "tools", "safety"]
    why: str  # what in the design asks for it


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeOff:
    needs: tuple[Need, ...]
    labour: tuple[Labour, ...]
    findings: tuple[Finding, ...]
    kit: tuple[KitItem, ...]
    ball_count: int
    cluster_count: int

    @property
    def minutes(self) -> Decimal:
        return sum((work.minutes for work in self.labour), Decimal(0))


def count_needs(design: Design, composition: Composition, practice: Practice) -> tuple[Need, ...]:
    """Everything that is bought, used or hired, each thing once."""
    return (
        *_balloons(composition, practice),
        *_ties(composition, practice),
        *_greenery(composition),
        *_ribbon(design),
        *_frames(design, practice),
    )


def _balloons(composition: Composition, practice: Practice) -> Iterator[Need]:
    """By size, then colour, with the spares that each needs on its own."""
    tally = Counter((b.size, b.colour.name) for c in composition.clusters for b in c.balls)
    order = {key: i for i, key in enumerate(tally)}
    for (size, colour), count in sorted(
        tally.items(), key=lambda item: (int(item[0][0].split()[0]), order[item[0]])
    ):
        yield Need(
            key=f"balloon/{size}/{colour}",
            label=f"{size} balloon, {colour}",
            quantity=Decimal(count),
            spare=Decimal(spares(count, loss_rate=practice.loss_rate, run_out=practice.run_out)),
        )


def _ties(composition: Composition, practice: Practice) -> Iterator[Need]:
    halves = 0
    for cluster in composition.clusters:
        halves += HALF_TIES.get(cluster.part, 2 if cluster.hold == "tied" else 0)
    if halves:
        count = ceil(halves / 2)
        yield Need(
            key="tie/260",
            label="tie (modelling balloon, 260)",
            quantity=Decimal(count),
            spare=Decimal(spares(count, loss_rate=practice.loss_rate, run_out=practice.run_out)),
        )


def _greenery(composition: Composition) -> Iterator[Need]:
    strands: Counter[tuple[str, float]] = Counter()
    for s in composition.strands:
        strands[s.plant, s.strand_m] += s.strands
    for (plant, strand_m), count in strands.items():
        yield Need(
            key=f"greenery/{plant}",
            label=f"greenery strand, {plant}, {strand_m:.2f} m",
            quantity=Decimal(count),
        )
    fasteners = sum(s.fasteners for s in composition.strands)
    if fasteners:
        yield Need(key="fastener/cable tie", label="cable tie", quantity=Decimal(fasteners))


def _ribbon(design: Design) -> Iterator[Need]:
    metres: Counter[tuple[int, str]] = Counter()
    for piece in design.pieces:
        if piece.tails:
            # Whole millimetres: a float sum would make an inexact count.
            metres[piece.tails.width_mm, piece.tails.colour] += piece.tails.count * round(
                piece.tails.length_m * 1000
            )
    for (width, colour), millimetres in metres.items():
        yield Need(
            key=f"ribbon/{width} mm/{colour}",
            label=f"ribbon {width} mm, {colour}",
            quantity=Decimal(millimetres) / 1000,
            unit="m",
        )


def _frames(design: Design, practice: Practice) -> Iterator[Need]:
    joints = sum(len(piece.support.joints_s_m) for piece in design.pieces)
    if joints:
        yield Need(
            key="tape/low profile",
            label="low-profile tape",
            quantity=Decimal(round(joints * practice.joint_tape_m * 1000)) / 1000,
            unit="m",
        )
    frames = Counter((p.support.kit_key, p.support.words) for p in design.pieces)
    for (key, words), count in frames.items():
        yield Need(key=key, label=words, quantity=Decimal(count), use="hire")
    if design.room.outdoors:
        count = practice.feet_ballast * len(design.pieces)
        yield Need(
            key="weight/ballast", label="ballast weight", quantity=Decimal(count), use="hire"
        )


def tally_labour(
    design: Design, composition: Composition, practice: Practice
) -> tuple[Labour, ...]:
    """Minutes by operation, in the order of work, rest allowance included."""
    times: defaultdict[tuple[str, Literal["workshop", "site"]], float] = defaultdict(float)
    for operation, place, count in _work(design, composition):
        times[operation, place] += count
    return tuple(
        Labour(
            operation=operation,
            place=place,
            times=_milli(count),
            minutes=_milli(count * practice.minutes[operation] * (1 + practice.allowance)),
        )
        for (operation, place), count in times.items()
        if count
    )


def _milli(value: float) -> Decimal:
    return Decimal(round(value * 1000)) / 1000


type _Work = Iterator[tuple[str, Literal["workshop", "site"], float]]


def _work(design: Design, composition: Composition) -> _Work:
    for cluster in composition.clusters:
        for ball in cluster.balls:
            yield _inflating(ball.blown_m), "workshop", 1
        yield from _making(len(cluster.balls))
    yield "load", "workshop", 1
    yield "unload and carry in", "site", 1
    for piece in design.pieces:
        parts = sum(part.count for part in piece.support.frame_parts())
        yield "set up a frame part", "site", parts
        yield "tape a joint", "site", len(piece.support.joints_s_m)
    for cluster in composition.clusters:
        yield _placing(cluster.part, cluster.hold), "site", 1
        if cluster.part == "run":
            yield "finesse a cluster", "site", 1
    for strands in composition.strands:
        yield "wrap a metre of greenery", "site", strands.needed_m * strands.side_by_side
        yield "set a fastener", "site", strands.fasteners
    for piece in design.pieces:
        yield "hang a ribbon tail", "site", piece.tails.count if piece.tails else 0
    yield "take down a cluster", "site", len(composition.clusters)
    for piece in design.pieces:
        yield "take down a frame part", "site", sum(p.count for p in piece.support.frame_parts())


def _inflating(blown_m: float) -> str:
    if blown_m <= 0.1524:
        return "inflate and size, up to 6 in"
    return "inflate and size, up to 12 in" if blown_m <= 0.3048 else "inflate and size, larger"


def _making(balls: int) -> _Work:
    """An eight is two quads, a quad two pairs (common practice, no source)."""
    if balls in (2, 4, 8):
        yield "tie a pair", "workshop", balls // 2
        yield "twist a quad", "workshop", balls // 4
        yield "join an eight", "workshop", balls // 8
    elif balls > 1:
        yield "make another cluster", "workshop", 1


def _placing(part: str, hold: str) -> str:
    named = {"accent": "set an accent", "feature": "set a feature", "skirt": "lay a skirt cluster"}
    return named.get(part, f"place a {hold} cluster")

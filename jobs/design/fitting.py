"""Fit to room: layouts that clear the ceiling, pass the door, stay within a width and a budget; the best three.

A search over supports, sizes and coverings, each worked out whole: nothing is guessed that can be counted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from jobs.design.document import Design, Room
from jobs.design.layouts import laid_out
from jobs.design.parts import PART_KINDS
from jobs.design.practice import PRACTICE, Practice
from jobs.design.reading import Unreadable, design_from
from jobs.design.starters import free_height_m, neat_in, sketch
from jobs.design.supports import KINDS
from jobs.design.working import Worked, work_out
from studio.measure import Units, write_length

TRIED = ("ring", "ellipse-arch", "legged-arch", "panel", "rail", "wall-line")
SIZES = (1.0, 0.85, 0.7, 0.55)
BEST = 3

type PriceOf = Callable[[Worked], Decimal]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    design: Design
    worked: Worked
    price: Decimal
    score: float
    reasons: tuple[str, ...]


def fit_to_room(
    room: Room,
    *,
    span_m: float,
    budget: Decimal | None,
    price_of: PriceOf,
    units: Units,
    practice: Practice = PRACTICE,
) -> tuple[Fit, ...]:
    """The best layout of each of up to three kinds of support, the best first; nothing where none fits.

    Best covers most of the width and the free height, and leaves least of the budget unused. `price_of` is what
    the client pays. ValueError for a width that is not above zero.
    """
    if span_m <= 0:
        raise ValueError(f"span_m: expected above 0, got {span_m}")
    found: dict[str, Fit] = {}
    for kind, design in _candidates(room, span_m, units):
        worked = work_out(design, units=units, practice=practice)
        if any(f.weight == "stop" for f in worked.takeoff.findings):
            continue
        wide, high = _extent(worked)
        if wide > span_m + 1e-6:
            continue
        price = price_of(worked)
        if budget is not None and price > budget:
            continue
        score = _score(wide, high, room, span_m, price, budget)
        if kind not in found or score > found[kind].score:
            found[kind] = Fit(
                design=design, worked=worked, price=price, score=score,
                reasons=tuple(_reasons(worked, wide, high, room, span_m, units)),
            )  # fmt: skip
    return tuple(sorted(found.values(), key=lambda f: -f.score)[:BEST])


def _candidates(room: Room, span_m: float, units: Units) -> Iterator[tuple[str, Design]]:
    neat = neat_in(units)
    for kind in TRIED:
        begun = sketch(kind, room, units)
        support = begun.pieces[0].support
        reach = 0.5  # clusters on both sides of the frame
        widest = max(span_m - reach, 0.3) / support.width_m
        for size in SIZES:
            scale = min(widest, 1.6) * size
            try:
                sized = begun.model_copy(update={"pieces": (_scaled(begun, scale, room, neat),)})
                layouts = (
                    ("crescent", "one side", "full") if support.closed else ("full", "crescent")
                )
                for layout in layouts:
                    yield kind, design_from(laid_out(sized, layout).model_dump())
            except (Unreadable, ValueError):
                continue  # too small for its own corners or runs


ACROSS = ("diameter_m", "span_m", "board_width_m", "run_m")
UPWARD = ("diameter_m", "rise_m", "board_height_m", "leg_m")


def _scaled(design: Design, scale: float, room: Room, neat: Callable[[float], float]) -> object:
    """The piece with its support's lengths scaled, kept below the free height; runs over the whole of it.

    What lies on a stretch of the support goes: its places are those of another size.
    """
    piece = design.pieces[0]
    support = piece.support
    changes: dict[str, object] = {}
    for name in type(support).model_fields:
        value = getattr(support, name)
        if name == "points_m":
            changes[name] = tuple((round(x * scale, 3), z) for x, z in value)
        elif name in ACROSS or (name in UPWARD and support.closed):
            changes[name] = neat(
                min(value * scale, free_height_m(room) - 0.1 if name in UPWARD else 60.0)
            )
    runs = piece.runs[:1]
    sized = piece.model_copy(update={"support": support.but(**changes), "runs": runs})
    return sized.without(*(kind for kind in PART_KINDS.values() if "start" in kind.model_fields))


def _extent(worked: Worked) -> tuple[float, float]:
    """Width and height over frame and balloons."""
    rest, support = worked.settled, worked.design.pieces[0].support
    left, right, top = support.left_m, support.right_m, support.top_m
    if len(rest.radii_m):
        x, r = rest.centres_m[:, 0], rest.radii_m
        left, right = min(left, float((x - r).min())), max(right, float((x + r).max()))
        top = max(top, float((rest.free_z_m + r).max()))
    for _, extent in worked.composition.extents_on(0):
        left, right = min(left, extent.left_m), max(right, extent.right_m)
        top = max(top, extent.top_m)
    return right - left, top


def _score(
    wide: float, high: float, room: Room, span_m: float, price: Decimal, budget: Decimal | None
) -> float:
    cover = (wide / span_m) * min(high / free_height_m(room), 1.0)
    spent = float(price / budget) if budget else 0.5
    return cover + 0.5 * spent


def _reasons(
    worked: Worked, wide: float, high: float, room: Room, span_m: float, units: Units
) -> Iterator[str]:
    yield f"{write_length(wide, units)} of the {write_length(span_m, units)} there is"
    if room.ceiling_m and not room.outdoors:
        yield f"{write_length(room.ceiling_m - high, units)} below the ceiling"
    if room.door_width_m and room.door_height_m and worked.design.pieces[0].support.frame_parts():
        yield "its parts pass the door"
    takeoff = worked.takeoff
    yield f"{takeoff.ball_count} balloons, {float(takeoff.minutes) / 60:.1f} hours of work"


def fitting_kinds() -> tuple[str, ...]:
    """Supports that are tried, by their label."""
    return tuple(KINDS[kind].label for kind in TRIED)

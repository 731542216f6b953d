"""Composition → needs: everything that is bought, used or hired, each thing once."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from math import ceil

from jobs.design.composition import Ball, Composition
from jobs.design.document import Design
from jobs.design.practice import Practice
from jobs.design.soft import Ribbon
from jobs.design.values import Grade, nominal_m
from pricing.core.need import Need
from pricing.core.spares import spares
from pricing.core.supply_keys import KeyGrade, SupplyKey
from studio.measure import Units

# What loose parts use, in the order of the shopping list by the kind of supply; the rest follows.
LISTED = ("gas", "weight", "stick", "greenery", "stem", "fastener")


def count_needs(
    design: Design, composition: Composition, practice: Practice, units: Units = "metric"
) -> tuple[Need, ...]:
    """Balloons first, then what holds them, greenery, ribbon, frames. `units` are those of the labels."""
    return tuple(
        _merged(
            [
                *_balloons(composition, practice),
                *_fixings(composition, practice),
                *_of_parts(composition, units),
                *map(_ribbon, composition.ribbons),
                *_hung(design, practice),
                *_frames(design, practice),
            ]
        )
    )


def _merged(needs: list[Need]) -> Iterator[Need]:
    """Each thing once, where it is asked for first."""
    found: dict[tuple[SupplyKey, str], list[Need]] = defaultdict(list)
    for need in needs:
        found[need.key, need.label].append(need)
    yield from (_together(same) if same[1:] else same[0] for same in found.values())


def _together(same: list[Need]) -> Need:
    """Equal things as one line. ValueError for a measure that is finer than a thousandth."""
    thousandths = sum(need.quantity * 1000 for need in same)
    if thousandths != int(thousandths):
        raise ValueError(f"{same[0].key}: expected whole thousandths, got {thousandths / 1000}")
    cuts: Counter[int] = Counter()
    for need in same:
        cuts.update(dict(need.cuts_mm))
    return replace(
        same[0],
        quantity=Decimal(int(thousandths)) / 1000,
        spare=sum((need.spare for need in same), Decimal(0)),
        cuts_mm=tuple(sorted(cuts.items(), reverse=True)),
    )


def _balloons(composition: Composition, practice: Practice) -> Iterator[Need]:
    """By size, then colour, with the spares that each needs on its own by its grade."""
    seen = Counter(map(id, (b for c in composition.clusters for b in c.balls)))
    tally: dict[tuple[str, str, Grade], int] = {}
    for ball in {id(b): b for c in composition.clusters for b in c.balls}.values():
        key = (ball.size, ball.colour.name, ball.colour.grade)
        tally[key] = tally.get(key, 0) + seen[id(ball)]
    for (size, colour, grade), count in sorted(
        tally.items(), key=lambda item: nominal_m(item[0][0])
    ):
        party = grade == "party"
        loss_rate = practice.loss_rates[grade]
        yield Need(
            key=_key(size, colour, grade),
            label=f"{size} balloon, {colour}" + (", party grade" if party else ""),
            quantity=Decimal(count),
            spare=Decimal(spares(count, loss_rate=loss_rate, run_out=practice.run_out)),
        )


def _key(size: str, colour: str, grade: Grade) -> SupplyKey:
    graded: KeyGrade = "party" if grade == "party" else ""
    return SupplyKey("balloon", size, colour=colour, grade=graded)


def balloon_key(ball: Ball) -> SupplyKey:
    """Key of the need that counts a ball."""
    return _key(ball.size, ball.colour.name, ball.colour.grade)


def _fixings(composition: Composition, practice: Practice) -> Iterator[Need]:
    halves = sum(c.maker.half_ties(c) for c in composition.clusters)
    dots = sum(c.maker.dots(c) for c in composition.clusters)
    if halves:
        count = ceil(halves / 2)
        rate = practice.loss_rates["professional"]
        yield Need(
            key=SupplyKey("tie", "260"),
            label="tie (modelling balloon, 260)",
            quantity=Decimal(count),
            spare=Decimal(spares(count, loss_rate=rate, run_out=practice.run_out)),
        )
    if dots:
        yield Need(
            key=SupplyKey("fastener", "adhesive dot"), label="adhesive dot", quantity=Decimal(dots)
        )


def _of_parts(composition: Composition, units: Units) -> list[Need]:
    """What each loose part says that it uses."""
    order = {start: place for place, start in enumerate(LISTED)}
    asked = [need for part, setting in composition.parts for need in part.needs(setting, units)]
    return sorted(asked, key=lambda n: order.get(n.key.kind, len(LISTED)))


def _ribbon(ribbon: Ribbon) -> Need:
    """With its cuts, so that rolls can be counted."""
    return Need(
        key=SupplyKey("ribbon", f"{ribbon.width_mm} mm", colour=ribbon.colour),
        label=f"ribbon {ribbon.width_mm} mm, {ribbon.colour}",
        quantity=Decimal(ribbon.cut_mm * ribbon.count) / 1000,
        unit="m",
        cuts_mm=((ribbon.cut_mm, ribbon.count),),
    )


def _hung(design: Design, practice: Practice) -> Iterator[Need]:
    """Hooks and line of what hangs."""
    hung = [piece.support for piece in design.pieces if piece.support.hung]
    if not hung:
        return
    hooks = sum(len(support.hooks_s_m) for support in hung)
    line_mm = sum(ceil((s.length_m + 2 * practice.knot_m) * 1000 - 1e-6) for s in hung)
    yield Need(key=SupplyKey("fastener", "hook"), label="hook", quantity=Decimal(hooks))
    yield Need(
        key=SupplyKey("line", "fishing"),
        label="fishing line",
        quantity=Decimal(line_mm) / 1000,
        unit="m",
    )


def _frames(design: Design, practice: Practice) -> Iterator[Need]:
    joints = sum(len(piece.support.joints_s_m) for piece in design.pieces)
    if joints:
        yield Need(
            key=SupplyKey("tape", "low profile"),
            label="low-profile tape",
            quantity=Decimal(round(joints * practice.joint_tape_m * 1000)) / 1000,
            unit="m",
        )
    frames = Counter((p.support.kit_key, p.support.words) for p in design.pieces)
    for (key, words), count in frames.items():
        if key:
            yield Need(key=key, label=words, quantity=Decimal(count), use="hire")
    if count := ballast_weights(design, practice):
        yield Need(
            key=SupplyKey("weight", "ballast"),
            label="ballast weight",
            quantity=Decimal(count),
            use="hire",
        )


def ballast_weights(design: Design, practice: Practice) -> int:
    """Weights for all pieces that stand outdoors."""
    standing = sum(1 for piece in design.pieces if not piece.support.hung)
    return practice.feet_ballast * standing if design.room.outdoors else 0

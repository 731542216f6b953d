"""Composition → needs: everything that is bought, used or hired, each thing once."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from decimal import Decimal
from math import ceil

from jobs.design.compose import Ball, Cluster, Composition
from jobs.design.document import Design, Fixed, Grade, nominal_m
from jobs.design.gas import volume_m3
from jobs.design.practice import Practice
from pricing.core.need import Need
from pricing.core.spares import spares
from pricing.core.supply_keys import KeyGrade, SupplyKey
from studio.measure import Units, write_length

# Common practice, no source: half a tie for what is hung on a cluster or laid at the foot, a whole one for a
# topper and for a cluster that is tied to its frame; two dots of glue for what is stuck.
HALF_TIES = {"accent": 1, "feature": 1, "skirt": 1, "topper": 2, "floater": 0}
DOTS_EACH = 2


def count_needs(
    design: Design, composition: Composition, practice: Practice, units: Units = "metric"
) -> tuple[Need, ...]:
    """Balloons first, then what holds them, greenery, ribbon, frames. `units` are those of the labels."""
    return (
        *_balloons(composition, practice),
        *_fixings(design, composition, practice),
        *_floaters(design),
        *_greenery(composition, units),
        *_ribbon(composition),
        *_hung(design, practice),
        *_frames(design, practice),
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


def fixed_by(design: Design, cluster: Cluster) -> Fixed:
    """What holds a loose cluster: a tie, unless its piece says dots."""
    piece = design.pieces[cluster.piece]
    part = {"accent": piece.accents, "feature": piece.features}.get(cluster.part)
    return part.fixed if part else "tie"


def _fixings(design: Design, composition: Composition, practice: Practice) -> Iterator[Need]:
    halves = dots = 0
    for cluster in composition.clusters:
        if cluster.part == "run":
            halves += 2 if cluster.hold == "tied" else 0
        elif fixed_by(design, cluster) == "dot":
            dots += DOTS_EACH
        else:
            halves += HALF_TIES[cluster.part]
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


def _floaters(design: Design) -> Iterator[Need]:
    """Gas at the pressure outside, weights, sticks."""
    litres = weights = sticks = 0
    for piece in design.pieces:
        if (floaters := piece.floaters) is None:
            continue
        if floaters.on == "stick":
            sticks += floaters.count
        else:
            litres += ceil(floaters.count * volume_m3(floaters.blown_m) * 1000)
            weights += ceil(floaters.count / floaters.per_weight)
    if litres:
        yield Need(
            key=SupplyKey("gas", "helium"),
            label="helium",
            quantity=Decimal(litres) / 1000,
            unit="m³",
        )
        yield Need(
            key=SupplyKey("weight", "floater"),
            label="weight for floaters",
            quantity=Decimal(weights),
        )
    if sticks:
        yield Need(
            key=SupplyKey("stick", "floater"), label="stick for a balloon", quantity=Decimal(sticks)
        )


def _greenery(composition: Composition, units: Units) -> Iterator[Need]:
    strands: Counter[tuple[str, float]] = Counter()
    for s in composition.strands:
        strands[s.plant, s.strand_m] += s.strands
    for (plant, strand_m), count in strands.items():
        yield Need(
            key=SupplyKey("greenery", plant),
            label=f"greenery strand, {plant}, {write_length(strand_m, units)}",
            quantity=Decimal(count),
        )
    stems: Counter[str] = Counter()
    for plant, count in composition.stems:
        stems[plant] += count
    for plant, count in stems.items():
        yield Need(
            key=SupplyKey("stem", plant), label=f"greenery stem, {plant}", quantity=Decimal(count)
        )
    fasteners = sum(s.fasteners for s in composition.strands)
    if fasteners:
        yield Need(
            key=SupplyKey("fastener", "cable tie"), label="cable tie", quantity=Decimal(fasteners)
        )


def _ribbon(composition: Composition) -> Iterator[Need]:
    """By width and colour, with every cut, so that rolls can be counted."""
    cuts: defaultdict[tuple[int, str], Counter[int]] = defaultdict(Counter)
    for ribbon in composition.ribbons:
        cuts[ribbon.width_mm, ribbon.colour][ribbon.cut_mm] += ribbon.count
    for (width, colour), lengths in cuts.items():
        yield Need(
            key=SupplyKey("ribbon", f"{width} mm", colour=colour),
            label=f"ribbon {width} mm, {colour}",
            quantity=Decimal(sum(mm * count for mm, count in lengths.items())) / 1000,
            unit="m",
            cuts_mm=tuple(sorted(lengths.items(), reverse=True)),
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

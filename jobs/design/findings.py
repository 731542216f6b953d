"""What a design must answer for before any room is asked: how it holds, fills, lasts and can be had."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from math import ceil

from jobs.design.colours import SIGHTS, alike
from jobs.design.composition import Composition
from jobs.design.document import Design, Piece
from jobs.design.needs import ballast_weights
from jobs.design.practice import Practice
from jobs.design.sizing import Sizing, room_growth
from jobs.design.takeoff import Finding
from jobs.design.values import nominal_m
from pricing.core.need import Need
from pricing.core.supply_keys import SupplyKey
from studio.measure import INCH_M, Units, write_exact, write_length

GAPS = 1.0  # clusters farther apart than rigid balls that touch leave the tube bare
CROWDED = 0.55  # closer than this part of it they do not go (common practice, no source)
TELLING = 0.005  # a change of diameter that a template shows
ONE_LIFTS_KG = (
    25.0  # usual guide for one person at the waist (public manual-handling guidance, from memory)
)
GRAVITY = 9.80665

type Sold = Callable[[SupplyKey], bool]  # whether the price book knows a supply


def check_design(
    design: Design,
    composition: Composition,
    sizing: tuple[Sizing, ...],
    *,
    units: Units,
    practice: Practice,
) -> Iterator[Finding]:
    """Holds, fill, loose parts, loads: piece by piece, then sizes and colours of the whole."""
    for index, piece in enumerate(design.pieces):
        yield from _slipped(index, piece, outdoors=design.room.outdoors)
        yield from _tied_low(index, piece, composition)
        yield from _fill(index, piece, composition, practice)
        for part, setting in composition.parts_on(index):
            yield from part.findings(setting, units)
        yield from _loads(index, piece, design, composition, practice, units)
    yield from _sizes(sizing, units)
    yield from _grows(design, practice)
    yield from _colours(design)


def _slipped(index: int, piece: Piece, *, outdoors: bool) -> Iterator[Finding]:
    where = "outdoors" if outdoors else "where people pass" if piece.passed else ""
    if where and any(run.hold == "slipped" for run in piece.runs):
        why = "wind" if outdoors else "a sleeve or a shoulder"
        yield Finding(
            code="slipped",
            weight="stop",
            piece=index,
            sentence=f"{piece.name}: slipped clusters do not stay on {where}: {why} turns and pulls them off.",
            mend="Lock or tie them.",
        )


def _tied_low(index: int, piece: Piece, composition: Composition) -> Iterator[Finding]:
    wanted = {n for n, run in enumerate(piece.runs) if run.hold == "locked"}
    low = sum(
        1
        for c in composition.clusters
        if c.piece == index and c.part == "run" and c.run in wanted and c.hold == "tied"
    )
    if low:
        yield Finding(
            code="tied-low",
            weight="note",
            piece=index,
            sentence=f"{piece.name}: {low} of the locked clusters {'is' if low == 1 else 'are'} counted as tied, "
            "for want of room to twist between tube and floor.",
        )


def _fill(
    index: int, piece: Piece, composition: Composition, practice: Practice
) -> Iterator[Finding]:
    counts = Counter(c.run for c in composition.clusters if c.piece == index and c.part == "run")
    for number, tightness in enumerate(composition.tightness[index]):
        run = f"{piece.name}, run {number + 1}"
        if counts[number] < 2:
            continue  # one cluster has no neighbour to miss
        usual = round(counts[number] * tightness / practice.squeeze)
        if tightness > GAPS:
            yield Finding(
                code="thin",
                weight="care",
                piece=index,
                sentence=f"{run}: {counts[number]} clusters leave gaps: they stand {tightness:.0%} of the way "
                "apart at which round balloons just touch.",
                mend=f"{usual} clusters fill it.",
            )
        elif tightness < CROWDED:
            yield Finding(
                code="crowded",
                weight="care",
                piece=index,
                sentence=f"{run}: {counts[number]} clusters are too many for its length: they would have to press "
                f"to {tightness:.0%} of the way apart at which round balloons touch.",
                mend=f"{usual} clusters fill it.",
            )


def _colours(design: Design) -> Iterator[Finding]:
    used = [c for c in design.palette if c.weight]
    for pair in alike([c.hex for c in used]):
        first, second = used[pair.first], used[pair.second]
        if first.finish != second.finish and pair.sight is None:
            continue  # the same tone in another finish is a choice
        eyes = f" to eyes with {SIGHTS[pair.sight]} colour blindness" if pair.sight else ""
        yield Finding(
            code="alike",
            weight="note",
            piece=None,
            sentence=f"{first.name} and {second.name} look alike{eyes} (ΔE {pair.difference:.1f}).",
            mend="One of them lighter or darker tells them apart.",
        )


def _sizes(sizing: tuple[Sizing, ...], units: Units) -> Iterator[Finding]:
    for line in sizing:
        nominal = write_exact(nominal_m(line.size), units)
        if line.bursts:
            yield Finding(
                code="bursts",
                weight="stop",
                piece=None,
                sentence=f"{line.size} balloons blown to {write_exact(line.finished_m, units)} would need "
                f"{write_exact(max(line.workshop_m, line.finished_m), units)}; beyond {nominal} they burst.",
                mend="A larger balloon, or a smaller finished size.",
            )
        elif line.slack:
            yield Finding(
                code="slack",
                weight="care",
                piece=None,
                sentence=f"{line.size} balloons blown to {write_exact(line.finished_m, units)} are slack: "
                f"usual is {write_exact(nominal_m(line.size) / 2, units)} to {nominal}.",
                mend="A smaller balloon, or a weaker taper.",
            )


def _grows(design: Design, practice: Practice) -> Iterator[Finding]:
    grown = room_growth(design.room, practice)
    if abs(grown - 1) > TELLING:
        way, so = ("wider", "smaller") if grown > 1 else ("narrower", "larger")
        yield Finding(
            code="grows" if grown > 1 else "shrinks",
            weight="care",
            piece=None,
            sentence=f"Heat and height make balloons {abs(grown - 1):.1%} {way} there than in the workshop.",
            mend=f"Blow them {so}, as the sizing sheet says.",
        )


def _loads(
    index: int,
    piece: Piece,
    design: Design,
    composition: Composition,
    practice: Practice,
    units: Units,
) -> Iterator[Finding]:
    support, rigid = piece.support, composition.rigid_parts_on(index)
    if support.hung:
        yield Finding(
            code="hung",
            weight="care",
            piece=index,
            sentence=f"{piece.name}: hangs on {len(support.hooks_s_m)} hooks.",
            mend="Ask the venue what may be fixed where, and whether each fixing holds.",
        )
    for part in (*support.frame_parts(), *rigid):
        if part.mass_kg > ONE_LIFTS_KG:
            yield Finding(
                code="heavy",
                weight="care",
                piece=index,
                sentence=f"{piece.name}: the {part.name} weighs {part.mass_kg:.0f} kg.",
                mend="Two people carry it, or it comes apart into more.",
            )
    feet = len(support.feet_x_m)
    if not feet:
        return
    standing = sum(1 for p in design.pieces if not p.support.hung)
    ballast = practice.ballast_kg * ballast_weights(design, practice) / max(standing, 1)
    mass_kg = support.mass_kg + ballast + sum(part.count * part.mass_kg for part in rigid)
    load_kpa = mass_kg * GRAVITY / (feet * practice.plate_m2) / 1000
    if load_kpa > practice.floor_kpa:
        side = (load_kpa / practice.floor_kpa * practice.plate_m2) ** 0.5
        yield Finding(
            code="floor-load",
            weight="care",
            piece=index,
            sentence=f"{piece.name}: {mass_kg:.0f} kg on {feet} feet press with "
            f"{load_kpa:.1f} kPa; some floors are designed for no more than {practice.floor_kpa:.1f} kPa.",
            mend=f"Boards of {_at_least(side, units)} square under each foot, and ask the venue what "
            "its floor bears.",
        )


def _at_least(side_m: float, units: Units) -> str:
    """Up to the next whole centimetre or inch: a load goes the safe way."""
    return f"{ceil(side_m * 100)} cm" if units == "metric" else f'{ceil(side_m / INCH_M)}"'


def check_sold(needs: tuple[Need, ...], sold: Sold) -> Iterator[Finding]:
    """What the design uses and the price book does not know."""
    for need in needs:
        if not sold(need.key):
            colour = need.key.kind == "balloon"
            yield Finding(
                code="not-sold",
                weight="care",
                piece=None,
                sentence=f"{need.label[:1].upper()}{need.label[1:]}: not in the price book, so it has no price.",
                mend="Another colour or size, or enter it under Stores."
                if colour
                else "Enter it under Stores.",
            )


def check_rolls(needs: tuple[Need, ...], practice: Practice, units: Units) -> Iterator[Finding]:
    """Ribbon that no single roll gives in one length."""
    for need in needs:
        longest_m = max((mm for mm, _ in need.cuts_mm), default=0) / 1000
        if longest_m > practice.roll_m:
            yield Finding(
                code="longer-than-a-roll",
                weight="care",
                piece=None,
                sentence=f"{need.label[:1].upper()}{need.label[1:]}: a length of {write_length(longest_m, units)} is "
                f"longer than a roll of {write_length(practice.roll_m, units)}.",
                mend="Join two lengths where a cluster hides it, or buy longer rolls and say so under Practice.",
            )


def findings_in_order(findings: Iterator[Finding]) -> tuple[Finding, ...]:
    """Stops first, then what somebody must decide, then what is told."""
    return tuple(sorted(findings, key=lambda f: ("stop", "care", "note").index(f.weight)))

"""What must be in the van besides what is used up: frame parts, tools, safety things."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from jobs.design.composition import Composition
from jobs.design.document import Design, Piece
from jobs.design.needs import ballast_weights
from jobs.design.practice import Practice
from jobs.design.settle import Settled
from jobs.design.takeoff import KitToPack
from pricing.core.supply_keys import SupplyKey
from studio.measure import Units, write_length

CABLE_TIE = SupplyKey("fastener", "cable tie")


def pack_kit(
    design: Design,
    composition: Composition,
    settled: Settled,
    practice: Practice,
    units: Units = "metric",
) -> tuple[KitToPack, ...]:
    """Frame parts, then tools, then safety things, each with what asks for it."""
    return (
        *_frame(design, composition, practice),
        *_tools(design, composition),
        *_safety(design, composition, settled, practice, units),
    )


def _frame(design: Design, composition: Composition, practice: Practice) -> Iterator[KitToPack]:
    for index, piece in enumerate(design.pieces):
        for part in frame_of(piece):
            yield KitToPack(
                name=f"{piece.name}: {part.name}", count=part.count, group="frame", why=part.why
            )
        for rigid in composition.rigid_parts_on(index):
            yield KitToPack(
                name=f"{piece.name}: {rigid.name}", count=rigid.count, group="frame", why="on it"
            )
    if count := ballast_weights(design, practice):
        yield KitToPack(name="ballast weight", count=count, group="frame", why="outdoors")


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameItem:
    """A part of a piece's frame, as it is carried and set up."""

    name: str
    count: int
    length_m: float | None  # longest side; None for a plate
    why: str = "frame"


def frame_of(piece: Piece) -> Iterator[FrameItem]:
    """What the frame comes apart into, and the plates that it stands on."""
    for part in piece.support.frame_parts():
        yield FrameItem(name=part.name, count=part.count, length_m=part.length_m)
    stands = piece.support.feet_x_m and not piece.support.level and not piece.support.topped
    if stands:
        yield FrameItem(name="base plate", count=2, length_m=None, why="it stands on the floor")


def _tools(design: Design, composition: Composition) -> Iterator[KitToPack]:
    def tool(name: str, why: str, count: int = 1, key: SupplyKey | None = None) -> KitToPack:
        return KitToPack(name=name, count=count, group="tools", why=why, key=key)

    yield tool("balloon pump with lead", "repairs on site", key=SupplyKey("tool", "pump"))
    yield tool(
        "sizing template", "every balloon to its diameter", key=SupplyKey("tool", "sizing template")
    )
    yield tool("tape measure", "places on the frame")
    if any(need.key == CABLE_TIE for p, at in composition.parts for need in p.needs(at, "metric")):
        yield tool("snips", "cable ties")
    if any(piece.support.joints_s_m for piece in design.pieces):
        yield tool("roll of low-profile tape", "joints of the frame")
    if composition.ribbons or any(piece.support.hung for piece in design.pieces):
        yield tool("scissors", "ribbon and line")
    asked = [item for part, setting in composition.parts for item in part.tools(setting)]
    yield from {item.name: item for item in asked}.values()
    yield tool("pin on a handle", "letting balloons down at take-down")
    yield tool("bin bags", "take-down: no piece of balloon stays behind", 4)


def _safety(
    design: Design, composition: Composition, settled: Settled, practice: Practice, units: Units
) -> Iterator[KitToPack]:
    def safe(name: str, why: str, count: int = 1, key: SupplyKey | None = None) -> KitToPack:
        return KitToPack(name=name, count=count, group="safety", why=why, key=key)

    if highest_m(design, composition, settled) > practice.pole_reach_m:
        above = write_length(practice.pole_reach_m, units)
        yield safe("step ladder", f"work above {above}", key=SupplyKey("tool", "ladder"))
    yield safe("first-aid kit", "always")
    yield safe("work gloves", "frame and snips", 2)
    yield safe("barrier tape", "people pass while you build")
    if design.room.outdoors:
        yield safe(
            "hand-held wind meter",
            "outdoors: take down in strong wind",
            key=SupplyKey("tool", "wind meter"),
        )


def highest_m(design: Design, composition: Composition, settled: Settled) -> float:
    """Top of the highest tube, loose part or balloon above the floor."""
    tops = [piece.support.top_m for piece in design.pieces]
    for index in range(len(design.pieces)):
        tops += [extent.top_m for _, extent in composition.extents_on(index)]
    if len(settled.radii_m):
        tops.append(float((settled.free_z_m + settled.radii_m).max()))
    return max(tops)

"""What must be in the van besides what is used up: frame parts, tools, safety things."""

from __future__ import annotations

from collections.abc import Iterator

from jobs.design.compose import Composition
from jobs.design.document import Design
from jobs.design.needs import ballast_weights
from jobs.design.practice import Practice
from jobs.design.settle import Settled
from jobs.design.takeoff import KitItem


def pack_kit(
    design: Design, composition: Composition, settled: Settled, practice: Practice
) -> tuple[KitItem, ...]:
    """Frame parts, then tools, then safety things, each with what asks for it."""
    return (
        *_frame(design, practice),
        *_tools(design, composition),
        *_safety(design, settled, practice),
    )


def _frame(design: Design, practice: Practice) -> Iterator[KitItem]:
    for piece in design.pieces:
        for part in piece.support.frame_parts():
            yield KitItem(
                name=f"{piece.name}: {part.name}", count=part.count, group="frame", why="frame"
            )
        feet = len(piece.support.feet_x_m)
        if feet and not piece.support.level and not piece.support.topped:
            yield KitItem(
                name=f"{piece.name}: base plate",
                count=2,
                group="frame",
                why="it stands on the floor",
            )
    if count := ballast_weights(design, practice):
        yield KitItem(name="ballast weight", count=count, group="frame", why="outdoors")


def _tools(design: Design, composition: Composition) -> Iterator[KitItem]:
    def tool(name: str, why: str, count: int = 1, key: str = "") -> KitItem:
        return KitItem(name=name, count=count, group="tools", why=why, key=key)

    yield tool("balloon pump with lead", "repairs on site", key="tool/pump")
    yield tool("sizing template", "every balloon to its diameter", key="tool/sizing template")
    yield tool("tape measure", "places on the frame")
    if composition.strands:
        yield tool("snips", "cable ties")
    if any(piece.support.joints_s_m for piece in design.pieces):
        yield tool("roll of low-profile tape", "joints of the frame")
    if composition.ribbons or any(piece.support.hung for piece in design.pieces):
        yield tool("scissors", "ribbon and line")
    if any(piece.floaters and piece.floaters.on == "helium" for piece in design.pieces):
        yield tool("cylinder of helium with filler and strap", "floaters")
    yield tool("pin on a handle", "letting balloons down at take-down")
    yield tool("bin bags", "take-down: no piece of balloon stays behind", 4)


def _safety(design: Design, settled: Settled, practice: Practice) -> Iterator[KitItem]:
    def safe(name: str, why: str, count: int = 1, key: str = "") -> KitItem:
        return KitItem(name=name, count=count, group="safety", why=why, key=key)

    if highest_m(design, settled) > practice.pole_reach_m:
        yield safe("step ladder", f"work above {practice.pole_reach_m:.1f} m", key="tool/ladder")
    yield safe("first-aid kit", "always")
    yield safe("work gloves", "frame and snips", 2)
    yield safe("barrier tape", "people pass while you build")
    if design.room.outdoors:
        yield safe(
            "hand-held wind meter", "outdoors: take down in strong wind", key="tool/wind meter"
        )


def highest_m(design: Design, settled: Settled) -> float:
    """Top of the highest tube or balloon above the floor."""
    tubes = max(piece.support.top_m for piece in design.pieces)
    if not len(settled.radii_m):
        return tubes
    return max(tubes, float((settled.free_z_m + settled.radii_m).max()))

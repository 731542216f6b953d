"""The build sheet: its numbered pictures, as large as the paper allows, and the work piece by piece."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from jobs.day.bags import Carried
from jobs.design.buildlines import frame_work, part_work
from jobs.design.buildsheet import BuildStep, build_steps
from jobs.design.picture import draw
from jobs.design.picture_numbers import Area, draw_numbered, lead, scale_in
from jobs.design.picture_recipe import draw_recipe
from jobs.design.takeoff import Work
from jobs.design.working import Worked
from studio.measure import Units
from studio.paper import Paper

# Between the margins of paper.css: 15 mm at the sides and above, 17 mm below.
AREAS = {"A4": Area(wide_mm=180, high_mm=265), "letter": Area(wide_mm=185.9, high_mm=247.4)}
HEAD_MM = 88.0  # letterhead, title and title block, with the picture's own words
FIGURE_MM = 10.0  # a heading over a picture, its words under it
SMALL_MM = 110.0  # of a piece among others, where it has few clusters
FEW = 24
BETTER = 1.15  # a page of its own is turned to for a picture so much larger


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A numbered picture: `upright` and `across` stand on pages of their own."""

    svg: str
    kind: str  # "here", "upright", "across"
    all_numbered: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceBuildSheet:
    """One piece on the build sheet, in the order of work."""

    name: str
    frame: tuple[Work, ...]
    steps: tuple[BuildStep, ...]
    parts: dict[str, tuple[Work, ...]]  # by heading
    figure: Figure | None  # where there are several pieces, each has its own


def facts_of_building(
    worked: Worked, units: Units, carried: Carried, paper: Paper = "A4"
) -> dict[str, Any]:
    """Pictures and work, piece by piece; no recipe that nothing is made of."""
    used = {cluster.recipe for cluster in worked.composition.clusters}
    several = len(worked.design.pieces) > 1
    return {
        "overview": draw(worked, units=units, prefix="all") if several else "",
        "figure": None if several else only_figure(worked, paper),
        "pieces": [
            piece_sheet(worked, units, index, paper if several else None)
            for index in range(len(worked.design.pieces))
        ],
        "recipes": [(r, draw_recipe(r)) for r in worked.design.recipes if r.name in used],
        "bag_of": {n: str(bag.number) for bag in carried.bags for n, _ in bag.clusters},
    }


def piece_sheet(worked: Worked, units: Units, index: int, paper: Paper | None) -> PieceBuildSheet:
    """`paper` where the piece has a picture of its own."""
    design, composition = worked.design, worked.composition
    steps = tuple(
        step
        for step, cluster in zip(
            build_steps(design, composition, units), composition.clusters, strict=True
        )
        if cluster.piece == index
    )
    whole = AREAS[paper] if paper else None
    high = whole.high_mm - FIGURE_MM if whole and len(steps) > FEW else SMALL_MM
    area = Area(wide_mm=whole.wide_mm, high_mm=high) if whole else None
    return PieceBuildSheet(
        name=design.pieces[index].name,
        frame=frame_work(design, index, worked.practice, units),
        steps=steps,
        parts=part_work(composition, index, units),
        figure=figure_in(worked, area, "here", only=index) if area and steps else None,
    )


def only_figure(worked: Worked, paper: Paper) -> Figure | None:
    """Under the head of the first page, or on a page of its own where it is a good deal larger there."""
    if not worked.composition.clusters:
        return None
    whole = AREAS[paper]
    wide, high = whole.wide_mm, whole.high_mm
    here = Area(wide_mm=wide, high_mm=high - HEAD_MM)
    own = {
        "upright": Area(wide_mm=wide, high_mm=high - FIGURE_MM),
        # Turned: the margins are 15 mm at the sides and above, 17 mm below again.
        "across": Area(wide_mm=high + 2, high_mm=wide - 2 - FIGURE_MM),
    }
    best = max(own, key=lambda kind: scale_in(worked, own[kind]))
    if scale_in(worked, own[best]) > BETTER * scale_in(worked, here):
        return figure_in(worked, own[best], best)
    return figure_in(worked, here, "here")


def figure_in(worked: Worked, area: Area, kind: str, *, only: int | None = None) -> Figure:
    clusters = [c for c in worked.composition.clusters if only in (None, c.piece)]
    leaders = lead(worked, scale_in(worked, area, only), only)
    svg = draw_numbered(worked, area, prefix=f"no{only or 0}", only=only)
    return Figure(svg=svg, kind=kind, all_numbered=len(leaders) == len(clusters))

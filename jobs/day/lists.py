"""Pick list and packing list: what to pull from the shelves, what goes into the van, in which order."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.template.loader import render_to_string

from jobs import cautions
from jobs.design.buildsheet import build_steps
from jobs.design.kit import highest_m
from jobs.design.picture import draw
from jobs.design.picture_recipe import draw_recipe
from jobs.design.takeoff import KitItem
from jobs.design.working import Worked
from jobs.models import Job
from jobs.proposal.correcting import departure_of
from pricing.core.book import Book
from pricing.core.cutting import Cutting, cut_rolls
from pricing.core.need import Need
from pricing.core.packs import Pull, whole_packs
from pricing.shelf import book_for
from studio.measure import Units
from studio.paper import render_paper

if TYPE_CHECKING:
    from studio.door import SeatAt


@dataclass(frozen=True, slots=True, kw_only=True)
class Pick:
    """One line of the pick list. No prices."""

    label: str
    shelf: str
    need: Decimal
    spare: Decimal
    unit: str
    packs: int | None  # None: the price book does not know the supply
    pack_count: Decimal | None
    left: Decimal
    cutting: Cutting | None = None  # of what is cut from rolls


def picks(needs: tuple[Need, ...], book: Book) -> list[Pick]:
    """Everything that is used up, by shelf, in whole packs."""
    lines = []
    for need in needs:
        if need.use != "consumable":
            continue
        found = book.find(need.key)
        cutting = cuts_of(need, found.pack_count) if found else None
        pull = _pull(need, found.pack_count, cutting) if found else None
        lines.append(
            Pick(
                label=need.label, shelf=found.shelf if found else "", need=need.quantity, spare=need.spare,
                unit=need.unit, packs=pull.packs if pull else None,
                pack_count=found.pack_count if found else None, left=pull.left if pull else Decimal(0),
                cutting=cutting,
            )
        )  # fmt: skip
    return sorted(lines, key=lambda line: line.shelf)


def cuts_of(need: Need, pack_count: Decimal) -> Cutting | None:
    """How the rolls are cut; None for what is not cut, or not from rolls as long as its cuts."""
    roll_mm = int(pack_count * 1000)
    if not need.cuts_mm or max(mm for mm, _ in need.cuts_mm) > roll_mm:
        return None
    return cut_rolls(dict(need.cuts_mm), roll_mm, time_limit_s=1)


def _pull(need: Need, pack_count: Decimal, cutting: Cutting | None) -> Pull:
    """Whole packs; of ribbon as many rolls as its cuts take, which may be more than its metres do."""
    pull = whole_packs(need.quantity + need.spare, pack_count)
    rolls = max(cutting.count if cutting else 0, pull.packs)
    return Pull(packs=rolls, left=rolls * pack_count - need.quantity - need.spare)


# What is needed last goes in first. (Common practice, no source.)
LOADING = (
    ("1", "For the take-down", ("bin bags", "pin on a handle")),
    ("2", "Tools", ()),
    ("3", "Frame", ()),
    ("4", "Safety, first out", ()),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    order: str
    name: str
    items: tuple[KitItem, ...]


def loads(kit: tuple[KitItem, ...]) -> list[Load]:
    """The van in the order it is loaded; balloon bags go on top, last, and are counted on their own."""
    late = LOADING[0][2]
    groups = [
        tuple(k for k in kit if k.name in late),
        tuple(k for k in kit if k.group == "tools" and k.name not in late),
        tuple(k for k in kit if k.group == "frame"),
        tuple(k for k in kit if k.group == "safety"),
    ]
    return [
        Load(order=order, name=name, items=items)
        for (order, name, _), items in zip(LOADING, groups, strict=True)
        if items
    ]


def print_list(seat: SeatAt, job: Job, worked: Worked, template: str, *, on: date) -> bytes:
    """One of the two lists as a PDF."""
    ladder = highest_m(worked.design, worked.settled) > worked.practice.pole_reach_m
    outdoors = job.venue.outdoors
    facts = {
        "studio": seat.studio,
        "job": job,
        "picks": picks(worked.takeoff.needs, book_for(seat.for_errand(), on)),
        "loads": loads(worked.takeoff.kit),
        "takeoff": worked.takeoff,
        "clusters": clusters_by_recipe(worked),
        "sizing": worked.takeoff.sizing,
        **(facts_of_building(worked, seat.units) if template == BUILD else {}),
        "cautions": cautions.for_crew(outdoors=outdoors, ladder=ladder),
        "departure": departure_of(seat, job),
    }
    return render_paper(render_to_string(template, facts), paper=seat.studio.paper)  # type: ignore[arg-type]


BUILD = "papers/build.html"


def facts_of_building(worked: Worked, units: Units) -> dict[str, Any]:
    """The numbered picture and the steps, piece by piece."""
    steps = build_steps(worked.design, worked.composition, units)
    return {
        "picture": draw(worked, units=units, prefix="build", shown="numbered"),
        "pieces": [
            (piece.name, [s for s in steps if s.piece == piece.name])
            for piece in worked.design.pieces
        ],
        "recipes": [(recipe, draw_recipe(recipe)) for recipe in worked.design.recipes],
    }


def clusters_by_recipe(worked: Worked) -> list[tuple[str, str, int, float]]:
    """What is inflated: (cluster, size, how many balls, blown to in metres), the largest lot first."""
    tally: dict[tuple[str, str, float], int] = {}
    for cluster in worked.composition.clusters:
        for ball in cluster.balls:
            key = (cluster.recipe, ball.size, ball.blown_m)
            tally[key] = tally.get(key, 0) + 1
    rows = [(recipe, size, count, blown) for (recipe, size, blown), count in tally.items()]
    return sorted(rows, key=lambda row: -row[2])

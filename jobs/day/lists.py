"""Pick list, packing list and build sheet as papers."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from django.template.loader import render_to_string

from jobs import cautions
from jobs.day.building import facts_of_building
from jobs.day.travelling import loading_for, to_inflate
from jobs.design.kit import highest_m
from jobs.design.working import Worked
from jobs.models import Job
from jobs.proposal.correcting import departure_of
from jobs.unpriced import unpriced
from pricing.book.price_book import book_for
from pricing.core.book import Book
from pricing.core.cutting import Cutting, cut_rolls
from pricing.core.need import Need
from pricing.core.packs import Pull, whole_packs
from studio.paper import render_paper

if TYPE_CHECKING:
    from studio.access import Access


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


def print_list(access: Access, job: Job, worked: Worked, template: str, *, on: date) -> bytes:
    """One of the lists as a PDF."""
    ladder = (
        highest_m(worked.design, worked.composition, worked.settled) > worked.practice.pole_reach_m
    )
    outdoors = job.venue.outdoors
    paper = access.studio.paper_size
    way = loading_for(access, job, worked).way
    facts = {
        "studio": access.studio,
        "job": job,
        "picks": picks(worked.takeoff.needs, book_for(access.as_system(), on)),
        "way": way,
        "packing": way.packing,
        "inflate": to_inflate(worked, way.carried),
        "sizing": worked.takeoff.sizing,
        **(
            facts_of_building(worked, access.units, way.carried, paper) if template == BUILD else {}
        ),
        "cautions": cautions.for_crew(outdoors=outdoors, ladder=ladder, units=access.units),
        "departure": departure_of(access, job),
        "access": unpriced(access, job.venue.access),
    }
    return render_paper(render_to_string(template, facts), paper=paper)


BUILD = "papers/build.html"

"""The one entry to the computing core: a design worked out from end to end."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain

from jobs.design.compose import compose
from jobs.design.composition import Composition
from jobs.design.document import Design
from jobs.design.findings import Sold, check_design, check_rolls, check_sold, findings_in_order
from jobs.design.kit import pack_kit
from jobs.design.labour import tally_labour
from jobs.design.needs import count_needs
from jobs.design.practice import PRACTICE, Practice
from jobs.design.room import check_room
from jobs.design.settle import Settled, settle
from jobs.design.sizing import size_balloons
from jobs.design.takeoff import TakeOff
from studio.measure import Units


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    design: Design
    composition: Composition
    settled: Settled
    takeoff: TakeOff
    practice: Practice


def work_out(
    design: Design,
    *,
    units: Units = "metric",
    practice: Practice = PRACTICE,
    sold: Sold | None = None,
) -> Worked:
    """Counts, minutes, kit, findings and balls at rest. `units` are those of labels and sentences.

    `sold` answers whether the price book knows a supply; None leaves that unasked.
    """
    composition = compose(design, practice)
    settled = settle(design, composition)
    needs = count_needs(design, composition, practice, units)
    sizing = size_balloons(composition, design, practice)
    found = chain(
        check_room(design, composition, settled, units=units, practice=practice),
        check_design(design, composition, sizing, units=units, practice=practice),
        check_sold(needs, sold) if sold else (),
        check_rolls(needs, practice, units),
    )
    takeoff = TakeOff(
        needs=needs,
        labour=tally_labour(design, composition, practice),
        sizing=sizing,
        findings=findings_in_order(found),
        kit=pack_kit(design, composition, settled, practice, units),
        ball_count=sum(len(c.balls) for c in composition.clusters),
        cluster_count=len(composition.clusters),
    )
    return Worked(
        design=design, composition=composition, settled=settled, takeoff=takeoff, practice=practice
    )

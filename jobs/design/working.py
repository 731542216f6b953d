"""The one entry to the computing core: a design worked out from end to end."""

from __future__ import annotations

from dataclasses import dataclass

from jobs.design.compose import Composition, compose
from jobs.design.document import Design
from jobs.design.kit import pack_kit
from jobs.design.practice import PRACTICE, Practice
from jobs.design.room import check_room
from jobs.design.settle import Settled, settle
from jobs.design.takeoff import TakeOff, count_needs, tally_labour
from studio.measure import Units


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    design: Design
    composition: Composition
    settled: Settled
    takeoff: TakeOff


def work_out(design: Design, *, units: Units = "metric", practice: Practice = PRACTICE) -> Worked:
    """Counts, minutes, kit, findings and balls at rest. `units` are those of the findings' sentences."""
    composition = compose(design, practice)
    settled = settle(design, composition)
    takeoff = TakeOff(
        needs=count_needs(design, composition, practice),
        labour=tally_labour(design, composition, practice),
        findings=check_room(design, composition, settled, units=units, practice=practice),
        kit=pack_kit(design, composition, settled, practice),
        ball_count=sum(len(c.balls) for c in composition.clusters),
        cluster_count=len(composition.clusters),
    )
    return Worked(design=design, composition=composition, settled=settled, takeoff=takeoff)

"""How a job travels: the way that was chosen, or the best, and what is packed for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db import transaction

from jobs.day.bags import Carried
from jobs.day.boxes import Packing
from jobs.day.loading import PARTS, Loading, Van, inflating_minutes, work_loading
from jobs.design.working import Worked
from jobs.log import write_log
from jobs.models import Job, PackTick, StudioPractice

if TYPE_CHECKING:
    from studio.access import Access

PERCENTS = tuple(round(100 * part) for part in PARTS)
BY_MINUTES = "best"


class NoSuchWay(ValueError):
    """A way to travel that there is not. Its text is a sentence."""


def loading_for(access: Access, job: Job, worked: Worked) -> Loading:
    """Every way with its bags, boxes and trips, in the studio's van."""
    row = access.rows(StudioPractice).first()
    return work_loading(
        worked, row.van() if row else Van(), km_one_way=float(job.travel_km), units=access.units,
        chosen=job.built_percent,
    )  # fmt: skip


def packing_for(access: Access, job: Job, worked: Worked) -> Packing:
    """What every list, label and page says is packed."""
    return loading_for(access, job, worked).way.packing


def travel_lines_not_packed(access: Access, job: Job, packing: Packing) -> int:
    """Things that nobody has ticked yet."""
    ticked = set(access.rows(PackTick).filter(job=job).values_list("key", flat=True))
    return len({thing.key for thing in packing.things} - ticked)


@transaction.atomic
def choose_travel(access: Access, job: Job, way: str) -> None:
    """Choose how much is built in the workshop, or leave it to the minutes that it costs. Raises NoSuchWay."""
    if way != BY_MINUTES and way not in {str(percent) for percent in PERCENTS}:
        raise NoSuchWay(f"How it travels: expected one of the ways of the list, got “{way[:20]}”.")
    job.built_percent = None if way == BY_MINUTES else int(way)
    job.save(update_fields=["built_percent"])
    percent = job.built_percent
    few = "as much built in the workshop as costs few minutes more"
    said = few if percent is None else f"{percent} % built"
    write_log(access, job, f"How it travels: {said}")


def minutes_on_site(worked: Worked, carried: Carried) -> float:
    """Minutes, rest included, that were counted in the workshop and fall on site the way a job travels."""
    return sum(inflating_minutes(worked, carried)) * (1 + worked.practice.allowance)


type InflateRow = tuple[str, str, float, int, int]


def to_inflate(worked: Worked, carried: Carried) -> list[InflateRow]:
    """(Cluster, size, blown to in metres, balloons in the workshop, balloons on site), the largest lot first."""
    there = {number for number, _ in carried.on_site}
    tally: dict[tuple[str, str, float], list[int]] = {}
    for number, cluster in enumerate(worked.composition.clusters, 1):
        for ball in cluster.balls:
            tally.setdefault((cluster.recipe, ball.size, ball.blown_m), [0, 0])[
                number in there
            ] += 1
    rows = [(*key, home, site) for key, (home, site) in tally.items()]
    return sorted(rows, key=lambda row: -(row[3] + row[4]))

"""Every surface that says when a job is, how far it is and what kit it holds, read the way people read it.

`disagreements_of_day(access, job)` names what differs; a new page that speaks of these joins `SURFACES` by one function.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.urls import reverse
from django.utils import timezone

from jobs.job_stage import ENDED
from jobs.models import Job
from pricing.models import KitBooking
from studio.access import Access
from tests.conftest import signed_in
from tests.surfaces import page, words


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidOfDay:
    """What a surface says of a job; None for what it does not speak of."""

    day: str | None = None  # of the event: "Sat 12 Jun"
    clock: str | None = None  # its start: "14:00"
    stage: str | None = None
    kit: tuple[str, ...] | None = None  # what it holds, item by item


type Surface = Callable[[Access, Job], SaidOfDay | None]


def moment_in(text: str) -> tuple[str, str]:
    """Day and clock out of "Sat 12 Jun 2027, 14:00"."""
    found = re.fullmatch(r"(\w{3} \d{1,2} \w{3}) \d{4}, (\d\d:\d\d)", text)
    assert found, text
    return found[1], found[2]


def head_of(access: Access, job: Job, name: str) -> SaidOfDay:
    """The head that every page of the job has."""
    node = page(signed_in(access), reverse(name, args=[job.number]))
    (head,) = node.find_class("jobhead")
    day, clock = moment_in(words(next(head.iter("time"))))
    (stage,) = head.find_class("stage")
    return SaidOfDay(day=day, clock=clock, stage=words(stage))


def brief_head(access: Access, job: Job) -> SaidOfDay:
    return head_of(access, job, "jobs:brief")


def build_page(access: Access, job: Job) -> SaidOfDay:
    node = page(signed_in(access), reverse("jobs:build", args=[job.number]))
    rows = [words(li) for li in node.iter("li")]
    kit = [r for r in rows if re.search(r", \w{3} \d{1,2} \w{3}, \d\d:\d\d until ", r)]
    names = (r.split(", ")[0] for r in kit if not r.endswith("(back)"))
    return SaidOfDay(kit=tuple(sorted(names)))


def job_list(access: Access, job: Job) -> SaidOfDay:
    node = page(signed_in(access), reverse("jobs:jobs") + "?stage=all")
    for row in node.iter("tr"):
        cells = {td.get("data-label"): words(td) for td in row.iter("td")}
        if cells.get("No.") == f"{job.number:04d}":
            day = re.sub(r" \d{4}$", "", cells["Event"])
            return SaidOfDay(day=day, stage=cells["Stage"])
    raise AssertionError(f"{job}: expected it on the list of all jobs, found it nowhere")


def diary(access: Access, job: Job) -> SaidOfDay:
    """A job that is not to be stands nowhere in it; every other does, on its day."""
    start = timezone.localtime(job.event_start).date() - timedelta(days=2)
    node = page(signed_in(access), reverse("jobs:diary") + f"?from={start.isoformat()}")
    for row in node.xpath("//ol[@class='agenda']/li"):
        for entry in row.xpath("./ul/li"):
            kinds = [words(kind) for kind in entry.find_class("kind")]
            if kinds == ["event"] and entry.xpath(f".//a[normalize-space()='{job.title}']"):
                clock = words(next(entry.iter("time")))
                (stage,) = entry.find_class("stage")
                return SaidOfDay(day=words(next(row.iter("time"))), clock=clock, stage=words(stage))
    assert job.stage in ENDED, f"{job} is {job.stage} and in no diary"
    return SaidOfDay()


def today(access: Access, job: Job) -> SaidOfDay | None:
    node = page(signed_in(access), reverse("jobs:today"))
    for article in node.iter("article"):
        head = article.find("h3")
        if head is not None and words(head).startswith(f"{job.number:04d} "):
            (stage,) = article.find_class("stage")
            line = words(next(p for p in article.iter("p") if p.find_class("stage")))
            return SaidOfDay(day=line.split(" · ")[0], stage=words(stage))
    return None


def kit_page(access: Access, job: Job) -> SaidOfDay:
    node = page(signed_in(access), reverse("pricing:kit"))
    rows = [words(li) for li in node.iter("li")]
    mine = [r.split(" to ")[0] for r in rows if f" to {job.number:04d} {job.title}, " in r]
    return SaidOfDay(kit=tuple(sorted(mine)))


def rows_of_kit(access: Access, job: Job) -> SaidOfDay:
    rows = access.rows(KitBooking).filter(holder__job=job, returned_at=None).select_related("item")
    return SaidOfDay(kit=tuple(sorted(str(row.item) for row in rows)))


SURFACES: dict[str, Surface] = {
    "brief": brief_head,
    "Build": build_page,
    "list of jobs": job_list,
    "diary": diary,
    "Today": today,
    "Hire kit": kit_page,
    "rows": rows_of_kit,
}


def disagreements_of_day(access: Access, job: Job) -> list[str]:
    """One sentence for each fact on which two surfaces differ; nothing when all say the same."""
    job = access.rows(Job).with_people().get(pk=job.pk)
    told = {name: said for name, surface in SURFACES.items() if (said := surface(access, job))}
    found: list[str] = []
    for fact in ("day", "clock", "stage", "kit"):
        said = {name: v for name, s in told.items() if (v := getattr(s, fact)) is not None}
        if len(set(said.values())) > 1:
            found.append(f"{job}, {fact}: {said}")
    if job.stage in ENDED and told["rows"].kit:
        found.append(f"{job} is {job.stage} and holds {told['rows'].kit}")
    return found


def held_twice(access: Access) -> list[str]:
    """Items that two jobs hold at one instant; nothing when all is well."""
    rows: dict[int, list[tuple[datetime, datetime, Any]]] = {}
    for row in access.rows(KitBooking).filter(returned_at=None).select_related("item"):
        rows.setdefault(row.item_id, []).append((row.out_from, row.back_until, row))
    found = []
    for some in rows.values():
        some.sort(key=lambda one: one[:2])
        for (_, until, one), (begin, _, other) in zip(some, some[1:], strict=False):
            if begin < until:
                found.append(f"{one.item}: {one.title} and {other.title}")
    return found

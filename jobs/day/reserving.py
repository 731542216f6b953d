"""What a job promises itself from the stores: supplies reserved, kit booked, and what becomes of both."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta
from typing import TYPE_CHECKING

from django.db import transaction
from django.db.models import Sum

from jobs.gather import worked_for
from jobs.models import Job
from pricing import kit
from pricing.kit import KitClash, Span
from pricing.models import KitItem, Reservation, StockMove
from pricing.stock import Lot, holdings, lock, put, take

if TYPE_CHECKING:
    from jobs.design.working import Worked
    from studio.door import SeatAt

# Common practice, no source: the van leaves some hours before the room is free, and kit is ready for the next
# job when it has been cleaned the day after.
LEAVES_BEFORE = timedelta(hours=2)
SET_UP_TAKES = timedelta(hours=4)  # where nobody said when the room is free
CLEANED_AFTER = timedelta(hours=12)
NOT_KEPT = ("frame/", "weight/ballast")  # hired out, not used up


def about(job: Job) -> str:
    return f"job:{job.number}"


def title(job: Job) -> str:
    return f"{job.number:04d} {job.title}"[:160]


def span_of(job: Job) -> Span:
    """From leaving the shop until everything is back and cleaned."""
    begins = job.access_from or job.event_start - SET_UP_TAKES
    ends = job.clear_by or job.event_end + SET_UP_TAKES
    return Span(out_from=begins - LEAVES_BEFORE, back_until=ends + CLEANED_AFTER)


@transaction.atomic
def reserve(seat: SeatAt, job: Job, worked: Worked | None = None) -> int:
    """Reserve what the chosen design uses, spares included, in place of what was reserved before."""
    worked = worked or worked_for(seat, job)
    seat.rows(Reservation).filter(about=about(job)).delete()
    if worked is None:
        return 0
    needed_by = seat.studio.day_of(span_of(job).out_from)
    needs = [need for need in worked.takeoff.needs if need.use == "consumable"]
    for need in needs:
        seat.add(
            Reservation, about=about(job), title=title(job), key=need.key, label=need.label,
            unit=need.unit, quantity=need.quantity + need.spare, needed_by=needed_by,
        )  # fmt: skip
    return len(needs)


def kit_of(seat: SeatAt, worked: Worked) -> list[tuple[str, int]]:
    """Frames and ballast by key, and of the tools and the ladder as many as the studio keeps in its kit."""
    hire = [(n.key, int(n.quantity)) for n in worked.takeoff.needs if n.use == "hire"]
    own = Counter(seat.rows(KitItem).filter(out_of_use=False).values_list("key", flat=True))
    tools = [(t.key, min(t.count, own[t.key])) for t in worked.takeoff.kit if own[t.key]]
    return hire + tools


def book_kit(seat: SeatAt, job: Job, worked: Worked | None = None) -> int:
    """Book the kit for the job's time. Raises KitClash with everything that is not free."""
    worked = worked or worked_for(seat, job)
    if worked is None:
        return 0
    return len(kit.book(seat, about(job), title(job), kit_of(seat, worked), span_of(job)))


def not_free(seat: SeatAt, job: Job, worked: Worked) -> str:
    """What of the studio's own kit other jobs hold in the job's time, as a sentence for the studio, or ""."""
    clashes = kit.promised_away(seat, about(job), kit_of(seat, worked), span_of(job))
    return " ".join(clash.sentence for clash in clashes)


def promise(seat: SeatAt, job: Job) -> str:
    """Reserve and book once the client said yes; answers what clashes, for somebody to solve, or ""."""
    worked = worked_for(seat, job)
    reserve(seat, job, worked)
    try:
        book_kit(seat, job, worked)
    except KitClash as clash:
        return str(clash)
    return ""


@transaction.atomic
def use_up(seat: SeatAt, job: Job) -> None:
    """It is up: what was reserved has been used, as far as the shelves knew of it. Twice is once."""
    lock(seat)
    reserved, held = seat.rows(Reservation).filter(about=about(job)), holdings(seat)
    for row in reserved if not used(seat, job) else ():
        there = held[row.key].on_hand if row.key in held else 0
        if there > 0:
            take(
                seat, row.key, min(row.quantity, there), kind=StockMove.Kind.USED,
                why=row.title, about=row.about,
            )  # fmt: skip
    reserved.delete()


def used(seat: SeatAt, job: Job) -> list[Lot]:
    """What the job took from the shelves and has not given back, lot by lot."""
    kinds = (StockMove.Kind.USED, StockMove.Kind.RETURNED)
    moves = seat.rows(StockMove).filter(about=about(job), kind__in=kinds)
    sums = moves.values("key", "shelf", "aged_from").annotate(quantity=-Sum("change"))
    return [Lot(**row) for row in sums.filter(quantity__gt=0).order_by("aged_from", "key", "shelf")]


@transaction.atomic
def put_back(seat: SeatAt, job: Job) -> None:
    """It is not up after all: what it took goes where it lay, as old as it was, and is reserved again."""
    lock(seat)
    for lot in used(seat, job):
        put(
            seat, lot.key, lot.quantity, kind=StockMove.Kind.RETURNED, on=lot.aged_from, shelf=lot.shelf,
            why=title(job), about=about(job),
        )  # fmt: skip
    if not seat.rows(Reservation).filter(about=about(job)).exists():
        reserve(seat, job)


def let_go(seat: SeatAt, job: Job) -> None:
    """Nothing is promised to this job any more."""
    seat.rows(Reservation).filter(about=about(job)).delete()
    kit.release(seat, about(job))


def follow(seat: SeatAt, job: Job, to: str) -> str:
    """What a move of the job does to the stores; answers a sentence for the log, or ""."""
    stage = Job.Stage
    if (
        to in (stage.ACCEPTED, stage.BOOKED)
        and not seat.rows(Reservation).filter(about=about(job)).exists()
    ):
        clash = promise(seat, job)
        return f"Kit is not free: {clash}"[:300] if clash else ""
    if to == stage.UP:
        use_up(seat, job)
    elif to == stage.READY:
        put_back(seat, job)
    elif to in (stage.LAPSED, stage.DECLINED, stage.CALLED_OFF):
        let_go(seat, job)
    return ""

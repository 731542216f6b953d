"""What a job promises itself from the stores: supplies reserved, kit booked, and what becomes of both."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import transaction
from django.db.models import Sum

from jobs.inputs import worked_for
from jobs.job_stage import WILL_HOLD
from jobs.models import Job
from pricing.core.supply_keys import write_key
from pricing.models import Holder, KitItem, KitWish, Reservation, StockMove
from pricing.stores import kit
from pricing.stores.kit import KitAsk, KitClash, KitShort, KitSpan
from pricing.stores.kit_lacks import KitLack, kit_lacks, would_lack
from pricing.stores.stock import StockLot, holdings, put_in_stock, take_from_stock

if TYPE_CHECKING:
    from jobs.design.working import Worked
    from studio.access import Access

# Common practice, no source: the van leaves some hours before the room is free, and kit is ready for the next
# job when it has been cleaned the day after.
LEAVES_BEFORE = timedelta(hours=2)
SET_UP_TAKES = timedelta(hours=4)  # where nobody said when the room is free
CLEANED_AFTER = timedelta(hours=12)


def title_of(job: Job) -> str:
    return f"{job.number:04d} {job.title}"[:160]


@transaction.atomic
def holder_of(access: Access, job: Job) -> Holder:
    """The row by which the stores know a job, made when it is first needed; named as the job is named now."""
    holder, title = held_as(access, job), title_of(job)
    if holder is None:
        access.lock_studio()  # two that need it first wait for one another
        holder = held_as(access, job)
    if holder is None:
        holder = access.add(Holder, title=title)
        access.rows(Job).filter(pk=job.pk).update(holder=holder)
    elif holder.title != title:
        holder.title = title
        holder.save(update_fields=["title"])
    return holder


def held_as(access: Access, job: Job) -> Holder | None:
    """The same for those who only look: None for a job that never held anything."""
    found: Holder | None = access.rows(Holder).filter(job=job).first()
    return found


def span_of(job: Job) -> KitSpan:
    """From leaving the shop until everything is back and cleaned."""
    begins = job.access_from or job.event_start - SET_UP_TAKES
    ends = job.clear_by or job.event_end + SET_UP_TAKES
    return KitSpan(out_from=begins - LEAVES_BEFORE, back_until=ends + CLEANED_AFTER)


@transaction.atomic
def reserve_supplies(access: Access, job: Job, worked: Worked | None = None) -> int:
    """Reserve what the chosen design uses, spares included, in place of what was reserved before."""
    worked = worked or worked_for(access, job)
    access.rows(Reservation).filter(holder__job=job).delete()
    if worked is None:
        return 0
    needed_by = access.studio.day_of(span_of(job).out_from)
    needs = [need for need in worked.takeoff.needs if need.use == "consumable"]
    holder = holder_of(access, job)
    for need in needs:
        access.add(
            Reservation, holder=holder, key=write_key(need.key), label=need.label,
            unit=need.unit, quantity=need.quantity + need.spare, needed_by=needed_by,
        )  # fmt: skip
    return len(needs)


def kit_of(access: Access, worked: Worked) -> list[KitAsk]:
    """Frames by key and size, ballast, and of the tools and the ladder as many as the studio keeps in its kit."""
    supports = [piece.support for piece in worked.design.pieces]
    frames = Counter((support.kit_key, support.sizes_m) for support in supports)
    asks = [
        KitAsk(write_key(key), count, sizes_m) for (key, sizes_m), count in frames.items() if key
    ]
    framed = {key for key, _ in frames}
    hire = [n for n in worked.takeoff.needs if n.use == "hire" and n.key not in framed]
    own = Counter(access.rows(KitItem).filter(out_of_use=False).values_list("key", flat=True))
    named = [(write_key(thing.key), thing.count) for thing in worked.takeoff.kit if thing.key]
    tools = [KitAsk(key, min(count, own[key])) for key, count in named if own[key]]
    return [*asks, *(KitAsk(write_key(n.key), int(n.quantity)) for n in hire), *tools]


def book_kit(access: Access, job: Job, worked: Worked | None = None) -> int:
    """Book the kit for the job's time. Raises KitClash with everything that is not free."""
    worked = worked or worked_for(access, job)
    if worked is None:
        return 0
    facts = holder_of(access, job), kit_of(access, worked), span_of(job)
    kit.record_wishes(access, *facts)  # outlives a clash: what is missing is told until it is there
    return len(kit.book_items(access, *facts))


def kit_not_free(access: Access, job: Job, worked: Worked) -> list[KitShort]:
    """What of the studio's own kit other jobs hold in the job's time."""
    return kit.promised_away(access, held_as(access, job), kit_of(access, worked), span_of(job))


def kit_trouble_of(access: Access, job: Job, worked: Worked | None) -> list[KitLack]:
    """What is wrong with the kit of a job: of what it holds, or what it would get if it were booked now.

    Sizes that nobody knows are told by `to_measure`.
    """
    return [lack for lack in _trouble(access, job, worked) if lack.weight != "note"]


def kit_to_measure(access: Access, job: Job, worked: Worked | None) -> list[KitLack]:
    """Frames whose size does not stand in their name, where the design asks for one."""
    return [lack for lack in _trouble(access, job, worked) if lack.weight == "note"]


def _trouble(access: Access, job: Job, worked: Worked | None) -> list[KitLack]:
    if job.stage not in WILL_HOLD:
        return []
    holder = held_as(access, job)
    if holder and access.rows(KitWish).filter(holder=holder).exists():
        return kit_lacks(access, [holder.pk])
    if worked is None:
        return []
    choice = kit.choose_kit(access, holder, kit_of(access, worked), span_of(job))
    return would_lack(access, holder, choice)


def promise_all(access: Access, job: Job) -> str:
    """Reserve, and book what is free; answers what is lacking, for somebody to solve, or ""."""
    worked = worked_for(access, job)
    reserve_supplies(access, job, worked)
    if worked is None:
        return ""
    try:
        clashes = kit.book_what_is_free(
            access, holder_of(access, job), kit_of(access, worked), span_of(job)
        )
    except KitClash as clash:
        return str(clash)
    return " ".join(clash.sentence for clash in clashes)


@transaction.atomic
def use_up_supplies(access: Access, job: Job) -> None:
    """It is up: what was reserved has been used, as far as the shelves knew of it. Twice is once."""
    access.lock_studio()
    reserved, held = access.rows(Reservation).filter(holder__job=job), holdings(access)
    for row in reserved.select_related("holder") if not supplies_used(access, job) else ():
        there = held[row.key].on_hand if row.key in held else Decimal(0)
        if there > 0:
            take_from_stock(
                access, row.key, min(row.quantity, there), kind=StockMove.Kind.USED,
                why=row.holder.title, holder=row.holder,
            )  # fmt: skip
    reserved.delete()


def supplies_used(access: Access, job: Job) -> list[StockLot]:
    """What the job took from the shelves and has not given back, lot by lot."""
    kinds = (StockMove.Kind.USED, StockMove.Kind.RETURNED)
    moves = access.rows(StockMove).filter(holder__job=job, kind__in=kinds)
    sums = moves.values("key", "shelf", "aged_from").annotate(quantity=-Sum("change"))
    return [
        StockLot(**row) for row in sums.filter(quantity__gt=0).order_by("aged_from", "key", "shelf")
    ]


@transaction.atomic
def put_back_supplies(access: Access, job: Job) -> None:
    """It is not up after all: what it took goes where it lay, as old as it was, and is reserved again."""
    access.lock_studio()
    for lot in supplies_used(access, job):
        put_in_stock(
            access, lot.key, lot.quantity, kind=StockMove.Kind.RETURNED, on=lot.aged_from, shelf=lot.shelf,
            why=title_of(job), holder=holder_of(access, job),
        )  # fmt: skip
    if not access.rows(Reservation).filter(holder__job=job).exists():
        reserve_supplies(access, job)


def release_all(access: Access, job: Job) -> None:
    """Nothing is promised to this job any more."""
    if holder := held_as(access, job):
        access.rows(Reservation).filter(holder=holder).delete()
        kit.release_kit(access, holder)


def follow_stage(access: Access, job: Job, to: str) -> str:
    """What a move of the job does to the stores; answers a sentence for the log, or "".

    The yes takes the place of what was held for the proposal, whose design may be another. The deposit brings
    what was let go, and what has become free since.
    """
    stage = Job.Stage
    if to == stage.ACCEPTED or (to == stage.BOOKED and not holds_all(access, job)):
        clash = promise_all(access, job)
        return f"Kit is not free: {clash}"[:300] if clash else ""
    if to == stage.UP:
        use_up_supplies(access, job)
    elif to == stage.READY:
        put_back_supplies(access, job)
    elif to in (stage.LAPSED, stage.DECLINED, stage.CALLED_OFF):
        release_all(access, job)
    return ""


def holds_all(access: Access, job: Job) -> bool:
    """Whether supplies are reserved and nothing of the kit is missing."""
    holder = held_as(access, job)
    if holder is None or not access.rows(Reservation).filter(holder=holder).exists():
        return False
    return not any(lack.is_stop for lack in kit_lacks(access, [holder.pk]))

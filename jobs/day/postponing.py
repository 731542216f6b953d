"""An event goes to another day: dates, kit and reservations go along in one transaction; money stays."""

from __future__ import annotations

import zoneinfo
from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from babel.dates import format_date
from django.db import transaction
from django.db.models import F
from django.utils.timezone import localdate, localtime

from jobs.briefs import note
from jobs.day.reserving import about, span_of, title
from jobs.models import Job, Postponement
from jobs.money.ledger import standing_of
from jobs.records import vouch_postponement
from jobs.rows import AGREED
from pricing import kit
from pricing.coming import coming
from pricing.core.instalments import Due, Moved
from pricing.core.money import write_money
from pricing.kit import Clash, KitClash, Span
from pricing.models import KitBooking, Reservation
from pricing.stock import holdings, lock
from studio.mail import queue

if TYPE_CHECKING:
    from studio.door import SeatAt

BUYING_TAKES = timedelta(days=3)  # a supplier's lead as it begins (pricing/models/buying.py)
MOMENTS = {
    "access_from": "Room free from",
    "event_start": "Event starts",
    "event_end": "Event ends",
    "clear_by": "Room clear by",
}


class CannotPostpone(ValueError):
    """Why this event is not moved, as a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Late:
    """A reserved supply that does not lie on the shelves: whether an order brings it in time."""

    label: str
    short: str  # how much is missing
    how: str  # what is known of its coming
    in_time: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Postponing:
    """What a new start brings with it."""

    times: dict[str, datetime]  # of the job, by field
    told: tuple[tuple[str, datetime, datetime], ...]  # what, was, will be
    span: Span  # for the kit
    days: int
    kit: int  # items that are booked now
    clashes: tuple[Clash, ...]
    reserved: int
    late: tuple[Late, ...]
    dues: tuple[tuple[Due, Due], ...]  # instalments that go along: as they are, as they will be
    needed_by: date  # supplies, in the shop


def moved(at: datetime, shift: timedelta, zone: zoneinfo.ZoneInfo) -> datetime:
    """The same shift on the clocks of a zone: an hour that changes on the way does not move set-up or end.

    An hour that the clocks skip becomes the one after it (PEP 495).

    >>> london = zoneinfo.ZoneInfo("Europe/London")
    >>> at = datetime(2026, 3, 28, 14, tzinfo=london)  # the clocks go forward on 29 March
    >>> str(moved(at, timedelta(days=1), london))
    '2026-03-29 13:00:00+00:00'
    """
    there = (at.astimezone(zone).replace(tzinfo=None) + shift).replace(tzinfo=zone)
    return there.astimezone(zoneinfo.ZoneInfo("UTC"))


def look(seat: SeatAt, job: Job, start: datetime) -> Postponing:
    """What a new start would bring. Raises CannotPostpone."""
    if job.stage not in AGREED:
        raise CannotPostpone(
            f"A job that is {job.get_stage_display()} is not postponed; before a yes, change the date in the brief."
        )
    if start == job.event_start:
        raise CannotPostpone("New start: expected another time, got the one that stands.")
    zone = zoneinfo.ZoneInfo(seat.studio.timezone)
    if start.astimezone(zone).date() < localdate(timezone=zone):
        raise CannotPostpone(
            f"New start: expected today or a day to come, got {written(seat, start)}."
        )
    shift = start.astimezone(zone).replace(tzinfo=None) - job.event_start.astimezone(zone).replace(
        tzinfo=None
    )
    times = {name: moved(at, shift, zone) for name in MOMENTS if (at := getattr(job, name))}
    times["event_start"] = start
    event_on = start.astimezone(zone).date()
    days = (event_on - job.event_start.astimezone(zone).date()).days
    then = Moved(on=localdate(), days=days, event_on=event_on)
    span = span_of(Job(**times))
    booked, needed_by = wanted(seat, job), localtime(span.out_from, zone).date()
    return Postponing(
        times=times, span=span, days=days, kit=sum(many for _, many in booked),
        told=tuple((MOMENTS[name], getattr(job, name), at) for name, at in times.items()),
        clashes=tuple(kit.promised_away(seat, about(job), booked, span)),
        reserved=seat.rows(Reservation).filter(about=about(job)).count(),
        late=tuple(late(seat, job, needed_by)), dues=dues(seat, job, then), needed_by=needed_by,
    )  # fmt: skip


def dues(seat: SeatAt, job: Job, then: Moved) -> tuple[tuple[Due, Due], ...]:
    """What is still open of the instalments that a move takes along."""
    rich = seat.row(Job, among=seat.rows(Job).with_money(), pk=job.pk)
    on, currency = localdate(), seat.studio.currency
    was = standing_of(rich, on=on, currency=currency)
    will = standing_of(rich, on=on, currency=currency, then=then)
    pairs = zip(was.due, will.due, strict=True) if was and will else ()
    return tuple(pair for pair in pairs if pair[0] != pair[1])


def wanted(seat: SeatAt, job: Job) -> list[tuple[str, int]]:
    """The kit that is booked for a job, by key."""
    rows = seat.rows(KitBooking).filter(about=about(job), returned_at=None)
    return sorted(Counter(rows.values_list("item__key", flat=True)).items())


def late(seat: SeatAt, job: Job, needed_by: date) -> list[Late]:
    """Reserved supplies that the shelves do not hold once jobs before this one had theirs."""
    held = holdings(seat)
    first = seat.rows(Reservation).exclude(about=about(job)).filter(needed_by__lte=needed_by)
    before: Counter[str] = Counter()
    for key, quantity in first.values_list("key", "quantity"):
        before[key] += quantity
    waited = arrivals(seat)
    found = []
    for row in seat.rows(Reservation).filter(about=about(job)).order_by("label"):
        there = held[row.key].on_hand if row.key in held else 0
        short = row.quantity - max(there - before[row.key], 0)
        if short > 0:
            how, in_time = "not ordered yet", needed_by >= localdate() + BUYING_TAKES
            if day := waited.get(row.key):
                how, in_time = f"ordered for {day:%d %B %Y}", day <= needed_by
            found.append(
                Late(label=row.label, short=f"{short.normalize():f}", how=how, in_time=in_time)
            )
    return found


def arrivals(seat: SeatAt) -> dict[str, date]:
    """Supplies that are still to come, with the day by which they are here; the last of several."""
    orders = coming(seat, on=localdate(), sent_only=True)
    return {order.key: order.on for order in sorted(orders, key=lambda order: order.on)}


@transaction.atomic
def postpone(seat: SeatAt, job: Job, start: datetime, *, why: str) -> Postponement:
    """Move it, with kit and reservations. Raises CannotPostpone with what stands in the way; then nothing moved."""
    lock(seat)
    shown = look(seat, job, start)
    was = job.event_start
    same = seat.rows(Job).filter(pk=job.pk, event_start=was, stage=job.stage)
    if not same.update(**shown.times, version=F("version") + 1):
        raise CannotPostpone("Somebody moved this job in between: look at it again.")
    row = seat.add(
        Postponement, job=job, from_start=was, to_start=start, why=why[:200], who=seat.person
    )
    job.refresh_from_db()
    if booked := wanted(seat, job):
        try:
            kit.book(seat, about(job), title(job), booked, shown.span)
        except KitClash as clash:
            raise CannotPostpone(f"Kit is not free then. {clash}") from None
    seat.rows(Reservation).filter(about=about(job)).update(needed_by=shown.needed_by)
    words = f"Postponed from {written(seat, was)} to {written(seat, start)}"
    note(seat, job, words, vouch_postponement(row))
    tell(seat, job, row)
    return row


def written(seat: SeatAt, at: datetime) -> str:
    """A moment as the studio writes it, in its zone."""
    there = localtime(at, zoneinfo.ZoneInfo(seat.studio.timezone))
    locale = seat.studio.language.replace("-", "_")
    return f"{format_date(there, 'd MMMM y', locale=locale)}, {there:%H:%M}"


def tell(seat: SeatAt, job: Job, row: Postponement) -> None:
    """A letter to the client, if a mail is known: the new day, and what is due when."""
    if not job.client.mail:
        return
    studio, rich = seat.studio, seat.row(Job, among=seat.rows(Job).with_money(), pk=job.pk)
    locale = studio.language.replace("-", "_")
    standing = standing_of(rich, on=localdate(), currency=studio.currency)
    dues = "".join(
        f"{due.what.capitalize()}: {write_money(due.amount, studio.language)} by "
        f"{format_date(due.on, 'long', locale=locale)}\n"
        for due in (standing.due if standing else ())
    )
    queue(
        seat, kind="postponed", about=f"postponement:{row.pk}", to=job.client.mail,
        subject=f"{studio.name}: {job.title} has a new date",
        body=(
            f"Dear {job.client.name},\n\n{job.title} moves from {written(seat, row.from_start)} to "
            f"{written(seat, row.to_start)}.\n\nWhat was agreed and what was paid stand as they are.\n"
            f"{dues or 'Everything is paid.'}\n\n{studio.name}\n"
        ),
    )  # fmt: skip

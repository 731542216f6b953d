"""An event goes to another day, hour or place: kit and reservations go along in one transaction; money stays."""

from __future__ import annotations

import zoneinfo
from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from babel.dates import format_date
from django.db import transaction
from django.db.models import F
from django.utils.timezone import localdate, localtime

from jobs.day.reserving import held_as, holder_of, span_of
from jobs.job_stage import MOVABLE
from jobs.log import write_log
from jobs.models import EventMove, Job, Venue
from jobs.money.ledger import standing_of
from jobs.records import vouch_event_move
from jobs.rows import jobs_of
from pricing.core.instalments import Due, EventShift
from pricing.core.money import write_money
from pricing.models import KitBooking, KitWish, Reservation
from pricing.stores import kit
from pricing.stores.incoming import coming
from pricing.stores.kit import KitAsk, KitClash, KitShort, KitSpan
from pricing.stores.stock import holdings
from studio.mail import queue_mail

if TYPE_CHECKING:
    from studio.access import Access

BUYING_TAKES = timedelta(days=3)  # a supplier's lead as it begins (pricing/stores/models/buying.py)
IN_ORDER = ("access_from", "event_start", "event_end", "clear_by")
MOMENTS = {
    "access_from": "Room free from",
    "event_start": "Event starts",
    "event_end": "Event ends",
    "clear_by": "Room clear by",
}


class CannotMoveEvent(ValueError):
    """Why this event is not moved, as a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LateSupply:
    """A reserved supply that does not lie on the shelves: whether an order brings it in time."""

    label: str
    short: str  # how much is missing
    how: str  # what is known of its coming
    in_time: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherChanges:
    """What else changes with an event; None of a moment: it goes along with the start."""

    event_end: datetime | None = None
    access_from: datetime | None = None
    clear_by: datetime | None = None
    venue: Venue | None = None  # None: the same; one without a key is new

    def moments(self) -> dict[str, datetime]:
        said = {name: getattr(self, name) for name in ("event_end", "access_from", "clear_by")}
        return {name: at for name, at in said.items() if at}


ALONG = OtherChanges()


@dataclass(frozen=True, slots=True, kw_only=True)
class EventMovePreview:
    """What a move brings with it."""

    times: dict[str, datetime]  # of the job, by field
    venue: tuple[Venue, Venue] | None  # was, will be
    told: tuple[tuple[str, datetime | None, datetime], ...]  # what, was, will be; those that change
    span: KitSpan  # for the kit
    days: int
    kit: int  # items that are booked now
    clashes: tuple[KitShort, ...]
    reserved: int
    late: tuple[LateSupply, ...]
    dues: tuple[tuple[Due, Due], ...]  # instalments that go along: as they are, as they will be
    needed_by: date  # supplies, in the shop
    typed: frozenset[str] = frozenset()  # moments that somebody typed, by their words

    def goes_along(self, name: str) -> bool:
        """Whether a moment changes only because the start does."""
        return name not in self.typed


def shifted_on_clocks(at: datetime, shift: timedelta, zone: zoneinfo.ZoneInfo) -> datetime:
    """The same shift on the clocks of a zone: an hour that changes on the way does not move set-up or end.

    An hour that the clocks skip becomes the one after it (PEP 495).

    >>> london = zoneinfo.ZoneInfo("Europe/London")
    >>> at = datetime(2026, 3, 28, 14, tzinfo=london)  # the clocks go forward on 29 March
    >>> str(moved(at, timedelta(days=1), london))
    '2026-03-29 13:00:00+00:00'
    """
    there = (at.astimezone(zone).replace(tzinfo=None) + shift).replace(tzinfo=zone)
    return there.astimezone(zoneinfo.ZoneInfo("UTC"))


def preview_move(
    access: Access, job: Job, start: datetime, rest: OtherChanges = ALONG
) -> EventMovePreview:
    """What a move would bring. Raises CannotMoveEvent."""
    if job.stage not in MOVABLE:
        raise CannotMoveEvent(
            f"A job that is {job.get_stage_display()} is not postponed; before a yes, change the date in the brief."
        )
    if job.stage == Job.Stage.UP:
        is_end_alone(job, start, rest)
    zone = zoneinfo.ZoneInfo(access.studio.timezone)
    times, venue = new_times(job, start, rest, zone), new_venue(job, rest)
    told = tuple(
        (words, getattr(job, name), times[name])
        for name, words in MOMENTS.items() if name in times and times[name] != getattr(job, name)
    )  # fmt: skip
    if not told and not venue:
        raise CannotMoveEvent(
            "New start: expected another time, or another end, room or venue; got what stands."
        )
    if start != job.event_start and start.astimezone(zone).date() < localdate(timezone=zone):
        raise CannotMoveEvent(
            f"New start: expected today or a day to come, got {moment_text(access, start)}."
        )
    in_order_of_day(times)
    event_on = start.astimezone(zone).date()
    days = (event_on - job.event_start.astimezone(zone).date()).days
    then = EventShift(on=localdate(), days=days, event_on=event_on)
    span = span_of(Job(**times))
    needed_by = localtime(span.out_from, zone).date()
    return EventMovePreview(
        times=times, venue=venue, span=span, days=days, told=told,
        typed=frozenset(MOMENTS[name] for name in rest.moments()),
        kit=sum(ask.many for ask in kit_booked_by(access, job)),
        clashes=tuple(kit.promised_away(access, held_as(access, job), kit_wanted_by(access, job), span)),
        reserved=access.rows(Reservation).filter(holder__job=job).count(),
        late=tuple(supplies_late_for(access, job, needed_by)), needed_by=needed_by,
        dues=dues_after_move(access, job, then),
    )  # fmt: skip


def is_end_alone(job: Job, start: datetime, rest: OtherChanges) -> None:
    """Raises CannotMoveEvent where more than the end changes of what is up."""
    same_venue = rest.venue is None or rest.venue.pk == job.venue_id
    if start == job.event_start and rest.access_from in (None, job.access_from) and same_venue:
        return
    raise CannotMoveEvent(
        "It is up: only its end, and when the room must be clear, can change now."
    )


def new_times(
    job: Job, start: datetime, rest: OtherChanges, zone: zoneinfo.ZoneInfo
) -> dict[str, datetime]:
    """Every moment of the job as it will be: as typed, else by the same shift as the start."""
    there = [at.astimezone(zone).replace(tzinfo=None) for at in (start, job.event_start)]
    shift = there[0] - there[1]
    along = {
        name: shifted_on_clocks(at, shift, zone) for name in MOMENTS if (at := getattr(job, name))
    }
    return {**along, "event_start": start, **rest.moments()}


def new_venue(job: Job, rest: OtherChanges) -> tuple[Venue, Venue] | None:
    if rest.venue is None or rest.venue.pk == job.venue_id:
        return None
    return job.venue, rest.venue


def in_order_of_day(times: dict[str, datetime]) -> None:
    """Raises CannotMoveEvent for an end before the start, or a room that is not there for the event."""
    for first, then in pairwise(name for name in IN_ORDER if name in times):
        if times[first] > times[then]:
            raise CannotMoveEvent(
                f"{MOMENTS[then]}: expected no earlier than {MOMENTS[first].lower()}, got a time before it."
            )


def dues_after_move(access: Access, job: Job, then: EventShift) -> tuple[tuple[Due, Due], ...]:
    """What is still open of the instalments that a move takes along."""
    rich = access.row(Job, among=jobs_of(access).with_money(), pk=job.pk)
    on, currency = localdate(), access.studio.currency
    was = standing_of(rich, on=on, currency=currency)
    will = standing_of(rich, on=on, currency=currency, then=then)
    pairs = zip(was.due, will.due, strict=True) if was and will else ()
    return tuple(pair for pair in pairs if pair[0] != pair[1])


def kit_wanted_by(access: Access, job: Job) -> list[KitAsk]:
    """The kit that a job asked for; of one from before that was kept, what is booked."""
    wishes = access.rows(KitWish).filter(holder__job=job).order_by("pk")
    return [KitAsk(w.key, w.count, tuple(w.sizes_m)) for w in wishes] or kit_booked_by(access, job)


def kit_booked_by(access: Access, job: Job) -> list[KitAsk]:
    """The kit that is booked for a job, by key."""
    rows = access.rows(KitBooking).filter(holder__job=job, returned_at=None)
    many = Counter(rows.values_list("item__key", flat=True))
    return [KitAsk(key, count) for key, count in sorted(many.items())]


def supplies_late_for(access: Access, job: Job, needed_by: date) -> list[LateSupply]:
    """Reserved supplies that the shelves do not hold once jobs before this one had theirs."""
    held = holdings(access)
    first = access.rows(Reservation).exclude(holder__job=job).filter(needed_by__lte=needed_by)
    before: defaultdict[str, Decimal] = defaultdict(Decimal)
    for key, quantity in first.values_list("key", "quantity"):
        before[key] += quantity
    waited = arrivals_by_key(access)
    found = []
    for row in access.rows(Reservation).filter(holder__job=job).order_by("label"):
        there = held[row.key].on_hand if row.key in held else Decimal(0)
        short = row.quantity - max(there - before[row.key], Decimal(0))
        if short > 0:
            how, in_time = "not ordered yet", needed_by >= localdate() + BUYING_TAKES
            if day := waited.get(row.key):
                how, in_time = f"ordered for {day:%d %B %Y}", day <= needed_by
            found.append(
                LateSupply(
                    label=row.label, short=f"{short.normalize():f}", how=how, in_time=in_time
                )
            )
    return found


def arrivals_by_key(access: Access) -> dict[str, date]:
    """Supplies that are still to come, with the day by which they are here; the last of several."""
    orders = coming(access, on=localdate(), sent_only=True)
    return {order.key: order.on for order in sorted(orders, key=lambda order: order.on)}


@transaction.atomic
def move_event(
    access: Access, job: Job, start: datetime, rest: OtherChanges = ALONG, *, why: str
) -> EventMove:
    """Move it, with kit and reservations. Raises CannotMoveEvent with what stands in the way; then nothing moved."""
    access.lock_studio()
    shown = preview_move(access, job, start, rest)
    was = {"event_start": job.event_start, "venue": job.venue, "stage": job.stage}
    will: dict[str, Any] = {**shown.times}
    if shown.venue:
        if rest.venue and rest.venue.pk is None:
            rest.venue.studio = access.studio
            rest.venue.save()
        will["venue"] = rest.venue
    if not access.rows(Job).filter(pk=job.pk, **was).update(**will, version=F("version") + 1):
        raise CannotMoveEvent("Somebody moved this job in between: look at it again.")
    row = access.add(
        EventMove, job=job, from_start=was["event_start"], to_start=start, why=why[:200],
        who=access.person,
    )  # fmt: skip
    job.refresh_from_db()
    take_bookings_along(access, job, shown)
    write_log(access, job, "; ".join(moment_changes(access, shown)), vouch_event_move(row))
    mail_move(access, job, row, shown)
    return row


def take_bookings_along(access: Access, job: Job, shown: EventMovePreview) -> None:
    """Kit, supplies and holding follow. Raises CannotMoveEvent for kit that another job has then."""
    if job.stage == Job.Stage.UP:
        try:
            kit.keep_kit_until(access, holder_of(access, job), shown.span)
        except KitClash as clash:
            raise CannotMoveEvent(f"Kit is not free then. {clash}") from None
    elif asks := kit_wanted_by(access, job):
        try:
            clashes = kit.book_what_is_free(access, holder_of(access, job), asks, shown.span)
        except KitClash as clash:
            raise CannotMoveEvent(f"Kit is not free then. {clash}") from None
        if away := [clash for clash in clashes if clash.is_promised_away]:
            raise CannotMoveEvent(f"Kit is not free then. {KitClash(away)}")
    access.rows(Reservation).filter(holder__job=job).update(needed_by=shown.needed_by)
    event_on = localtime(job.event_start).date()
    access.rows(Job).filter(pk=job.pk, held_until__gt=event_on).update(held_until=event_on)


def moment_changes(access: Access, shown: EventMovePreview) -> list[str]:
    """What changes, for the log and the letter; times that only go along with the start left out."""
    moved_on = {name: (was, will) for name, was, will in shown.told}
    found = []
    was, will = moved_on.pop(MOMENTS["event_start"], (None, None))
    if was and will:
        found.append(f"Postponed from {moment_text(access, was)} to {moment_text(access, will)}")
    for name, (was, will) in moved_on.items():
        if not shown.goes_along(name):
            before = f" instead of {moment_text(access, was)}" if was else ""
            found.append(f"{name} {moment_text(access, will)}{before}")
    if shown.venue:
        found.append(f"Venue {shown.venue[1].name} instead of {shown.venue[0].name}")
    return found


def moment_text(access: Access, at: datetime) -> str:
    """A moment as the studio writes it, in its zone."""
    there = localtime(at, zoneinfo.ZoneInfo(access.studio.timezone))
    locale = access.studio.language.replace("-", "_")
    return f"{format_date(there, 'd MMMM y', locale=locale)}, {there:%H:%M}"


def mail_move(access: Access, job: Job, row: EventMove, shown: EventMovePreview) -> None:
    """A letter to the client, if a mail is known: what is new, and what is due when."""
    if not job.client.mail:
        return
    studio, rich = access.studio, access.row(Job, among=jobs_of(access).with_money(), pk=job.pk)
    locale = studio.language.replace("-", "_")
    standing = standing_of(rich, on=localdate(), currency=studio.currency)
    dues = "\n".join(
        f"{due.what.capitalize()}: {write_money(due.amount, studio.language)} by "
        f"{format_date(due.on, 'long', locale=locale)}"
        for due in (standing.due if standing else ())
    )
    is_new_day = row.from_start != row.to_start
    opening = (
        f"{job.title} moves from {moment_text(access, row.from_start)} to {moment_text(access, row.to_start)}."
        if is_new_day else f"Something changes for {job.title} on {moment_text(access, row.to_start)}."
    )  # fmt: skip
    other = "".join(f"\n{line}." for line in moment_changes(access, shown)[is_new_day:])
    what = "a new date" if is_new_day else "a change"
    queue_mail(
        access, kind="postponed", once_key=f"postponement:{row.pk}", to=job.client.mail,
        subject=f"{studio.name}: {job.title} has {what}",
        body=(
            f"Dear {job.client.name},\n\n{opening}{other}\n\nWhat was agreed and what was paid stand as they are.\n"
            f"{dues or 'Everything is paid.'}\n\n{studio.name}\n"
        ),
    )  # fmt: skip

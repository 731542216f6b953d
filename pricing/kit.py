"""The hire kit: what is free when, what is promised, what came back how."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.db import IntegrityError, transaction
from django.db.models import F, Q
from django.utils.timezone import now

from pricing.core.names import supply_name
from pricing.kit_guard import is_clash
from pricing.models import KitBooking, KitItem, KitNote
from pricing.stock import lock

if TYPE_CHECKING:
    from studio.door import SeatAt


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """From leaving the shop until back and cleaned."""

    out_from: datetime
    back_until: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """Something is not free: who has it, and what else there is."""

    key: str
    wanted: int
    free: int
    held_by: tuple[str, ...]  # titles of the jobs
    instead: tuple[str, ...]  # items of the same sort that are free, under another key

    @property
    def sentence(self) -> str:
        have = " and ".join(self.held_by) or "nobody: there are no more"
        other = f" Free instead: {', '.join(self.instead)}." if self.instead else ""
        return f"{supply_name(self.key)}: {self.wanted} wanted, {self.free} free; promised to {have}.{other}"


class KitClash(ValueError):
    """What cannot be promised, all of it at once. Nothing was booked."""

    def __init__(self, clashes: Sequence[Clash]) -> None:
        super().__init__(" ".join(clash.sentence for clash in clashes))
        self.clashes = tuple(clashes)


def taken(seat: SeatAt, span: Span) -> Any:
    """Bookings that stand in the way of a span: those that touch it, and what should be back and is not.

    Late kit is taken until it is checked in, for all that is not over yet (`pricing/kit_guard.py`).
    """
    at = now()
    touch = Q(back_until__gt=span.out_from)
    late = Q(back_until__lte=at) if span.back_until > at else Q(pk=None)
    return seat.rows(KitBooking).filter(
        touch | late, returned_at=None, out_from__lt=span.back_until
    )


def free_items(seat: SeatAt, span: Span) -> dict[str, list[KitItem]]:
    """What can be promised for a span, by key."""
    busy = set(taken(seat, span).values_list("item_id", flat=True))
    free: defaultdict[str, list[KitItem]] = defaultdict(list)
    for item in seat.rows(KitItem).filter(out_of_use=False).order_by("key", "name", "mark", "pk"):
        if item.pk not in busy:
            free[item.key].append(item)
    return dict(free)


@transaction.atomic
def book(
    seat: SeatAt, about: str, title: str, wanted: Sequence[tuple[str, int]], span: Span
) -> list[KitBooking]:
    """Promise so many of each key to one job, in place of what it had. Raises KitClash, and changes nothing.

    The studio's lock makes bookings wait for one another; the database would refuse a second one anyway.
    """
    lock(seat)
    seat.rows(KitBooking).filter(about=about, returned_at=None).delete()
    free = free_items(seat, span)
    clashes = [
        _clash(seat, key, count, span, free)
        for key, count in wanted
        if len(free.get(key, ())) < count
    ]
    if clashes:
        raise KitClash(clashes)
    chosen = [item for key, count in wanted for item in free[key][:count]]
    facts = {
        "about": about,
        "title": title,
        "out_from": span.out_from,
        "back_until": span.back_until,
    }
    try:
        return [seat.add(KitBooking, item=item, **facts) for item in chosen]
    except IntegrityError as error:
        if not is_clash(error):
            raise
        raise KitClash([_clash(seat, k, n, span, free) for k, n in wanted]) from error


def _clash(
    seat: SeatAt, key: str, count: int, span: Span, free: dict[str, list[KitItem]], *, but: str = ""
) -> Clash:
    """What a job lacks of a key. `but` is the job itself, which does not stand in its own way."""
    holders = taken(seat, span).filter(item__key=key).exclude(about=but).order_by("out_from")
    # A ladder is no pump: of tools only those under the same word stand in for one another.
    sort = f"{key}/" if key.startswith("tool/") else key.partition("/")[0] + "/"
    others = [items[0] for other, items in free.items() if other.startswith(sort) and other != key]
    return Clash(
        key=key,
        wanted=count,
        free=len(free.get(key, ())),
        held_by=tuple(dict.fromkeys(booking.holder for booking in holders)),
        instead=tuple(str(item) for item in others[:4]),
    )


def promised_away(
    seat: SeatAt, about: str, wanted: Sequence[tuple[str, int]], span: Span
) -> list[Clash]:
    """What the studio has of its own but other jobs hold in a span. What it has not it hires or buys in."""
    others = set(taken(seat, span).exclude(about=about).values_list("item_id", flat=True))
    mine: defaultdict[str, list[KitItem]] = defaultdict(list)
    free: defaultdict[str, list[KitItem]] = defaultdict(list)
    for item in seat.rows(KitItem).filter(out_of_use=False).order_by("key", "name", "mark", "pk"):
        mine[item.key].append(item)
        if item.pk not in others:
            free[item.key].append(item)
    return [
        _clash(seat, key, count, span, free, but=about)
        for key, count in wanted
        if len(free.get(key, ())) < min(count, len(mine.get(key, ())))
    ]


def release(seat: SeatAt, about: str) -> None:
    """A job that is called off needs nothing any more."""
    seat.rows(KitBooking).filter(about=about, returned_at=None).delete()


@transaction.atomic
def check_in(
    seat: SeatAt,
    booking: KitBooking,
    *,
    at: datetime,
    kind: str,
    what: str,
    hours: float = 0,
    amount: Decimal | None = None,
) -> None:
    """An item is back and cleaned. A note of what was found; broken things go out of use.

    `amount` is charged to the client, before tax, of what is charged at all. Twice is once.
    """
    if not seat.rows(KitBooking).filter(pk=booking.pk, returned_at=None).update(returned_at=at):
        return
    item = seat.rows(KitItem).filter(pk=booking.item_id)
    broken = kind in (KitNote.Kind.CHARGED, KitNote.Kind.SPOILED)
    if hours:
        item.update(hours=F("hours") + hours)
    if what or broken:
        seat.add(
            KitNote, item_id=booking.item_id, kind=kind, what=what[:300] or "broken",
            about=booking.about, who=seat.person,
            amount=amount if kind == KitNote.Kind.CHARGED else None,
        )  # fmt: skip
        item.update(condition=what[:200] or "broken", version=F("version") + 1)
    if broken:
        item.update(out_of_use=True)


def charges(seat: SeatAt, about: str = "") -> list[KitNote]:
    """What came back broken from a job, or from any, and is charged to the client: the newest note of each."""
    notes = seat.rows(KitNote).filter(kind=KitNote.Kind.CHARGED).exclude(about="")
    if about:
        notes = notes.filter(about=about)
    newest = {(n.about, n.item_id): n for n in notes.select_related("item").order_by("pk")}
    return sorted(newest.values(), key=lambda note: note.pk)


def charge(seat: SeatAt, note: KitNote, amount: Decimal) -> KitNote:
    """How much is charged, before tax, in place of what was said; 0 lets it go. A note more: none is changed."""
    facts = {"item_id": note.item_id, "what": note.what, "about": note.about, "who": seat.person}
    return seat.add(KitNote, kind=KitNote.Kind.CHARGED, amount=amount, **facts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Late:
    """Something that should be back, and who waits for it."""

    booking: KitBooking
    then: KitBooking | None  # the next job that was promised it


def late_kit(seat: SeatAt) -> list[Late]:
    """What should be back and was not checked in, the longest first."""
    open_ = seat.rows(KitBooking).filter(returned_at=None).select_related("item")
    waiting = {b.item_id: b for b in open_.filter(back_until__gt=now()).order_by("-out_from")}
    rows = open_.filter(back_until__lte=now()).order_by("back_until", "pk")
    return [Late(booking=row, then=waiting.get(row.item_id)) for row in rows]


def due_for_service(seat: SeatAt, on: date) -> list[KitItem]:
    """What must be looked over: its day has come, or its hours have run."""
    due = Q(service_on__lte=on) | Q(service_hours__isnull=False, hours__gte=F("service_hours"))
    return list(seat.rows(KitItem).filter(due, out_of_use=False).order_by("name", "mark"))

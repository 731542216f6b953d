"""The hire kit: what is free when, what is promised, what came back how."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Any, NamedTuple

from django.db import IntegrityError, transaction
from django.db.models import F, Q
from django.utils.timezone import now

from pricing.core.names import supply_name
from pricing.core.supply_keys import parse_key
from pricing.models import Holder, KitBooking, KitItem, KitNote, KitWish
from pricing.stores.kit_guard import is_clash
from pricing.stores.kit_sizes import size_fits

if TYPE_CHECKING:
    from studio.access import Access


@dataclass(frozen=True, slots=True, kw_only=True)
class KitSpan:
    """From leaving the shop until back and cleaned."""

    out_from: datetime
    back_until: datetime


class KitAsk(NamedTuple):
    """So many of a key; where its size matters, the lengths in metres by which it is known, any of which will do."""

    key: str
    many: int
    sizes_m: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class KitShort:
    """Something is not free: who has it, and what else there is."""

    key: str
    wanted: int
    free: int
    owned: int  # that are in use at all
    held_by: tuple[str, ...]  # titles of the jobs
    holders: tuple[Holder, ...]  # the same jobs; those that only are late left out
    instead: tuple[str, ...]  # items of the same sort that are free, under another key

    @property
    def sentence(self) -> str:
        have = " and ".join(self.held_by) or "nobody: there are no more"
        other = f" Free instead: {', '.join(self.instead)}." if self.instead else ""
        return f"{supply_name(self.key)}: {self.wanted} wanted, {self.free} free; promised to {have}.{other}"

    @property
    def is_promised_away(self) -> bool:
        """Whether other jobs hold what the studio has of its own; what it has not it hires or buys in."""
        return self.free < min(self.wanted, self.owned)


@dataclass(frozen=True, slots=True, kw_only=True)
class KitChoice:
    """What a job would be given of the kit, and what it would lack."""

    items: tuple[tuple[KitAsk, KitItem], ...]
    clashes: tuple[KitShort, ...]


class KitClash(ValueError):
    """What cannot be promised, all of it at once. Nothing was booked."""

    def __init__(self, clashes: Sequence[KitShort]) -> None:
        super().__init__(" ".join(clash.sentence for clash in clashes))
        self.clashes = tuple(clashes)


def bookings_in(access: Access, span: KitSpan) -> Any:
    """Bookings that stand in the way of a span: those that touch it, and what should be back and is not.

    Late kit is taken until it is checked in, for what begins within the studio's days and is not over yet
    (`pricing/stores/kit_guard.py`).
    """
    at, touch = now(), Q(back_until__gt=span.out_from)
    is_soon = span.out_from <= at + timedelta(days=access.studio.late_kit_days)
    late = Q(back_until__lte=at) if is_soon and span.back_until > at else Q(pk=None)
    return access.rows(KitBooking).filter(
        touch | late, returned_at=None, out_from__lt=span.back_until
    )


def free_items(
    access: Access, span: KitSpan, *, but: Holder | None = None
) -> dict[str, list[KitItem]]:
    """What can be promised for a span, by key; what `but` holds is free to itself."""
    busy = set(bookings_in(access, span).exclude(holder=but).values_list("item_id", flat=True))
    free: defaultdict[str, list[KitItem]] = defaultdict(list)
    for item in access.rows(KitItem).filter(out_of_use=False).order_by("key", "name", "mark", "pk"):
        if item.pk not in busy:
            free[item.key].append(item)
    return dict(free)


def choose_kit(
    access: Access, holder: Holder | None, wanted: Sequence[KitAsk | tuple[str, int]], span: KitSpan
) -> KitChoice:
    """The items for what is wanted: of the size that is asked first, then of no known size; what is out last."""
    free = free_items(access, span, but=holder)
    out = {late.item_id for late in late_bookings(access).exclude(holder=holder)}
    left, items, clashes = {key: list(some) for key, some in free.items()}, [], []
    for ask in (KitAsk(*one) for one in wanted):
        there = left.get(ask.key, [])
        there.sort(key=lambda item: (misfit_of(item, ask), item.pk in out))
        if len(there) < ask.many:
            clashes.append(_clash(access, ask, len(there), span, free, but=holder))
        items += [(ask, item) for item in there[: ask.many]]
        del there[: ask.many]
    return KitChoice(items=tuple(items), clashes=tuple(clashes))


def misfit_of(item: KitItem, ask: KitAsk) -> int:
    """0: the size that is asked, or any will do; 1: nobody knows its size; 2: another size."""
    return size_fits(f"{item.name} {item.mark}", ask.sizes_m)


@transaction.atomic
def book_items(
    access: Access,
    holder: Holder,
    wanted: Sequence[KitAsk | tuple[str, int]],
    span: KitSpan,
) -> list[KitBooking]:
    """Promise so many of each key to one job, in place of what it had. Raises KitClash, and changes nothing.

    The studio's lock makes bookings wait for one another; the database would refuse a second one anyway.
    """
    access.lock_studio()
    choice = choose_kit(access, holder, wanted, span)
    if choice.clashes:
        raise KitClash(choice.clashes)
    return _write(access, holder, choice, span)


@transaction.atomic
def book_what_is_free(
    access: Access,
    holder: Holder,
    wanted: Sequence[KitAsk | tuple[str, int]],
    span: KitSpan,
) -> tuple[KitShort, ...]:
    """The same as far as it goes; answers what is lacking. What is wanted is kept as wished for."""
    access.lock_studio()
    record_wishes(access, holder, wanted, span)
    choice = choose_kit(access, holder, wanted, span)
    _write(access, holder, choice, span)
    return choice.clashes


@transaction.atomic
def record_wishes(
    access: Access,
    holder: Holder,
    wanted: Sequence[KitAsk | tuple[str, int]],
    span: KitSpan,
) -> None:
    """Keep what a job wants of the kit, whether or not it gets it, in place of what it wanted."""
    access.rows(KitWish).filter(holder=holder).delete()
    for ask in (KitAsk(*one) for one in wanted):
        access.add(
            KitWish, holder=holder, key=ask.key, count=ask.many,
            sizes_m=list(ask.sizes_m), out_from=span.out_from, back_until=span.back_until,
        )  # fmt: skip


def _write(access: Access, holder: Holder, choice: KitChoice, span: KitSpan) -> list[KitBooking]:
    """Raises KitClash where the database knows better."""
    facts = {
        "holder": holder, "out_from": span.out_from, "back_until": span.back_until,
        "late_days": access.studio.late_kit_days,
    }  # fmt: skip
    try:
        with transaction.atomic():
            access.rows(KitBooking).filter(holder=holder, returned_at=None).delete()
            return [access.add(KitBooking, item=item, **facts) for _, item in choice.items]
    except IntegrityError as error:
        if not is_clash(error):
            raise
        free = free_items(access, span, but=holder)
        asks = dict.fromkeys(ask for ask, _ in choice.items)
        held = [
            _clash(access, ask, len(free.get(ask.key, ())), span, free, but=holder) for ask in asks
        ]
        raise KitClash(held) from error


@transaction.atomic
def keep_kit_until(access: Access, holder: Holder, span: KitSpan) -> None:
    """What is out comes back at the end of a span: the same items. Raises KitClash where another job has one then."""
    access.lock_studio()
    access.rows(KitWish).filter(holder=holder).update(back_until=span.back_until)
    out = access.rows(KitBooking).filter(holder=holder, returned_at=None)
    others = access.rows(KitBooking).exclude(holder=holder).filter(
        returned_at=None, out_from__lt=span.back_until, back_until__gt=span.out_from,
        item__in=out.values("item"),
    )  # fmt: skip
    keys = dict.fromkeys(others.order_by("pk").values_list("item__key", flat=True))
    try:
        with transaction.atomic():
            out.update(back_until=span.back_until)
    except IntegrityError as error:
        if not is_clash(error):
            raise
        many = Counter(out.values_list("item__key", flat=True))
        asks = [KitAsk(key, many[key]) for key in keys or many]
        raise KitClash([clash_of(access, ask, span, but=holder) for ask in asks]) from error


def clash_of(access: Access, ask: KitAsk, span: KitSpan, *, but: Holder | None) -> KitShort:
    """How it stands with a key in a span, for a job that does not stand in its own way."""
    free = free_items(access, span, but=but)
    return _clash(access, ask, len(free.get(ask.key, ())), span, free, but=but)


def _clash(
    access: Access,
    ask: KitAsk,
    there: int,
    span: KitSpan,
    free: dict[str, list[KitItem]],
    *,
    but: Holder | None,
) -> KitShort:
    """What a job lacks of a key. `but` is the job itself, which does not stand in its own way."""
    key, asked = ask.key, parse_key(ask.key)
    others_have = (
        bookings_in(access, span)
        .filter(item__key=key)
        .exclude(holder=but)
        .select_related("holder")
        .order_by("out_from", "pk")
    )
    # A ladder is no pump: of tools only those under the same word stand in for one another.
    alike = asked.covers if asked.kind == "tool" else lambda other: other.kind == asked.kind
    others = [items[0] for other, items in free.items() if other != key and alike(parse_key(other))]
    return KitShort(
        key=key, wanted=ask.many, free=there,
        owned=access.rows(KitItem).filter(key=key, out_of_use=False).count(),
        held_by=tuple(dict.fromkeys(booking.held_by for booking in others_have)),
        holders=tuple(
            dict.fromkeys(b.holder for b in others_have if b.back_until > span.out_from)
        ),
        instead=tuple(str(item) for item in others[:4]),
    )  # fmt: skip


def promised_away(
    access: Access, holder: Holder | None, wanted: Sequence[KitAsk | tuple[str, int]], span: KitSpan
) -> list[KitShort]:
    """What the studio has of its own but other jobs hold in a span. What it has not it hires or buys in."""
    return [
        clash
        for clash in choose_kit(access, holder, wanted, span).clashes
        if clash.is_promised_away
    ]


def release_kit(access: Access, holder: Holder) -> None:
    """A job that is called off needs nothing any more."""
    access.rows(KitBooking).filter(holder=holder, returned_at=None).delete()
    access.rows(KitWish).filter(holder=holder).delete()


@transaction.atomic
def check_in(
    access: Access,
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
    if not access.rows(KitBooking).filter(pk=booking.pk, returned_at=None).update(returned_at=at):
        return
    item = access.rows(KitItem).filter(pk=booking.item_id)
    broken = kind in (KitNote.Kind.CHARGED, KitNote.Kind.SPOILED)
    if hours:
        item.update(hours=F("hours") + hours)
    if what or broken:
        access.add(
            KitNote, item_id=booking.item_id, kind=kind, what=what[:300] or "broken",
            holder_id=booking.holder_id, who=access.person,
            amount=amount if kind == KitNote.Kind.CHARGED else None,
        )  # fmt: skip
        item.update(condition=what[:200] or "broken", version=F("version") + 1)
    if broken:
        item.update(out_of_use=True)


def kit_charges(access: Access, holders: Collection[Holder] | None = None) -> list[KitNote]:
    """What came back broken, from some jobs or from any, and is charged to the client: the newest note of each."""
    notes = access.rows(KitNote).filter(kind=KitNote.Kind.CHARGED).exclude(holder=None)
    if holders is not None:
        notes = notes.filter(holder__in=holders)
    rows = notes.select_related("item", "holder").order_by("pk")
    newest = {(note.holder_id, note.item_id): note for note in rows}
    return sorted(newest.values(), key=lambda note: note.pk)


def charge_note(access: Access, note: KitNote, amount: Decimal) -> KitNote:
    """How much is charged, before tax, in place of what was said; 0 lets it go. A note more: none is changed."""
    facts = {"item_id": note.item_id, "holder_id": note.holder_id, "what": note.what}
    return access.add(KitNote, kind=KitNote.Kind.CHARGED, amount=amount, who=access.person, **facts)


@dataclass(frozen=True, slots=True, kw_only=True)
class LateKit:
    """Something that should be back, and who waits for it."""

    booking: KitBooking
    then: KitBooking | None  # the next job that was promised it


def late_kit(access: Access) -> list[LateKit]:
    """What should be back and was not checked in, the longest first."""
    open_ = access.rows(KitBooking).filter(returned_at=None).select_related("item", "holder")
    waiting = {b.item_id: b for b in open_.filter(back_until__gt=now()).order_by("-out_from")}
    rows = late_bookings(access).order_by("back_until", "pk")
    return [LateKit(booking=row, then=waiting.get(row.item_id)) for row in rows]


def late_bookings(access: Access) -> Any:
    """Bookings of what should be back and was not checked in, their items and holders fetched along."""
    open_ = access.rows(KitBooking).filter(returned_at=None, back_until__lte=now())
    return open_.select_related("item", "holder")


def due_for_service(access: Access, on: date) -> list[KitItem]:
    """What must be looked over: its day has come, or its hours have run."""
    due = Q(service_on__lte=on) | Q(service_hours__isnull=False, hours__gte=F("service_hours"))
    return list(access.rows(KitItem).filter(due, out_of_use=False).order_by("name", "mark"))

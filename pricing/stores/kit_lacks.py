"""What jobs asked of the kit and did not get, or got in another size, or is still out with somebody."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from pricing.core.names import supply_name
from pricing.models import Holder, KitBooking, KitItem, KitWish
from pricing.stores.kit import (
    KitAsk,
    KitChoice,
    KitShort,
    KitSpan,
    clash_of,
    late_bookings,
    misfit_of,
)
from pricing.stores.kit_sizes import UNKNOWN
from studio.measure import Units, write_length

if TYPE_CHECKING:
    from studio.access import Access


# "stop": something is missing; "care": it is another size, or still out; "note": nobody knows its size.
type Weight = Literal["stop", "care", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class KitLack:
    """A job's trouble with its kit, as a sentence for the studio."""

    holder: Holder | None  # None: it holds nothing yet
    sentence: str
    weight: Weight

    @property
    def is_stop(self) -> bool:
        return self.weight == "stop"


def kit_lacks(access: Access, holders: Collection[int]) -> list[KitLack]:
    """The trouble of jobs that hold kit: first what is missing, then other sizes and what is still out.

    `holders` are keys of rows. Of a key that the studio has nothing of in its kit nothing is told: it is hired
    or bought in.
    """
    wanted = access.rows(KitWish).filter(holder__in=holders).select_related("holder")
    wishes = list(wanted.order_by("out_from", "pk"))
    booked = access.rows(KitBooking).filter(holder__in=holders, returned_at=None)
    held = list(booked.select_related("item", "holder").order_by("pk"))
    return [
        *_missing(access, wishes, held),
        *_other_sizes(access, wishes, held),
        *_out(access, held),
    ]


def _missing(access: Access, wishes: list[KitWish], held: list[KitBooking]) -> list[KitLack]:
    asked: Counter[tuple[Holder, str]] = Counter()
    for wish in wishes:
        asked[wish.holder, wish.key] += wish.count
    has = Counter((booking.holder, booking.item.key) for booking in held)
    first = {(wish.holder, wish.key): wish for wish in reversed(wishes)}
    owned = set(access.rows(KitItem).filter(out_of_use=False).values_list("key", flat=True))
    found = []
    for (holder, key), count in asked.items():
        if count <= has[holder, key] or key not in owned:
            continue
        wish = first[holder, key]
        span = KitSpan(out_from=wish.out_from, back_until=wish.back_until)
        clash = clash_of(access, KitAsk(key, count), span, but=holder)
        told = _now_free(clash) if clash.free >= count else clash.sentence
        found.append(KitLack(holder=holder, sentence=told, weight="stop"))
    return found


def _now_free(clash: KitShort) -> str:
    name = supply_name(clash.key)
    return f"{name}: {clash.wanted} wanted and free now. Book the kit again on its Build page."


def _other_sizes(access: Access, wishes: list[KitWish], held: list[KitBooking]) -> list[KitLack]:
    """Which items a job holds that are of no size it asked, key by key."""
    sizes: dict[tuple[Holder, str], list[KitAsk]] = {}
    for wish in wishes:
        ask = KitAsk(wish.key, wish.count, tuple(wish.sizes_m))
        sizes.setdefault((wish.holder, wish.key), []).append(ask)
    found: list[KitLack] = []
    for booking in held:
        asks = sizes.get((booking.holder, booking.item.key), [])
        if asks:
            found += _size(booking.holder, booking.item, asks, access.units)
    return found


def _size(
    holder: Holder | None, item: KitItem, asks: list[KitAsk], units: Units
) -> Iterator[KitLack]:
    """Whether an item is of another size than all that are asked, or nobody can tell."""
    worst = min(misfit_of(item, ask) for ask in asks)
    if not worst:
        return
    asked = " or ".join(" by ".join(write_length(m, units) for m in ask.sizes_m) for ask in asks)
    other = f"{item}: the design asks {asked}. It is another size."
    unknown = f"{item}: its size is not in its name, and the design asks {asked}. Measure it."
    if worst == UNKNOWN:
        yield KitLack(holder=holder, sentence=unknown, weight="note")
    else:
        yield KitLack(holder=holder, sentence=other, weight="care")


def _out(access: Access, held: list[KitBooking]) -> list[KitLack]:
    """What a job holds and another should have brought back."""
    late = {booking.item_id: booking for booking in late_bookings(access)}
    return [
        KitLack(
            holder=booking.holder, weight="care",
            sentence=f"{booking.item}: with {late[booking.item_id].held_by}.",
        )
        for booking in held
        if booking.item_id in late and late[booking.item_id].holder != booking.holder
    ]  # fmt: skip


def would_lack(access: Access, holder: Holder | None, choice: KitChoice) -> list[KitLack]:
    """The same of what a job would be given if it were booked now."""
    stops = [clash for clash in choice.clashes if clash.owned]
    found = [KitLack(holder=holder, sentence=c.sentence, weight="stop") for c in stops]
    late = {
        booking.item_id: booking for booking in late_bookings(access) if booking.holder != holder
    }
    for ask, item in choice.items:
        found += _size(holder, item, [ask], access.units)
        if item.pk in late:
            told = f"{item}: with {late[item.pk].held_by}."
            found.append(KitLack(holder=holder, sentence=told, weight="care"))
    return found

"""What jobs asked of the kit and did not get, or got in another size, or is still out with somebody."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from pricing.core.names import supply_name
from pricing.models import KitBooking, KitItem, KitWish
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

    about: str
    title: str
    sentence: str
    weight: Weight

    @property
    def is_stop(self) -> bool:
        return self.weight == "stop"


def kit_lacks(access: Access, abouts: Iterable[str]) -> list[KitLack]:
    """The trouble of jobs that hold kit: first what is missing, then other sizes and what is still out.

    Of a key that the studio has nothing of in its kit nothing is told: it is hired or bought in.
    """
    wanted = set(abouts)
    wishes = [w for w in access.rows(KitWish).order_by("out_from", "pk") if w.about in wanted]
    rows = access.rows(KitBooking).filter(returned_at=None).select_related("item").order_by("pk")
    held = [booking for booking in rows if booking.about in wanted]
    return [
        *_missing(access, wishes, held),
        *_other_sizes(access, wishes, held),
        *_out(access, held),
    ]


def _missing(access: Access, wishes: list[KitWish], held: list[KitBooking]) -> list[KitLack]:
    asked: Counter[tuple[str, str]] = Counter()
    for wish in wishes:
        asked[wish.about, wish.key] += wish.count
    has = Counter((booking.about, booking.item.key) for booking in held)
    first = {(wish.about, wish.key): wish for wish in reversed(wishes)}
    owned = set(access.rows(KitItem).filter(out_of_use=False).values_list("key", flat=True))
    found = []
    for (about, key), count in asked.items():
        if count <= has[about, key] or key not in owned:
            continue
        wish = first[about, key]
        span = KitSpan(out_from=wish.out_from, back_until=wish.back_until)
        clash = clash_of(access, KitAsk(key, count), span, but=about)
        told = _now_free(clash) if clash.free >= count else clash.sentence
        found.append(KitLack(about=about, title=wish.title, sentence=told, weight="stop"))
    return found


def _now_free(clash: KitShort) -> str:
    name = supply_name(clash.key)
    return f"{name}: {clash.wanted} wanted and free now. Book the kit again on its Build page."


def _other_sizes(access: Access, wishes: list[KitWish], held: list[KitBooking]) -> list[KitLack]:
    """Which items a job holds that are of no size it asked, key by key."""
    sizes: dict[tuple[str, str], list[KitAsk]] = {}
    for wish in wishes:
        ask = KitAsk(wish.key, wish.count, tuple(wish.sizes_m))
        sizes.setdefault((wish.about, wish.key), []).append(ask)
    found: list[KitLack] = []
    for booking in held:
        asks = sizes.get((booking.about, booking.item.key), [])
        if asks:
            found += _size(booking.about, booking.title, booking.item, asks, access.units)
    return found


def _size(
    about: str, title: str, item: KitItem, asks: list[KitAsk], units: Units
) -> Iterator[KitLack]:
    """Whether an item is of another size than all that are asked, or nobody can tell."""
    worst = min(misfit_of(item, ask) for ask in asks)
    if not worst:
        return
    asked = " or ".join(" by ".join(write_length(m, units) for m in ask.sizes_m) for ask in asks)
    other = f"{item}: the design asks {asked}. It is another size."
    unknown = f"{item}: its size is not in its name, and the design asks {asked}. Measure it."
    if worst == UNKNOWN:
        yield KitLack(about=about, title=title, sentence=unknown, weight="note")
    else:
        yield KitLack(about=about, title=title, sentence=other, weight="care")


def _out(access: Access, held: list[KitBooking]) -> list[KitLack]:
    """What a job holds and another should have brought back."""
    late = {booking.item_id: booking for booking in late_bookings(access)}
    return [
        KitLack(
            about=booking.about, title=booking.title, weight="care",
            sentence=f"{booking.item}: with {late[booking.item_id].holder}.",
        )
        for booking in held
        if booking.item_id in late and late[booking.item_id].about != booking.about
    ]  # fmt: skip


def would_lack(access: Access, about: str, title: str, choice: KitChoice) -> list[KitLack]:
    """The same of what a job would be given if it were booked now."""
    stops = [clash for clash in choice.clashes if clash.owned]
    found = [KitLack(about=about, title=title, sentence=c.sentence, weight="stop") for c in stops]
    late = {booking.item_id: booking for booking in late_bookings(access) if booking.about != about}
    for ask, item in choice.items:
        found += _size(about, title, item, [ask], access.units)
        if item.pk in late:
            told = f"{item}: with {late[item.pk].holder}."
            found.append(KitLack(about=about, title=title, sentence=told, weight="care"))
    return found

"""What lies on the shelves: moves in, moves out, never an edit. On hand is their sum."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import transaction
from django.db.models import Sum

from pricing.core.names import supply_name
from pricing.core.supply_keys import COLOURED, SupplyKey, parse_key
from pricing.models import (
    Holder,
    OrderLine,
    Pack,
    PurchaseOrder,
    Reservation,
    StockMove,
    Supply,
)
from pricing.stores.quantities import plain_number

if TYPE_CHECKING:
    from studio.access import Access

Kind = StockMove.Kind
NOTHING = Decimal(0)


class NotEnough(ValueError):
    """More was asked for than lies there, as a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfShift:
    """A line of a count sheet whose stock moved while somebody counted."""

    key: str
    shelf: str
    shown: Decimal  # by the sheet
    now: Decimal


class StockMoved(ValueError):
    """Stock moved since the sheet was opened. Nothing was put right."""

    def __init__(self, lines: list[ShelfShift]) -> None:
        super().__init__(f"Stock of {', '.join(line.key for line in lines)} moved meanwhile.")
        self.lines = tuple(lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class StockLot:
    """What came on one day and lies on one shelf."""

    key: str
    shelf: str
    aged_from: date
    quantity: Decimal

    def is_old(self, on: date, keeps_days: int) -> bool:
        """Latex past the studio's limit."""
        is_latex = parse_key(self.key).kind == "balloon"
        return is_latex and self.aged_from + timedelta(days=keeps_days) < on


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """One supply in figures."""

    key: str
    on_hand: Decimal = NOTHING
    reserved: Decimal = NOTHING
    on_order: Decimal = NOTHING
    to_send: Decimal = NOTHING  # ordered, and the order not sent yet

    @property
    def free(self) -> Decimal:
        """What no job has asked for; below zero where more is promised than lies there."""
        return self.on_hand - self.reserved


def stock_lots(access: Access, key: str = "") -> list[StockLot]:
    """Everything that lies there, the oldest first."""
    moves = access.rows(StockMove)
    if key:
        moves = moves.filter(key=key)
    sums = moves.values("key", "shelf", "aged_from").annotate(quantity=Sum("change"))
    rows = sums.exclude(quantity=0).order_by("aged_from", "key", "shelf")
    return [StockLot(**row) for row in rows]


def holdings(access: Access) -> dict[str, Holding]:
    """On hand, reserved, on order and to be ordered of every supply that has any, by key."""
    figures: defaultdict[str, dict[str, Decimal]] = defaultdict(dict)
    for row in access.rows(StockMove).values("key").annotate(sum=Sum("change")):
        figures[row["key"]]["on_hand"] = row["sum"]
    for row in access.rows(Reservation).values("key").annotate(sum=Sum("quantity")):
        figures[row["key"]]["reserved"] = row["sum"]
    for key, many in on_order(access).items():
        figures[key]["on_order"] = many
    for key, many in on_order(access, sent=False).items():
        figures[key]["to_send"] = many
    return {
        key: Holding(key=key, **some) for key, some in sorted(figures.items()) if any(some.values())
    }


def known_keys(access: Access) -> set[SupplyKey]:
    """Keys of what ever lay on a shelf, is promised, comes in a pack, or has a line in the price book.

    Without those that stop before the colour: what lies on a shelf has one.
    """
    system = access.as_system()
    found: set[str] = set().union(
        access.rows(StockMove).values_list("key", flat=True).distinct(),
        access.rows(Reservation).values_list("key", flat=True).distinct(),
        system.rows(Supply).filter(use=Supply.Use.CONSUMABLE).values_list("key", flat=True),
        *system.rows(Pack).values_list("contents", flat=True),
    )
    keys = map(parse_key, found)
    return {key for key in keys if key.colour or key.kind not in COLOURED}


def on_order(access: Access, *, sent: bool = True) -> dict[str, Decimal]:
    """What was ordered and has not come, by key; or what stands in orders that are not sent yet."""
    waiting: defaultdict[str, Decimal] = defaultdict(lambda: NOTHING)
    lines = (
        access.as_system().rows(OrderLine)
        .filter(order__sent_at__isnull=not sent, order__given_up_at__isnull=True)
        .annotate(came=Sum("receipts__count"))
    )  # fmt: skip
    for line in lines:
        for key, each in line.contents.items():
            waiting[key] += Decimal(each) * max(line.count - (line.came or 0), 0)
    return {key: many for key, many in waiting.items() if many}


@transaction.atomic
def put_in_stock(
    access: Access,
    key: str,
    quantity: Decimal,
    *,
    kind: str = Kind.BOUGHT,
    on: date,
    shelf: str = "",
    why: str = "",
    holder: Holder | None = None,
    order: PurchaseOrder | None = None,
) -> StockMove:
    """Something came. ValueError unless more than nothing did."""
    if quantity <= 0:
        raise ValueError(f"Quantity of {key}: expected more than 0, got {quantity}.")
    return access.add(
        StockMove, key=key, change=quantity, kind=kind, aged_from=on, shelf=shelf, why=why[:200],
        holder=holder, order=order, who=access.person,
    )  # fmt: skip


@transaction.atomic
def take_from_stock(
    access: Access,
    key: str,
    quantity: Decimal,
    *,
    kind: str = Kind.USED,
    shelf: str | None = None,
    why: str = "",
    holder: Holder | None = None,
) -> list[StockMove]:
    """Something went: from the oldest lots first, of one shelf or of all. Raises NotEnough, and takes nothing."""
    if quantity <= 0:
        raise ValueError(f"Quantity of {key}: expected more than 0, got {quantity}.")
    access.lock_studio()
    there = [lot for lot in stock_lots(access, key) if shelf is None or lot.shelf == shelf]
    held = sum((lot.quantity for lot in there), NOTHING)
    if held < quantity:
        raise NotEnough(
            f"{supply_name(key)}: expected at most {plain_number(held)}, which lie there,"
            f" got {plain_number(quantity)}."
        )
    moves = []
    for lot in there:
        part = min(lot.quantity, quantity)
        if part <= 0:
            continue
        quantity -= part
        moves.append(
            access.add(
                StockMove, key=key, change=-part, kind=kind, aged_from=lot.aged_from, shelf=lot.shelf,
                why=why[:200], holder=holder, who=access.person,
            )
        )  # fmt: skip
    return moves


@transaction.atomic
def shift_stock(access: Access, key: str, quantity: Decimal, *, source: str, to: str) -> None:
    """From one shelf to another; the age goes with it. Raises NotEnough."""
    for move in take_from_stock(
        access, key, quantity, kind=Kind.MOVED, shelf=source, why=f"to {to}"
    ):
        put_in_stock(
            access,
            key,
            -move.change,
            kind=Kind.MOVED,
            on=move.aged_from,
            shelf=to,
            why=f"from {source}",
        )


@transaction.atomic
def count_stock(
    access: Access,
    counted: Mapping[tuple[str, str], Decimal],
    *,
    on: date,
    shown: Mapping[tuple[str, str], Decimal] | None = None,
) -> int:
    """A walk along the shelves: (key, shelf) → what lies there. Differences become moves; answers how many.

    What is too much on paper goes from the oldest lots; what is too little comes in as of today. With what the
    sheet had `shown`: raises Moved where that is not what lies there by the books now, and changes nothing.
    """
    access.lock_studio()
    held: defaultdict[tuple[str, str], Decimal] = defaultdict(lambda: NOTHING)
    for lot in stock_lots(access):
        held[lot.key, lot.shelf] += lot.quantity
    moved = [
        ShelfShift(key=key, shelf=shelf, shown=was, now=held[key, shelf])
        for (key, shelf), was in (shown or {}).items()
        if (key, shelf) in counted and was != held[key, shelf]
    ]
    if moved:
        raise StockMoved(moved)
    changed = 0
    for (key, shelf), many in counted.items():
        if many < 0:
            raise ValueError(f"Count of {key}: expected 0 or more, got {many}.")
        difference = many - held[key, shelf]
        if difference > 0:
            put_in_stock(
                access, key, difference, kind=Kind.COUNTED, on=on, shelf=shelf, why="count sheet"
            )
        elif difference < 0:
            take_from_stock(
                access, key, -difference, kind=Kind.COUNTED, shelf=shelf, why="count sheet"
            )
        changed += bool(difference)
    return changed

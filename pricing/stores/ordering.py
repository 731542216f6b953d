"""Orders as they go out, and what comes of them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import transaction
from django.db.models import Sum
from django.template.loader import render_to_string

from pricing.core.supply_keys import parse_key, write_key
from pricing.models import OrderLine, Price, PurchaseOrder, Receipt, Supply
from pricing.stores.stock import put_in_stock
from studio.mail import queue_mail
from studio.paper import render_paper

if TYPE_CHECKING:
    from studio.access import Access


class CannotReceive(ValueError):
    """Why something cannot have come, as a sentence."""


def order_lines(access: Access, order: PurchaseOrder) -> list[OrderLine]:
    """Lines with `came`, the packs that have."""
    return list(
        access.rows(OrderLine)
        .filter(order=order)
        .annotate(came=Sum("receipts__count"))
        .order_by("pk")
    )


def came_of_line(line: OrderLine) -> int:
    """Packs of an annotated line that came."""
    return int(getattr(line, "came", None) or 0)


def goods_total(lines: list[OrderLine]) -> Decimal:
    return sum((line.cost for line in lines), Decimal(0))


def print_order(access: Access, order: PurchaseOrder, *, on: date) -> bytes:
    lines = order_lines(access, order)
    facts = {
        "studio": access.studio,
        "order": order,
        "lines": lines,
        "goods": goods_total(lines),
        "on": on,
    }
    html = render_to_string("papers/order.html", facts)
    return render_paper(html, paper=access.studio.paper_size)


@transaction.atomic
def send_order(access: Access, order: PurchaseOrder, *, at: datetime, on: date) -> None:
    """Freeze the paper, queue the letter with it. Sending twice is sending once."""
    pdf = print_order(access, order, on=on)
    fresh = access.rows(PurchaseOrder).filter(pk=order.pk, sent_at=None)
    if not fresh.update(sent_at=at, pdf=pdf):
        return
    if order.supplier.mail:
        number = f"{order.number:04d}"
        queue_mail(
            access, kind="order", once_key=f"order:{order.pk}", to=order.supplier.mail,
            subject=f"{access.studio.name}: order {number}",
            body=f"Please find our order {number} attached.\n\n{access.studio.name}\n",
            attachment=(f"order-{number}.pdf", pdf),
        )  # fmt: skip


@transaction.atomic
def receive_order(
    access: Access, order: PurchaseOrder, came: Mapping[int, int], *, on: date, shelf: str = ""
) -> int:
    """Packs that came, by line; in part or whole. They go on the shelves, and the last price is kept.

    Answers how many packs. Raises CannotReceive for more than was ordered, and takes nothing in.
    """
    access.lock_studio()
    total = 0
    for line in order_lines(access, order):
        packs = came.get(line.pk, 0)
        waiting = line.count - came_of_line(line)
        if not 0 <= packs <= waiting:
            raise CannotReceive(f"{line.name}: expected 0 to {waiting} packs, got {packs}.")
        if not packs:
            continue
        access.add(Receipt, line=line, count=packs, who=access.person)
        for key, each in line.contents.items():
            put_in_stock(
                access, key, Decimal(each) * packs, on=on, shelf=shelf or shelf_of(access, key),
                why=f"order {order.number:04d}", order=order,
            )  # fmt: skip
        record_price(access, line, on=on)
        total += packs
    return total


def shelf_of(access: Access, key: str) -> str:
    """Where a supply lies: as the most particular entry of the price book that covers it says."""
    supply = supply_of(access, key)
    return supply.shelf if supply else ""


def supply_of(access: Access, key: str) -> Supply | None:
    wider = [write_key(each) for each in parse_key(key).widening()]
    known = {row.key: row for row in access.rows(Supply).filter(key__in=wider)}
    return next((known[each] for each in wider if each in known), None)


def record_price(access: Access, line: OrderLine, *, on: date) -> None:
    """A pack of one supply tells what that supply costs from today; a mixed kit tells nothing of each."""
    if len(line.contents) != 1:
        return
    ((key, each),) = line.contents.items()
    supply = supply_of(access, key)
    if supply is None:
        return
    facts = {"pack_count": Decimal(each), "pack_price": line.price}
    known = (
        access.rows(Price).filter(supply=supply, valid_from__lte=on).order_by("-valid_from").first()
    )
    if known and known.pack_count == facts["pack_count"] and known.pack_price == line.price:
        return
    if known and known.valid_from == on:  # of two prices of one day the last one holds
        access.rows(Price).filter(pk=known.pk).update(**facts)
    else:
        access.add(Price, supply=supply, valid_from=on, **facts)


def give_up_order(access: Access, order: PurchaseOrder, *, at: datetime) -> None:
    """What has not come is not waited for any more."""
    access.rows(PurchaseOrder).filter(pk=order.pk, given_up_at=None).update(given_up_at=at)

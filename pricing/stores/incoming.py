"""What was ordered and has not come: how much, and by which day it can be counted on."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from django.db.models import Sum
from django.utils.timezone import localtime

from pricing.models import OrderLine
from pricing.stores.plan.wares import ComingSupply

if TYPE_CHECKING:
    from studio.access import Access


def coming(access: Access, *, on: date, sent_only: bool = False) -> list[ComingSupply]:
    """Everything that is waited for as of a day, orders that are not sent yet included unless said."""
    lines = (
        access.as_system().rows(OrderLine).filter(order__given_up_at=None)
        .annotate(came=Sum("receipts__count")).select_related("order__supplier").order_by("pk")
    )  # fmt: skip
    if sent_only:
        lines = lines.filter(order__sent_at__isnull=False)
    return [
        ComingSupply(key=key, quantity=int(each) * left, on=arrives(line, on=on))
        for line in lines
        if (left := line.count - (line.came or 0)) > 0
        for key, each in line.contents.items()
    ]


def arrives(line: OrderLine, *, on: date) -> date:
    """The day by which a line is here: its lead after the order went out, and not before it was asked for.

    What is not sent goes out today at the earliest; what is late comes today at the earliest.
    """
    order = line.order
    out = localtime(order.sent_at).date() if order.sent_at else on
    lead = order.supplier.lead_days if line.lead_days is None else line.lead_days
    return max(out + timedelta(days=lead), order.needed_by or on, on)

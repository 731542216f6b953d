"""What is due when, and where a client's payments stand on a date."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from pricing.core.money import Money, add_up


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    what: str  # "deposit", "balance"
    on: date
    amount: Money


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Payments against a schedule on a date; payments cover what is oldest first."""

    total: Money
    paid: Money
    due: tuple[Due, ...]  # what is still open of each instalment, oldest first
    overdue: tuple[Due, ...]  # those of `due` whose day has passed
    deposit_covered: bool

    @property
    def left(self) -> Money:
        return max(self.total - self.paid, self.total * 0)

    @property
    def over(self) -> Money:
        """Paid beyond the total."""
        return max(self.paid - self.total, self.total * 0)


def plan_instalments(
    total: Money,
    deposit: Money,
    *,
    offered_on: date,
    event_on: date,
    deposit_days: int,
    balance_days: int,
) -> tuple[Due, ...]:
    """Deposit so many days after the offer, balance so many days before the event; neither after the event.

    Instalments of nothing are left out; the rest adds up to the total. ValueError when the deposit is
    below zero or above the total.
    """
    if deposit.amount < 0 or deposit > total:
        raise ValueError(f"deposit: expected 0 to {total.amount}, got {deposit.amount}")
    deposit_on = min(offered_on + timedelta(days=deposit_days), event_on)
    balance_on = max(event_on - timedelta(days=balance_days), deposit_on)
    plan = (
        Due(what="deposit", on=deposit_on, amount=deposit),
        Due(what="balance", on=balance_on, amount=total - deposit),
    )
    return tuple(due for due in plan if due.amount)


def standing(
    plan: Sequence[Due], payments: Sequence[Money], *, on: date, currency: str
) -> Standing:
    """Where things stand on a date. Money given back is a negative payment."""
    paid = add_up(payments, currency)
    total = add_up((due.amount for due in plan), currency)
    nothing = Money(Decimal(0), currency)
    rest = max(paid, nothing)
    still = []
    for due in sorted(plan, key=lambda d: d.on):
        covered = min(rest, due.amount)
        rest = rest - covered
        if due.amount > covered:
            still.append(Due(what=due.what, on=due.on, amount=due.amount - covered))
    return Standing(
        total=total,
        paid=paid,
        due=tuple(still),
        overdue=tuple(due for due in still if due.on < on),
        deposit_covered=all(due.what != "deposit" for due in still),
    )


def plan_as_data(plan: Sequence[Due]) -> list[dict[str, Any]]:
    return [{"what": d.what, "on": d.on.isoformat(), "amount": str(d.amount.amount)} for d in plan]


def plan_from_data(rows: Sequence[dict[str, Any]], currency: str) -> tuple[Due, ...]:
    return tuple(
        Due(
            what=row["what"],
            on=date.fromisoformat(row["on"]),
            amount=Money(Decimal(row["amount"]), currency),
        )
        for row in rows
    )

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """A part of the total asked so many days before the event."""

    percent: Decimal
    days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """An event that was moved: on which day that was settled, and by how many days it went."""

    on: date
    days: int


def plan_instalments(
    total: Money,
    deposit: Money,
    *,
    offered_on: date,
    event_on: date,
    deposit_days: int,
    balance_days: int,
    stages: Sequence[Stage] = (),
) -> tuple[Due, ...]:
    """Deposit so many days after the offer, balance so many days before the event; neither after the event.

    Stages lie between the two, none before the deposit or after the balance, and none asks more than is left
    before it. Instalments of nothing are left out; the rest adds up to the total. ValueError when the deposit is
    below zero or above the total, or a stage is no percentage.
    """
    if deposit.amount < 0 or deposit > total:
        raise ValueError(f"deposit: expected 0 to {total.amount}, got {deposit.amount}")
    if wrong := [str(s.percent) for s in stages if not 0 <= s.percent <= 100]:
        raise ValueError(f"stage: expected 0 to 100 percent, got {wrong[0]}")
    deposit_on = min(offered_on + timedelta(days=deposit_days), event_on)
    balance_on = max(event_on - timedelta(days=balance_days), deposit_on)
    plan, left = [Due(what="deposit", on=deposit_on, amount=deposit)], total - deposit
    for n, stage in enumerate(sorted(stages, key=lambda s: -s.days), start=1):
        on = min(max(event_on - timedelta(days=stage.days), deposit_on), balance_on)
        amount = min(total.percent(stage.percent), left)
        what = "part payment" if len(stages) == 1 else f"part payment {n}"
        plan.append(Due(what=what, on=on, amount=amount))
        left = left - amount
    plan.append(Due(what="balance", on=balance_on, amount=left))
    return tuple(due for due in plan if due.amount)


def stages_from_data(rows: Sequence[Sequence[str]]) -> tuple[Stage, ...]:
    """Stages from [[percent, days], …] as text."""
    return tuple(Stage(percent=Decimal(percent), days=int(days)) for percent, days in rows)


def move_with_event(plan: Sequence[Due], moves: Sequence[Moved]) -> tuple[Due, ...]:
    """The plan after its event was moved: what was not due yet goes along by the same days, never the deposit.

    Nothing falls due before the day on which the move was settled. Amounts stay.
    """
    for move in moves:
        plan = [
            due if due.what == "deposit" or due.on <= move.on
            else Due(what=due.what, on=max(due.on + timedelta(days=move.days), move.on), amount=due.amount)
            for due in plan
        ]  # fmt: skip
    return tuple(plan)


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

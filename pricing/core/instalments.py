"""What is due when, and where a client's payments stand on a date."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import groupby
from typing import Any

from pricing.core.money import Money, add_up

DEPOSIT, BALANCE = "deposit", "balance"
GIVEN_BACK = "money given back beyond what came"


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    what: str  # DEPOSIT, BALANCE, or what stands between them
    on: date
    amount: Money


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Payments against a schedule on a date. What is open of its instalments adds up to `left`."""

    total: Money
    paid: Money
    due: tuple[Due, ...]  # what is still open of each instalment, in the order of the plan
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
class PaymentStage:
    """A part of the total asked so many days before the event."""

    percent: Decimal
    days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class EventShift:
    """An event that was moved: on which day that was settled, by how many days it went, and to which day."""

    on: date
    days: int
    event_on: date


def plan_instalments(
    total: Money,
    deposit: Money,
    *,
    offered_on: date,
    event_on: date,
    deposit_days: int,
    balance_days: int,
    stages: Sequence[PaymentStage] = (),
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
    plan, left = [Due(what=DEPOSIT, on=deposit_on, amount=deposit)], total - deposit
    for n, stage in enumerate(sorted(stages, key=lambda s: -s.days), start=1):
        on = min(max(event_on - timedelta(days=stage.days), deposit_on), balance_on)
        amount = min(total.percent(stage.percent), left)
        what = "part payment" if len(stages) == 1 else f"part payment {n}"
        plan.append(Due(what=what, on=on, amount=amount))
        left = left - amount
    plan.append(Due(what=BALANCE, on=balance_on, amount=left))
    return tuple(due for due in plan if due.amount)


def stages_from_data(rows: Sequence[Sequence[str]]) -> tuple[PaymentStage, ...]:
    """Stages from [[percent, days], …] as text."""
    return tuple(PaymentStage(percent=Decimal(percent), days=int(days)) for percent, days in rows)


def move_with_event(plan: Sequence[Due], moves: Sequence[EventShift]) -> tuple[Due, ...]:
    """The plan after its event was moved: what was not due yet goes along by the same days, never the deposit.

    Nothing falls due before the day on which the move was settled, or after the event. What was settled on one day
    is one move, so that a slip and its correction leave the plan as it was. Amounts stay.
    """
    moved = list(plan)
    for on, some in groupby(moves, key=lambda move: move.on):
        steps = list(some)
        days = timedelta(days=sum(step.days for step in steps))
        moved = [
            was if was.what == DEPOSIT else due if due.on <= on
            else replace(due, on=max(due.on + days, on))
            for was, due in zip(plan, moved, strict=True)
        ]  # fmt: skip
        moved = list(plan_within(moved, steps[-1].event_on))
    return tuple(moved)


def plan_within(plan: Sequence[Due], event_on: date) -> Iterator[Due]:
    """The plan in its order: no instalment is due before the one that stands before it, none after the event."""
    day = date.min
    for due in plan:
        day = min(max(due.on, day), event_on)
        yield replace(due, on=day)


def plan_cut_to(plan: Sequence[Due], total: Money) -> tuple[Due, ...]:
    """The plan cut to a smaller total, the last instalment first: the balance shrinks, the deposit goes last.

    That is what a client expects of a credit note, and it never opens what was covered. A total above that of the
    plan is asked with the last instalment. ValueError where there is none to ask it with.
    """
    more = total - add_up((due.amount for due in plan), total.currency)
    if more.amount > 0 and not plan:
        raise ValueError(f"total: expected 0 without instalments, got {total.amount}")
    kept: list[Due] = []
    for due in reversed(plan):
        amount = max(due.amount + more, more * 0)
        more = more + due.amount - amount
        if amount:
            kept.append(replace(due, amount=amount))
    return tuple(reversed(kept))


def standing_on(
    plan: Sequence[Due], payments: Sequence[Money], *, on: date, currency: str, total: Money | None = None,
    short_since: date | None = None,
) -> Standing:  # fmt: skip
    """Where things stand on a date. Money given back is a negative payment.

    Payments cover the instalments in the order of the plan, whatever day each fell on since: the deposit first.
    `total` is what is asked, where that is not the plan. Where more went back than came, that is owed too, since the
    day `short_since`.
    """
    paid = add_up(payments, currency)
    nothing = paid * 0
    rest = max(paid, nothing)
    still = []
    if paid < nothing:
        still.append(Due(what=GIVEN_BACK, on=short_since or on, amount=-paid))
    for due in plan:
        covered = min(rest, due.amount)
        rest = rest - covered
        if due.amount > covered:
            still.append(replace(due, amount=due.amount - covered))
    return Standing(
        total=add_up((due.amount for due in plan), currency) if total is None else total,
        paid=paid,
        due=tuple(still),
        overdue=tuple(due for due in still if due.on < on),
        deposit_covered=all(due.what not in (DEPOSIT, GIVEN_BACK) for due in still),
    )


def plan_as_data(plan: Sequence[Due]) -> list[dict[str, Any]]:
    return [{"what": d.what, "on": d.on.isoformat(), "amount": str(d.amount.amount)} for d in plan]


def plan_from_data(rows: Sequence[Mapping[str, Any]], currency: str) -> tuple[Due, ...]:
    return tuple(
        Due(
            what=row["what"],
            on=date.fromisoformat(row["on"]),
            amount=Money.read(row["amount"], currency),
        )
        for row in rows
    )

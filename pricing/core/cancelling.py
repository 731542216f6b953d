"""Calling off: what a studio keeps by its own scale, what goes back, what is still owed. Exact."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from pricing.core.crediting import set_apart
from pricing.core.invoice import in_part
from pricing.core.money import Money, add_up
from pricing.core.tax import TaxLine

NOTHING = Decimal(0)
NEAR = 6  # minor units: more than rounding in all groups of a document comes to


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleStep:
    """So many days before the event or earlier, so many percent of the total are kept."""

    days: int
    percent: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Steps from the earliest to the day of the event. No steps: nothing is kept."""

    steps: tuple[ScaleStep, ...]

    def __post_init__(self) -> None:
        """ValueError unless days fall, percents are 0 to 100 and never fall, and the last step reaches day 0."""
        days, percents = [s.days for s in self.steps], [s.percent for s in self.steps]
        if days != sorted(set(days), reverse=True):
            raise ValueError(f"days: expected them to fall from step to step, got {days}")
        if wrong := [str(p) for p in percents if not 0 <= p <= 100]:
            raise ValueError(f"percent: expected 0 to 100, got {wrong[0]}")
        if percents != sorted(percents):
            told = [str(p) for p in percents]
            raise ValueError(f"percent: expected no less nearer to the event, got {told}")
        if days and days[-1] > 0:
            raise ValueError(f"last step: expected 0 days or later, got {days[-1]}")

    def percent(self, days_before: int) -> Decimal:
        """The share kept so many days before the event (below zero: after it); the last step holds beyond it.

        >>> scale = Scale.read([["30", "25"], ["0", "100"]])
        >>> scale.percent(30), scale.percent(29)
        (Decimal('25'), Decimal('100'))
        """
        for step in self.steps:
            if days_before >= step.days:
                return step.percent
        return self.steps[-1].percent if self.steps else NOTHING

    @classmethod
    def read(cls, rows: Sequence[Sequence[str]]) -> Scale:
        """A scale from [[days, percent], …] as text."""
        return cls(steps=tuple(ScaleStep(days=int(days), percent=Decimal(p)) for days, p in rows))

    def rows(self) -> list[list[str]]:
        """As `read` takes it."""
        return [[str(step.days), str(step.percent)] for step in self.steps]

    @classmethod
    def flat(cls, percent: Decimal) -> Scale:
        """The same share whatever the day."""
        return cls(steps=(ScaleStep(days=0, percent=percent),))


@dataclass(frozen=True, slots=True, kw_only=True)
class Settlement:
    """What a call-off comes to: kept + refund - owed = paid, and never both of the latter."""

    percent: Decimal
    kept: Money  # of the total, tax included
    refund: Money  # of what was paid
    owed: Money

    def __post_init__(self) -> None:
        """ValueError for less than nothing kept, given back or owed, or more given back than was paid."""
        for what, amount in (("kept", self.kept), ("refund", self.refund), ("owed", self.owed)):
            if amount.amount < 0:
                raise ValueError(f"{what}: expected none below zero, got {amount.amount}")
        if self.refund and self.owed:
            raise ValueError(
                f"refund: expected none while something is owed, got {self.refund.amount}"
            )

    def keeping(self, kept: Money) -> Settlement:
        """The same with another amount kept, where papers cannot hold this one to the last cent."""
        return split_paid(self.kept + self.refund - self.owed, kept, self.percent)


def split_paid(paid: Money, kept: Money, percent: Decimal) -> Settlement:
    nothing = paid * 0
    return Settlement(
        percent=percent,
        kept=kept,
        refund=max(paid - kept, nothing),
        owed=max(kept - paid, nothing),
    )


def settle_cancellation(total: Money, paid: Money, scale: Scale, days_before: int) -> Settlement:
    """What is kept of a total by the scale, what goes back of what was paid, what is still owed.

    ValueError for a total below zero. More may have gone back than came: then that is owed too.
    """
    if total.amount < 0:
        raise ValueError(f"total: expected none below zero, got {total.amount}")
    percent = scale.percent(days_before)
    return split_paid(paid, total.percent(percent), percent)


# Papers carry tax rounded on each group (BR-CO-17), so not every total can be had. What is kept is then what the
# papers can hold: never more than the scale says, at most some minor units less. A part that is credited leaves a
# rest that can be credited too (crediting.py).


def worth_of_groups(groups: Sequence[TaxLine], currency: str) -> Money:
    """Net and tax together."""
    return add_up((amount for line in groups for amount in (line.net, line.tax)), currency)


def part_up_to(groups: tuple[TaxLine, ...], most: Money) -> tuple[TaxLine, ...]:
    """The largest part of a document, in its tax groups' shares, that is worth no more; nothing for nothing."""
    currency = most.currency
    if not most:
        return ()
    if worth_of_groups(groups, currency) <= most:
        return groups
    net = _about(groups, most, NEAR)
    while net.amount > 0:
        part = in_part(groups, net)
        if worth_of_groups(part, currency) <= most:
            return part
        net = net - Money.of_minor(1, currency)
    return ()


def part_from(left: tuple[TaxLine, ...], least: Money) -> tuple[TaxLine, ...]:
    """The smallest sound part of what is left that is worth no less; all of it where that is not worth so much."""
    currency = least.currency
    whole = add_up((line.net for line in left), currency)
    net = max(_about(left, least, -NEAR), Money.of_minor(1, currency))
    while net < whole:
        part = set_apart(left, net)
        if part and worth_of_groups(part, currency) >= least:
            return part
        net = net + Money.of_minor(1, currency)
    return set_apart(left, whole)


def _about(groups: Sequence[TaxLine], gross: Money, more: int) -> Money:
    """The net that comes to about so much with its tax, some minor units up or down, never above the whole."""
    net = add_up((line.net for line in groups), gross.currency)
    share = net.minor * gross.minor // worth_of_groups(groups, gross.currency).minor
    return Money.of_minor(max(0, min(share + more, net.minor)), gross.currency)

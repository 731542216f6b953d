"""What is needed, what is sold, and what is bought: the values of a buying plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import IntEnum
from typing import Literal

type Reason = Literal["no pack", "price not in force", "grade too low", "too late"]
type Amounts = Mapping[str, int]  # key of a supply → how many


class Grade(IntEnum):
    """What a balloon is sold for. Ribbon, ties and the like carry none."""

    PARTY = 1
    PROFESSIONAL = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    key: str  # of the supply, as the price book writes it
    quantity: int
    needed_by: date | None = None  # in the shop on that day at the latest; None: whenever it comes

    def __post_init__(self) -> None:
        whole_amount(f"quantity of {self.key}", self.quantity)


@dataclass(frozen=True, slots=True, kw_only=True)
class ComingSupply:
    """Ordered before, and not here yet."""

    key: str
    quantity: int
    on: date  # in the shop on that day at the latest

    def __post_init__(self) -> None:
        whole_amount(f"on order of {self.key}", self.quantity)


@dataclass(frozen=True, slots=True, kw_only=True)
class PackOffer:
    """What a supplier sells at one price: so many of one supply, or a mixed kit."""

    id: str
    supplier: str
    contents: Amounts
    price: Decimal  # before tax
    lead_days: int = 0  # from order to shop, Sundays and all
    grade: Grade | None = None  # None: holds nothing that is graded
    valid_from: date | None = None
    valid_until: date | None = None  # that day included
    minimum: int = 1  # packs that are sold at the least

    def __post_init__(self) -> None:
        exact_amount(f"price of {self.id}", self.price)
        if not self.price:
            raise ValueError(f"price of {self.id}: expected more than 0, got {self.price}")
        for key, many in self.contents.items():
            whole_amount(f"{key} in {self.id}", many, at_least=1)
        if not self.contents:
            raise ValueError(f"contents of {self.id}: expected some supply, got none")
        whole_amount(f"lead_days of {self.id}", self.lead_days)
        whole_amount(f"minimum of {self.id}", self.minimum, at_least=1)

    def in_force(self, on: date) -> bool:
        return (self.valid_from or on) <= on <= (self.valid_until or on)

    def arrives(self, ordered_on: date) -> date:
        return ordered_on + timedelta(days=self.lead_days)


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierTerms:
    name: str
    delivery: Decimal = Decimal(0)  # for each order
    minimum: Decimal = Decimal(0)  # value of goods below which no order is taken

    def __post_init__(self) -> None:
        exact_amount(f"delivery of {self.name}", self.delivery)
        exact_amount(f"minimum of {self.name}", self.minimum)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bought:
    """So many of one pack, and what becomes of what is in them."""

    pack: PackOffer
    count: int
    cost: Decimal
    arrives: date
    covers: Amounts
    left: Amounts


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedOrder:
    supplier: SupplierTerms
    lines: tuple[Bought, ...]

    @property
    def goods(self) -> Decimal:
        return sum((line.cost for line in self.lines), Decimal(0))

    @property
    def total(self) -> Decimal:
        return self.goods + self.supplier.delivery


@dataclass(frozen=True, slots=True, kw_only=True)
class MissingSupply:
    """What no pack on offer can cover."""

    key: str
    quantity: int
    needed_by: date | None
    reason: Reason
    earliest: date | None = None  # when too late: the day the first pack could be here


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A plan that was made before. A search that the clock ends may find another one for the same question."""

    question: str
    counts: Mapping[str, int]  # packs by their id


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    orders: tuple[PlannedOrder, ...]
    missing: tuple[MissingSupply, ...]
    from_stock: Amounts
    from_on_order: Amounts
    total: Decimal  # goods and delivery
    leftovers_worth: Decimal  # of what is left over and will be used
    saves: Decimal  # against each line alone; the worth of leftovers counts on both sides
    gap: Decimal  # by how much a plan could still be cheaper, as a part of the cost; 0: by nothing
    question: (
        str  # the same where the same was asked: of what is needed, on offer, and worth something
    )

    @property
    def bought(self) -> tuple[Bought, ...]:
        return tuple(line for order in self.orders for line in order.lines)

    @property
    def found(self) -> Found:
        return Found(
            question=self.question, counts={line.pack.id: line.count for line in self.bought}
        )

    @property
    def left(self) -> Amounts:
        """What is left over of what is bought."""
        left: Counter[str] = Counter()
        for line in self.bought:
            left.update(line.left)
        return dict(left)

    @property
    def proven(self) -> bool:
        """That no plan is cheaper."""
        return not self.gap


def whole_amount(what: str, amount: object, *, at_least: int = 0) -> None:
    if not isinstance(amount, int) or amount < at_least:
        raise ValueError(f"{what}: expected a whole number from {at_least}, got {amount}")


def exact_amount(what: str, amount: object) -> None:
    if not isinstance(amount, Decimal):
        raise TypeError(f"{what}: expected Decimal, got {type(amount).__name__}")
    if not amount.is_finite() or amount < 0:
        raise ValueError(f"{what}: expected 0 or more, got {amount}")

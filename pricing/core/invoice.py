"""An invoice or a credit note as a value: EN 16931 arithmetic, exact or refused."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from pricing.core.money import Money, add_up
from pricing.core.tax import TaxGroup, TaxLine

type Kind = Literal["invoice", "credit"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Party:
    """Seller or buyer."""

    name: str
    address: str  # lines as written on a letter
    country: str  # ISO 3166-1 alpha-2
    tax_number: str = ""  # as people write it
    vat_id: str = ""  # as machines read it, its country before it; "" where it is no VAT number
    mail: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class InvoiceLine:
    what: str
    net: Money
    group: TaxGroup


@dataclass(frozen=True, slots=True, kw_only=True)
class InvoiceValue:
    kind: Kind
    number: str
    of: str  # the invoice that a credit note puts right; "" otherwise
    issued_on: date
    due_on: date
    delivered_on: date
    seller: Party
    buyer: Party
    lines: tuple[InvoiceLine, ...]
    groups: tuple[TaxLine, ...]
    paid: Money
    reference: str  # what the payer writes beside the money
    iban: str = ""
    bic: str = ""

    def __post_init__(self) -> None:
        """Refuse what does not add up (BR-CO-10, -13, -14, -15)."""
        for line in self.groups:
            net = add_up((x.net for x in self.lines if x.group == line.group), self.currency)
            if net != line.net:
                raise ValueError(
                    f"net of {line.group.name}: expected {net.amount}, got {line.net.amount}"
                )
            exact = line.net.percent(line.group.percent)
            if abs(exact.minor - line.tax.minor) > line.group.by_line:
                raise ValueError(
                    f"tax of {line.group.name}: expected {exact.amount}, got {line.tax.amount}"
                )
        if {x.group for x in self.lines} != {x.group for x in self.groups}:
            raise ValueError("groups: expected one for each tax group of the lines, got others")

    @property
    def currency(self) -> str:
        return self.paid.currency

    @property
    def net(self) -> Money:
        return add_up((line.net for line in self.lines), self.currency)

    @property
    def tax(self) -> Money:
        return add_up((line.tax for line in self.groups), self.currency)

    @property
    def total(self) -> Money:
        return self.net + self.tax

    @property
    def due(self) -> Money:
        """What is left to pay: total less what was paid (BR-CO-16)."""
        return self.total - self.paid

    @property
    def short(self) -> Money:
        """What was given back beyond what came."""
        return max(-self.paid, self.paid * 0)

    @property
    def credit(self) -> Money:
        """What was paid beyond the total: what people call a credit, and EN 16931 a negative amount due."""
        return max(-self.due, self.due * 0)


def in_part(groups: tuple[TaxLine, ...], net: Money) -> tuple[TaxLine, ...]:
    """A smaller net over the same tax groups in their shares; the tax of each on its own net.

    ValueError unless it is above zero and no more than the whole.
    """
    whole = add_up((line.net for line in groups), net.currency)
    if net == whole:
        return groups
    if not Money(Decimal(0), net.currency) < net <= whole:
        raise ValueError(f"net: expected above 0 and at most {whole.amount}, got {net.amount}")
    parts = net.share([line.net.minor for line in groups])
    return tuple(
        TaxLine(group=line.group, net=part, tax=part.percent(line.group.percent))
        for line, part in zip(groups, parts, strict=True)
        if part
    )

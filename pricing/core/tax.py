"""Totals and tax of a document, by the arithmetic of EN 16931 (rules BR-CO-10 to BR-CO-17, BR-DEC)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Literal

from pricing.core.money import Money, add_up

type Rounding = Literal["document", "line"]

# Categories of UNCL 5305 that the house knows; what of them names no rate.
STANDARD, ZERO, EXEMPT, REVERSE_CHARGE, OUTSIDE = "S", "Z", "E", "AE", "O"
RATELESS = (EXEMPT, REVERSE_CHARGE, OUTSIDE)


@dataclass(frozen=True, slots=True, kw_only=True)
class TaxGroup:
    """A category and its rate."""

    code: str  # of UNCL 5305
    name: str  # what the client reads: "VAT"
    percent: Decimal
    reason: str = ""  # why nothing is asked, where the law wants it said (BT-120)
    by_line: bool = False  # rounded on each line: its sum may lie a minor unit off
    covers: str = ""  # what is sold under it, where work is taxed otherwise than goods

    @property
    def words(self) -> str:
        """As people read it. Where the law asks for no tax there is no rate to name (E, AE, O of UNCL 5305).

        >>> TaxGroup(code="S", name="VAT", percent=Decimal("20.000")).words
        'VAT 20 %'
        >>> TaxGroup(code="AE", name="reverse charge", percent=Decimal(0)).words
        'reverse charge'
        """
        return self.name if self.code in RATELESS else f"{self.name} {self.percent.normalize():f} %"

    @property
    def is_outside(self) -> bool:
        """Not subject to tax: a document names neither tax nor rate for it."""
        return self.code == OUTSIDE


def rated(name: str, percent: Decimal, *, by_line: bool = False, covers: str = "") -> TaxGroup:
    """A group as usual: standard, or zero-rated where there is no percent."""
    code = STANDARD if percent else ZERO
    return TaxGroup(code=code, name=name, percent=percent, by_line=by_line, covers=covers)


@dataclass(frozen=True, slots=True, kw_only=True)
class TaxLine:
    group: TaxGroup
    net: Money
    tax: Money


def tax_lines_data(lines: Iterable[TaxLine]) -> list[dict[str, Any]]:
    """As JSON data: amounts as text, so that nothing is lost; what is empty of a group is left out."""
    rows = []
    for line in lines:
        group = line.group
        more = {"reason": group.reason, "by_line": group.by_line, "covers": group.covers}
        rows.append(
            {
                "code": group.code, "name": group.name, "percent": str(group.percent),
                "net": str(line.net.amount), "tax": str(line.tax.amount),
                **{name: value for name, value in more.items() if value},
            }
        )  # fmt: skip
    return rows


def tax_lines_from(rows: Sequence[Mapping[str, Any]], currency: str) -> tuple[TaxLine, ...]:
    """What `tax_lines_data` wrote; older rows say nothing of reason, rounding or what is covered."""
    return tuple(
        TaxLine(
            group=TaxGroup(
                code=row["code"], name=row["name"], percent=Decimal(row["percent"]),
                reason=row.get("reason", ""), by_line=row.get("by_line", False), covers=row.get("covers", ""),
            ),
            net=Money.read(row["net"], currency), tax=Money.read(row["tax"], currency),
        )
        for row in rows
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    lines: Money  # sum of the lines
    allowances: Money
    charges: Money
    net: Money
    groups: tuple[TaxLine, ...]
    tax: Money
    total: Money
    prepaid: Money

    @property
    def due(self) -> Money:
        return self.total - self.prepaid


type Amounts = Sequence[tuple[Money, TaxGroup]]


def work_out_totals(
    lines: Amounts,
    *,
    currency: str,
    allowances: Amounts = (),
    charges: Amounts = (),
    prepaid: Money | None = None,
    rounding: Rounding = "document",
) -> Totals:
    """Sum lines, take allowances off, add charges, tax each group on its own net.

    `rounding` "line" rounds tax on every line instead of once a group; laws leave that choice open.
    """
    signed = [*lines, *((-a, group) for a, group in allowances), *charges]
    groups = tuple(
        _tax(group, signed, currency, rounding) for group in dict.fromkeys(g for _, g in signed)
    )
    parts = [
        add_up((amount for amount, _ in some), currency) for some in (lines, allowances, charges)
    ]
    net = parts[0] - parts[1] + parts[2]
    tax = add_up((line.tax for line in groups), currency)
    return Totals(
        lines=parts[0], allowances=parts[1], charges=parts[2], net=net, groups=groups, tax=tax,
        total=net + tax, prepaid=prepaid or Money(Decimal(0), currency),
    )  # fmt: skip


def _tax(group: TaxGroup, signed: Amounts, currency: str, rounding: Rounding) -> TaxLine:
    mine = [amount for amount, its in signed if its == group]
    net = add_up(mine, currency)
    each = mine if rounding == "line" else [net]
    tax = add_up((amount.percent(group.percent) for amount in each), currency)
    return TaxLine(group=group, net=net, tax=tax)


def tax_inside(gross: Money, percent: Decimal) -> tuple[Money, Money]:
    """Net and tax of a price that has the tax in it.

    >>> net, tax = tax_inside(Money(Decimal("99.99"), "GBP"), Decimal(20))
    >>> str(net.amount), str(tax.amount)
    ('83.32', '16.67')
    """
    tax = Money(gross.amount * percent / (100 + percent), gross.currency)
    return gross - tax, tax

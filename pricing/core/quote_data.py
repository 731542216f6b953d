"""A quote as JSON data and back: the client's figures, and what it costs the studio. Amounts are text, so exact."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, get_args

from pricing.core.money import Money, add_up
from pricing.core.quote import WORK_AT, ClientFigures, CostKind, CostLine, Quote
from pricing.core.tax import tax_lines_data, tax_lines_from

COST_KINDS: dict[str, CostKind] = {kind: kind for kind in get_args(CostKind.__value__)}


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotedWork:
    """What the work at one place was quoted at."""

    minutes: Decimal
    cost: Money


@dataclass(frozen=True, slots=True, kw_only=True)
class Costing:
    """What a quote costs the studio and what stays: for the studio only."""

    cost: Money
    margin: Money
    lines: tuple[CostLine, ...]

    @property
    def materials(self) -> Money:
        """Part of the cost."""
        return add_up(
            (line.cost for line in self.lines if line.kind == "materials"), self.cost.currency
        )

    @property
    def work(self) -> dict[str, QuotedWork]:
        """Minutes and cost of the work at each place; odd hours cost, and take no longer."""
        found: dict[str, QuotedWork] = {}
        for line in self.lines:
            if line.kind != "labour":
                continue
            is_work = line.label.startswith(WORK_AT)
            place = line.label.removeprefix(WORK_AT) if is_work else "site"
            was = found.get(place)
            more = line.quantity if is_work else Decimal(0)
            found[place] = QuotedWork(
                minutes=was.minutes + more if was else more,
                cost=was.cost + line.cost if was else line.cost,
            )
        return found


def figures_data(figures: ClientFigures) -> dict[str, Any]:
    amounts = ("price", "discount", "net", "tax", "total", "deposit", "balance")
    return {
        "currency": figures.total.currency,
        **{name: str(getattr(figures, name).amount) for name in amounts},
        "groups": tax_lines_data(figures.groups),
    }


def figures_from(data: Mapping[str, Any]) -> ClientFigures:
    """What `figures_data` wrote."""
    currency: str = data["currency"]
    amounts = ("price", "discount", "net", "tax", "total", "deposit")
    return ClientFigures(
        groups=tax_lines_from(data["groups"], currency),
        **{name: Money.read(data[name], currency) for name in amounts},
    )


def costing_of(quote: Quote) -> Costing:
    return Costing(cost=quote.cost, margin=quote.margin, lines=quote.lines)


def costing_data(costing: Costing) -> dict[str, Any]:
    return {
        "cost": str(costing.cost.amount),
        "margin": str(costing.margin.amount),
        "lines": [
            {
                "label": line.label, "kind": line.kind, "quantity": str(line.quantity), "unit": line.unit,
                "unit_cost": str(line.unit_cost), "cost": str(line.cost.amount),
            }
            for line in costing.lines
        ],
    }  # fmt: skip


def costing_from(data: Mapping[str, Any], currency: str) -> Costing:
    """What `costing_data` wrote."""
    return Costing(
        cost=Money.read(data["cost"], currency),
        margin=Money.read(data["margin"], currency),
        lines=tuple(
            CostLine(
                label=row["label"], kind=COST_KINDS[row["kind"]], quantity=Decimal(row["quantity"]), unit=row["unit"],
                unit_cost=Decimal(row["unit_cost"]), cost=Money.read(row["cost"], currency),
            )
            for row in data["lines"]
        ),
    )  # fmt: skip

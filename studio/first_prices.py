"""What the first start asks rooms that it does not know: figures to begin with, pieces and their prices."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Protocol

from django.dispatch import Signal

from studio.measure import Units
from studio.signals import figures_wanted, hour_wanted, pieces_wanted


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What was typed so far about money."""

    currency: str  # ISO 4217
    language: str
    units: Units
    hour: Decimal  # what an hour of work earns, before overhead and margin
    least: Decimal  # the least price of a job, before tax
    tax_name: str
    tax_percent: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstPiece:
    """One worked example: what it holds and what the client would pay. Amounts are written out."""

    key: str
    name: str
    holds: str
    hours: str
    materials: str
    net: str  # before tax
    total: str  # tax included
    is_least: bool  # whether the least job made the price


class FirstPrices(Protocol):
    """Figures to begin with."""

    hour: Decimal
    least: Decimal
    tax_name: str
    tax_percent: Decimal


def _answer(signal: Signal, **asked: Any) -> Any:
    """The one answer that is something; None where no room has one."""
    return next((got for _, got in signal.send(Figures, **asked) if got is not None), None)


def proposal_for(currency: str) -> FirstPrices | None:
    found: FirstPrices | None = _answer(figures_wanted, currency=currency)
    return found


def pieces_for(figures: Figures) -> tuple[FirstPiece, ...]:
    return _answer(pieces_wanted, figures=figures) or ()


def hour_for(figures: Figures, piece: str, asked: Decimal) -> Decimal | str:
    found = _answer(hour_wanted, figures=figures, piece=piece, asked=asked)
    return "There are no example prices in this currency." if found is None else found

"""Who may do what: one table, a row for each role. Pure.

Views, forms and templates ask for a permission, never for a role. Whoever works for a studio reads briefs, designs,
the diary, stock and the lists of the day, ticks what is packed, checks kit in and records time; all else wants a
permission. Another role is another row of `ROLES`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Permission(StrEnum):
    """What a role may do beyond the day's work; the words stand in the sentence that refuses it."""

    SEE_PRICES = "see_prices"  # of supplies and work, and what a job leaves
    SEE_MONEY = "see_money"  # what clients were asked for, paid and owe
    SEE_REPORTS = "see_reports"
    SEE_STUDIO = "see_studio"  # its facts, its mail
    EDIT_JOBS = "edit_jobs"  # enquiries, briefs, designs, dates, what is held
    SELL = "sell"  # prices, proposals, answers to clients, cancellations
    RECORD_MONEY = "record_money"  # payments, invoices, credit notes, charges
    MANAGE_STOCK = "manage_stock"  # kit, suppliers, packs, orders
    SET_PRICES = "set_prices"  # the price book, rates and the studio's practice
    OWN_STUDIO = "own_studio"  # the studio's facts, its logo, who works there


REFUSED = {
    Permission.SEE_PRICES: "Prices and money are kept by the office.",
    Permission.SEE_MONEY: "Prices and money are kept by the office.",
    Permission.SEE_REPORTS: "Reports are read by the office.",
    Permission.SEE_STUDIO: "The studio’s own pages are read by the office.",
    Permission.EDIT_JOBS: "The office keeps this; crew read it.",
    Permission.SELL: "Proposals and prices of jobs are made by the office.",
    Permission.RECORD_MONEY: "Money is written down by the office.",
    Permission.MANAGE_STOCK: "Kit, suppliers and orders are kept by the office.",
    Permission.SET_PRICES: "The price book is kept by the office.",
    Permission.OWN_STUDIO: "The owner keeps the studio’s facts.",
}


@dataclass(frozen=True, slots=True)
class Role:
    """A row of the table: its words, and what it may do."""

    label: str
    may: frozenset[Permission]


OWNER, OFFICE, CREW = "owner", "office", "crew"
EVERYTHING = frozenset(Permission)
ROLES = {
    OWNER: Role("owner", EVERYTHING),
    OFFICE: Role("office", EVERYTHING - {Permission.OWN_STUDIO}),
    CREW: Role("crew", frozenset()),
}


def role_choices() -> list[tuple[str, str]]:
    """The roles as a field offers them; a callable, so that another row of the table is no migration."""
    return [(key, role.label) for key, role in ROLES.items()]

"""A total that somebody would like to ask, turned round: what it leaves, and the terms that come to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal

from pricing.core.money import Money
from pricing.core.quote import Quote, Terms
from pricing.core.tax import work_out_totals

type Price = Callable[[Terms], Quote]

FINEST = Decimal("0.01")  # of a margin, percent
NEAR = (0, -1, 1, -2, 2)  # minor units round a first guess


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedTotal:
    """What a total with its tax leaves, and how it can be had."""

    total: Money
    net: Money
    margin: Money  # below zero: it costs more than it brings
    margin_percent: Decimal  # of the net
    discount: Money | None  # off the price, where that is above the total and exactly this makes it
    margin_wanted: (
        Decimal | None
    )  # of this job, %, the least that comes to the total; None where none does
    comes_to: Money | None  # what that margin comes to: the total, or a little more


def ask_total(total: Money, price: Price, terms: Terms) -> AskedTotal:
    """Turn a total round for a job that `price` prices with any terms. ValueError unless it is above zero."""
    if total.amount <= 0:
        raise ValueError(f"total: expected above 0, got {total.amount}")
    quote = price(terms)
    net = net_within(total, quote)
    wanted = _margin_for(total, price, terms)
    return AskedTotal(
        total=total, net=net, margin=net - quote.cost,
        margin_percent=(net - quote.cost).amount / net.amount * 100 if net else Decimal(0),
        discount=_discount_for(total, net, price, terms),
        margin_wanted=wanted,
        comes_to=None if wanted is None else price(replace(terms, margin_percent=wanted)).totals.total,
    )  # fmt: skip


def net_within(total: Money, quote: Quote) -> Money:
    """The net that comes to a total with the quote's taxes; where none does exactly, the nearest below."""
    groups = quote.totals.groups

    def with_tax(net: Money) -> Money:
        parts = net.share([g.net.minor for g in groups]) if quote.net else (net,)
        lines = [(part, line.group) for part, line in zip(parts, groups, strict=False)]
        return work_out_totals(lines, currency=net.currency).total

    share = with_tax(total).amount / total.amount
    guess = Money(total.amount / share, total.currency)
    found = [guess + Money.of_minor(n, total.currency) for n in range(-3, 4)]
    return max((net for net in found if with_tax(net) <= total), key=lambda net: net.minor)


def _discount_for(total: Money, net: Money, price: Price, terms: Terms) -> Money | None:
    bare = price(replace(terms, discount=None))
    off = bare.price - net
    for minor in NEAR:
        more = off + Money.of_minor(minor, total.currency)
        if (
            total * 0 < more < bare.price
            and price(replace(terms, discount=more)).totals.total == total
        ):
            return more
    return None


def _margin_for(total: Money, price: Price, terms: Terms) -> Decimal | None:
    """The least margin in hundredths of a percent whose total reaches what is wanted, by halving."""

    def reached(hundredths: int) -> bool:
        percent = hundredths * FINEST
        return price(replace(terms, margin_percent=percent)).totals.total >= total

    low, high = 0, 9999
    if not reached(high) or price(replace(terms, margin_percent=Decimal(0))).totals.total > total:
        return None
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if reached(middle) else (middle + 1, high)
    return low * FINEST

"""Credit notes in parts: each carries the tax of its own net, and all together are exactly their invoice.

Rounded tax does not add up by itself: 20 % of a seventh of 237.85, seven times, is two cents more than 20 % of the
whole. So a part is sound only where its tax and that of the rest, each rounded from its own net (EN 16931,
BR-CO-17), are together the tax that was left. Then whatever is left is a sound paper too, and the last credit note
takes exactly that.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import count, islice, product

from pricing.core.money import Money, add_up
from pricing.core.tax import TaxGroup, TaxLine

CHOICES = 6  # sound parts of a smaller group that are tried, those nearest to its share


def left_after_credits(
    groups: Iterable[TaxLine], credits: Iterable[Iterable[TaxLine]]
) -> tuple[TaxLine, ...]:
    """What is left of the tax groups of an invoice after credit notes to it."""
    left = {line.group: line for line in groups}
    for line in (line for credit in credits for line in credit):
        of = left[line.group]
        left[line.group] = TaxLine(group=of.group, net=of.net - line.net, tax=of.tax - line.tax)
    return tuple(line for line in left.values() if line.net.amount > 0)


def set_apart(left: tuple[TaxLine, ...], net: Money) -> tuple[TaxLine, ...]:
    """A sound part of what is left of an invoice, in its groups' shares to some minor units; () where there is none.

    ValueError unless the net is above zero and no more than what is left.
    """
    whole = net_of(left, net.currency)
    if not Money.of_minor(0, net.currency) < net <= whole:
        raise ValueError(f"net: expected above 0 and at most {whole.amount}, got {net.amount}")
    shares = net.share([line.net.minor for line in left])
    if net == whole:
        return tuple(_all(line) for line in left)
    most = max(left, key=lambda line: line.net.minor)
    others = [
        tuple(islice(_near(line, share), CHOICES))
        for line, share in zip(left, shares, strict=True)
        if line is not most
    ]
    for parts in product(*others):
        rest = net - net_of(parts, net.currency)
        if 0 <= rest.minor <= most.net.minor and (part := cut_line(most, rest)):
            known = {line.group: line for line in (*parts, part)}
            return tuple(known[line.group] for line in left if known[line.group].net)
    return ()


def nearest_beside(left: tuple[TaxLine, ...], net: Money) -> tuple[Money, ...]:
    """The nearest nets below and above one, less than all that is left, that make a sound part."""
    whole, one = net_of(left, net.currency), Money.of_minor(1, net.currency)
    found = []
    for step in (-one, one):
        near = net + step
        while one <= near < whole and not set_apart(left, near):
            near = near + step
        found += [near] if one <= near <= whole else []
    return tuple(found)


def cut_line(line: TaxLine, net: Money) -> TaxLine | None:
    """So much of a group, where it and the rest of it are sound; None where tax does not come out.

    Tax that is rounded on each line may lie a minor unit off, on both. What is off by more already stays so.
    """
    if not net:
        return TaxLine(group=line.group, net=net, tax=net)
    if net == line.net:
        return _all(line)
    own, rest = _tax(line.group, net), _tax(line.group, line.net - net)
    room = int(line.group.by_line)
    off = max(room, abs(line.tax.minor - _tax(line.group, line.net)))
    for more in (0, 1, -1)[: 1 + 2 * room]:
        tax, left = own + more, line.tax.minor - own - more
        if min(tax, left) >= 0 and abs(left - rest) <= off:
            return TaxLine(group=line.group, net=net, tax=Money.of_minor(tax, net.currency))
    return None


def net_of(lines: Iterable[TaxLine], currency: str) -> Money:
    return add_up((line.net for line in lines), currency)


def _all(line: TaxLine) -> TaxLine:
    """A whole group as it is left; with its own tax where earlier papers left more or less than a paper may say."""
    own = _tax(line.group, line.net)
    if abs(line.tax.minor - own) <= line.group.by_line:
        return line
    return TaxLine(group=line.group, net=line.net, tax=Money.of_minor(own, line.net.currency))


def _near(line: TaxLine, share: Money) -> Iterator[TaxLine]:
    """Sound parts of a group, the nearest to its share first."""
    for far in count():
        steps = {share.minor - far, share.minor + far}
        inside = [n for n in sorted(steps) if 0 <= n <= line.net.minor]
        if not inside:
            return
        for minor in inside:
            if part := cut_line(line, Money.of_minor(minor, share.currency)):
                yield part


def _tax(group: TaxGroup, net: Money) -> int:
    return net.percent(group.percent).minor

"""Credit notes in parts: each sound by itself, all of them together their invoice."""

from __future__ import annotations

from collections import defaultdict
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.core.crediting import cut_line, left_after_credits, nearest_beside, net_of, set_apart
from pricing.core.money import Money, add_up
from pricing.core.tax import TaxGroup, TaxLine, work_out_totals

RATES = ("20", "5", "0", "12", "5.5")


def gbp(amount: int | str) -> Money:
    return Money(Decimal(amount), "GBP")


def a_group(net: Money, percent: str, *, by_line: bool = False) -> TaxLine:
    group = TaxGroup(code="S", name=f"at {percent}", percent=Decimal(percent), by_line=by_line)
    return TaxLine(group=group, net=net, tax=net.percent(group.percent))


documents = st.builds(
    lambda minors, rates, currency: tuple(
        a_group(Money.of_minor(minor, currency), rate)
        for minor, rate in zip(minors, rates, strict=False)
    ),
    st.lists(st.integers(1, 10**6), min_size=1, max_size=4),
    st.permutations(RATES),
    st.sampled_from(["GBP", "JPY", "KWD"]),
)


def credit_all(groups: tuple[TaxLine, ...], thousandths: list[int]) -> list[tuple[TaxLine, ...]]:
    """Credit notes of so much of what is left each, or what is told instead, and one of all the rest."""
    made: list[tuple[TaxLine, ...]] = []
    while left := left_after_credits(groups, made):
        whole = net_of(left, left[0].net.currency)
        net = whole
        if thousandths:
            minor = max(1, whole.minor * thousandths.pop() // 1000)
            net = Money.of_minor(minor, whole.currency)
        part = set_apart(left, net)
        if not part:
            near = nearest_beside(left, net)
            assert near
            part = set_apart(left, near[0])
        made.append(part)
    return made


@given(documents, st.lists(st.integers(1, 999), max_size=8))
def test_any_split_is_exactly_the_invoice_and_each_part_has_the_tax_of_its_own_net(
    groups: tuple[TaxLine, ...], thousandths: list[int]
) -> None:
    made = credit_all(groups, thousandths)
    sums: defaultdict[TaxGroup, list[Money]] = defaultdict(list)
    for part in made:
        assert part
        for line in part:
            assert line.net.amount > 0
            assert line.tax == line.net.percent(line.group.percent)  # BR-CO-17 of EN 16931
            sums[line.group] += [line.net, line.tax]
    for line in groups:
        currency = line.net.currency
        assert add_up(sums[line.group][::2], currency) == line.net
        assert add_up(sums[line.group][1::2], currency) == line.tax


@given(
    st.lists(st.integers(1, 5000), min_size=1, max_size=5),
    st.sampled_from(RATES),
    st.lists(st.integers(1, 999), max_size=6),
)
def test_tax_rounded_on_each_line_is_credited_whole_too(
    cents: list[int], rate: str, thousandths: list[int]
) -> None:
    group = TaxGroup(code="S", name="by line", percent=Decimal(rate), by_line=True)
    lines = [(Money.of_minor(c, "GBP"), group) for c in cents]
    (whole,) = work_out_totals(lines, currency="GBP", rounding="line").groups
    off = abs(whole.tax.minor - whole.net.percent(group.percent).minor)
    made = credit_all((whole,), thousandths)
    for (part,) in made:
        assert abs(part.tax.minor - part.net.percent(group.percent).minor) <= 1
    assert add_up((part.net for (part,) in made), "GBP") == whole.net
    if off <= 1:  # more than that is no invoice (pricing/core/invoice.py)
        assert add_up((part.tax for (part,) in made), "GBP") == whole.tax


def test_by_hand() -> None:
    # 237.85 at 20 % is 47.57. 33.98 (6.80) leaves 203.87 (40.77); 33.98 more would leave 169.89, whose tax is 33.98,
    # and 40.77 - 33.98 = 6.79 is not that of 33.98. 33.97 (6.79) leaves 169.90 (33.98), 34.00 (6.80) 169.87 (33.97).
    whole = (a_group(gbp("237.85"), "20"),)
    first = set_apart(whole, gbp("33.98"))
    assert (first[0].net, first[0].tax) == (gbp("33.98"), gbp("6.80"))
    left = left_after_credits(whole, [first])
    assert set_apart(left, gbp("33.98")) == ()
    assert nearest_beside(left, gbp("33.98")) == (gbp("33.97"), gbp("34.00"))
    assert set_apart(left, gbp("203.87")) == left


def test_a_part_is_shared_over_the_groups_to_some_pennies() -> None:
    # Own arithmetic: a third of each, moved by at most the ten pennies in which tax at 5 % repeats by halves.
    groups = (a_group(gbp("43.33"), "20"), a_group(gbp("123.34"), "5"))
    part = set_apart(groups, gbp("55.55"))
    assert net_of(part, "GBP") == gbp("55.55")
    for line, share in zip(part, ("14.44", "41.11"), strict=True):
        assert abs((line.net - gbp(share)).minor) <= 10


@pytest.mark.parametrize("net", ["0", "-1", "100.01"])
def test_more_than_is_left_is_refused(net: str) -> None:
    with pytest.raises(ValueError, match=r"net: expected above 0 and at most 100\.00"):
        set_apart((a_group(gbp(100), "20"),), gbp(net))


def test_what_older_papers_left_a_penny_off_still_goes_out_as_a_sound_paper() -> None:
    # 204.52 at 20 % is 40.90; earlier rounding left 40.89.
    base = a_group(gbp("204.52"), "20")
    line = TaxLine(group=base.group, net=base.net, tax=gbp("40.89"))
    assert set_apart((line,), base.net) == (base,)
    part = cut_line(line, gbp("100"))
    assert part
    assert part.tax == gbp(20)

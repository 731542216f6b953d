"""Calling off: what is kept, what goes back, what is still owed."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.core.cancelling import (
    Scale,
    ScaleStep,
    Settlement,
    part_from,
    part_up_to,
    settle_cancellation,
    worth_of_groups,
)
from pricing.core.money import Money, add_up
from pricing.core.tax import TaxGroup, TaxLine

# Common practice, no source: the studio's own scale.
ROWS = [["60", "25"], ["30", "50"], ["14", "75"], ["0", "100"]]
SCALE = Scale.read(ROWS)
RATES = (20, 5, 0, 12)


def gbp(amount: int | str) -> Money:
    return Money(Decimal(amount), "GBP")


@pytest.mark.parametrize(
    ("days", "percent"),
    [(400, 25), (60, 25), (59, 50), (30, 50), (29, 75), (14, 75), (13, 100), (0, 100), (-3, 100)],
)
def test_a_step_holds_from_its_day_until_the_next(days: int, percent: int) -> None:
    assert SCALE.percent(days) == percent


def test_an_empty_scale_keeps_nothing() -> None:
    made = settle_cancellation(gbp(1000), gbp(300), Scale.read([]), 3)
    assert (made.kept, made.refund, made.owed) == (gbp(0), gbp(300), gbp(0))


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ([["30", "25"], ["60", "50"], ["0", "100"]], "days: expected them to fall"),
        ([["30", "25"], ["30", "50"], ["0", "100"]], "days: expected them to fall"),
        ([["30", "25"], ["0", "101"]], "percent: expected 0 to 100, got 101"),
        ([["30", "-1"], ["0", "10"]], "percent: expected 0 to 100, got -1"),
        ([["30", "50"], ["0", "20"]], "expected no less nearer to the event"),
        ([["30", "50"], ["14", "100"]], "last step: expected 0 days or later, got 14"),
    ],
)
def test_a_scale_that_is_none_is_refused(rows: list[list[str]], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Scale.read(rows)


def test_the_last_step_may_lie_after_the_event() -> None:
    late = Scale(
        steps=(ScaleStep(days=10, percent=Decimal(50)), ScaleStep(days=-2, percent=Decimal(100)))
    )
    assert [late.percent(d) for d in (10, 9, -2, -9)] == [50, 100, 100, 100]


@pytest.mark.parametrize(
    ("paid", "days", "kept", "refund", "owed"),
    [
        ("300", 70, "250", "50", "0"),  # worked by hand: 25 % of 1000
        ("300", 40, "500", "0", "200"),
        ("1000", 20, "750", "250", "0"),
        ("1000", 3, "1000", "0", "0"),
        ("-20", 70, "250", "0", "270"),  # more went back than came
    ],
)
def test_by_hand(paid: str, days: int, kept: str, refund: str, owed: str) -> None:
    made = settle_cancellation(gbp(1000), gbp(paid), SCALE, days)
    assert (made.kept, made.refund, made.owed) == (gbp(kept), gbp(refund), gbp(owed))


def test_half_a_penny_goes_up() -> None:
    assert settle_cancellation(gbp("0.10"), gbp(0), Scale.flat(Decimal(25)), 5).kept == gbp("0.03")


def test_a_total_below_zero_is_refused() -> None:
    with pytest.raises(ValueError, match="total: expected none below zero"):
        settle_cancellation(gbp(-1), gbp(0), SCALE, 3)


@pytest.mark.parametrize(
    ("kept", "refund", "owed", "says"),
    [
        ("-0.01", "240.02", "0", r"kept: expected none below zero, got -0\.01"),
        ("0", "-1", "0", "refund: expected none below zero"),
        ("10", "5", "5", r"refund: expected none while something is owed, got 5\.00"),
    ],
)
def test_what_cannot_be_settled_is_refused(kept: str, refund: str, owed: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Settlement(percent=Decimal(0), kept=gbp(kept), refund=gbp(refund), owed=gbp(owed))


amounts = st.integers(0, 10**8)
scales = st.lists(
    st.tuples(st.integers(1, 400), st.integers(0, 100)), max_size=5, unique_by=lambda s: s[0]
).map(
    lambda rows: Scale(
        steps=tuple(
            ScaleStep(days=d, percent=Decimal(p))
            for d, p in zip(
                [*sorted((d for d, _ in rows), reverse=True), 0],
                [*sorted(p for _, p in rows), 100],
                strict=True,
            )
        )
    )
)


@given(amounts, amounts, scales, st.integers(-30, 500), st.sampled_from(["GBP", "JPY", "KWD"]))
def test_what_is_kept_given_back_and_owed_makes_what_was_paid(
    total: int, paid: int, scale: Scale, days: int, currency: str
) -> None:
    whole, came = Money.of_minor(total, currency), Money.of_minor(paid, currency)
    made = settle_cancellation(whole, came, scale, days)
    assert made.kept + made.refund - made.owed == came
    assert min(made.kept.amount, made.refund.amount, made.owed.amount) >= 0
    assert made.refund <= came
    assert made.kept <= whole
    assert not (made.refund and made.owed)
    if came >= made.kept:
        assert made.kept + made.refund == came


@given(amounts, scales, st.integers(0, 400), st.integers(0, 100))
def test_calling_off_later_never_costs_less(
    total: int, scale: Scale, days: int, sooner: int
) -> None:
    whole, nothing = Money.of_minor(total, "GBP"), gbp(0)
    early, late = (
        settle_cancellation(whole, nothing, scale, days + sooner),
        settle_cancellation(whole, nothing, scale, days),
    )
    assert early.kept <= late.kept


@given(amounts, amounts, st.integers(0, 100))
def test_keeping_another_amount_settles_the_same_payments(total: int, paid: int, p: int) -> None:
    made = settle_cancellation(
        Money.of_minor(total, "GBP"), Money.of_minor(paid, "GBP"), Scale.flat(Decimal(p)), 0
    )
    less = made.keeping(max(made.kept - gbp("0.01"), gbp(0)))
    assert less.kept + less.refund - less.owed == Money.of_minor(paid, "GBP")


groups_of = st.lists(st.integers(1, 10**6), min_size=1, max_size=4).map(
    lambda cents: tuple(
        TaxLine(
            group=TaxGroup(code="S", name=f"g{i}", percent=Decimal(RATES[i])),
            net=Money.of_minor(c, "GBP"),
            tax=Money.of_minor(c, "GBP").percent(Decimal(RATES[i])),
        )
        for i, c in enumerate(cents)
    )
)


@given(groups_of, st.integers(0, 100))
def test_a_part_for_what_is_kept_is_worth_no_more_and_hardly_less(
    groups: tuple[TaxLine, ...], percent: int
) -> None:
    most = worth_of_groups(groups, "GBP").percent(Decimal(percent))
    part = part_up_to(groups, most)
    assert worth_of_groups(part, "GBP") <= most
    assert (most - worth_of_groups(part, "GBP")).minor <= 4  # a minor unit a group
    for line in part:  # BR-CO-17 of EN 16931
        assert line.tax == line.net.percent(line.group.percent)


@given(groups_of, st.integers(1, 100))
def test_a_part_for_what_is_credited_is_worth_no_less_and_hardly_more(
    groups: tuple[TaxLine, ...], percent: int
) -> None:
    least = worth_of_groups(groups, "GBP").percent(Decimal(percent))
    part = part_from(groups, least)
    over = (worth_of_groups(part, "GBP") - least).minor
    # Rounding, and at most the ten pennies in a row whose tax at 5 % leaves no sound rest (crediting.py).
    assert 0 <= over <= 4 + 10
    assert add_up((line.net for line in part), "GBP") <= add_up((g.net for g in groups), "GBP")


def test_a_total_that_no_tax_gives_is_kept_a_penny_short() -> None:
    # 20 %: 416.67 + 83.33 = 500.00 and 416.68 + 83.34 = 500.02; no net comes to 500.01.
    vat = TaxGroup(code="S", name="VAT", percent=Decimal(20))
    whole = (TaxLine(group=vat, net=gbp(1000), tax=gbp(200)),)
    assert worth_of_groups(part_up_to(whole, gbp("500.01")), "GBP") == gbp("500.00")
    assert worth_of_groups(part_from(whole, gbp("500.01")), "GBP") == gbp("500.02")
    assert part_up_to(whole, gbp(0)) == ()
    assert part_up_to(whole, gbp(1200)) == whole

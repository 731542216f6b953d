"""What is due when."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.core.instalments import (
    GIVEN_BACK,
    Due,
    EventShift,
    PaymentStage,
    move_with_event,
    plan_as_data,
    plan_cut_to,
    plan_from_data,
    plan_instalments,
    stages_from_data,
    standing_on,
)
from pricing.core.money import Money, add_up

TODAY = date(2026, 3, 1)


def gbp(amount: int | str) -> Money:
    return Money(Decimal(amount), "GBP")


def a_plan(event_in: int = 60, total: int = 1000, deposit: int = 300) -> tuple[Due, ...]:
    return plan_instalments(
        gbp(total), gbp(deposit), offered_on=TODAY, event_on=TODAY + timedelta(days=event_in), deposit_days=7,
        balance_days=14,
    )  # fmt: skip


def test_deposit_after_the_offer_and_balance_before_the_event() -> None:
    assert a_plan() == (
        Due(what="deposit", on=date(2026, 3, 8), amount=gbp(300)),
        Due(what="balance", on=date(2026, 4, 16), amount=gbp(700)),
    )


@given(st.integers(0, 100), st.integers(0, 1000))
def test_instalments_add_up_and_none_falls_after_the_event(event_in: int, deposit: int) -> None:
    plan = a_plan(event_in, 1000, deposit)
    assert add_up((due.amount for due in plan), "GBP") == gbp(1000)
    assert all(TODAY <= due.on <= TODAY + timedelta(days=event_in) for due in plan)
    assert [due.on for due in plan] == sorted(due.on for due in plan)


def test_payments_cover_the_oldest_first() -> None:
    now = standing_on(a_plan(), [gbp(250), gbp(100)], on=date(2026, 3, 20), currency="GBP")
    assert now.deposit_covered
    assert now.due == (Due(what="balance", on=date(2026, 4, 16), amount=gbp(650)),)
    assert now.overdue == ()
    assert (now.paid, now.left, now.over) == (gbp(350), gbp(650), gbp(0))


def test_a_day_is_overdue_the_day_after_it() -> None:
    for day, late in ((8, 0), (9, 1)):
        assert len(standing_on(a_plan(), [], on=date(2026, 3, day), currency="GBP").overdue) == late


def test_money_given_back_opens_what_was_covered() -> None:
    now = standing_on(a_plan(), [gbp(300), gbp(-300)], on=TODAY, currency="GBP")
    assert not now.deposit_covered
    assert now.left == gbp(1000)


def test_too_much_is_told() -> None:
    now = standing_on(a_plan(), [gbp(1200)], on=TODAY, currency="GBP")
    assert (now.due, now.over, now.left) == ((), gbp(200), gbp(0))


@given(st.lists(st.integers(-500, 900), max_size=6))
def test_what_is_open_and_what_is_paid_make_the_total(payments: list[int]) -> None:
    now = standing_on(a_plan(), [gbp(p) for p in payments], on=TODAY, currency="GBP")
    assert add_up((due.amount for due in now.due), "GBP") == now.left


def test_what_went_back_without_having_come_is_owed_since_that_day() -> None:
    # 300 came and went back, then its cheque bounced: the studio is out of pocket by 300.
    some, since = [gbp(300), gbp(-300), gbp(-300)], date(2026, 3, 5)
    now = standing_on(a_plan(), some, on=date(2026, 3, 6), currency="GBP", short_since=since)
    owed = Due(what=GIVEN_BACK, on=since, amount=gbp(300))
    assert now.due == (owed, *a_plan())
    assert (now.left, now.overdue, now.deposit_covered) == (gbp(1300), (owed,), False)


def test_payments_cover_the_deposit_first_whatever_its_day() -> None:
    plan = (replace(a_plan()[0], on=date(2026, 5, 1)), a_plan()[1])
    now = standing_on(plan, [gbp(300)], on=date(2026, 4, 30), currency="GBP")
    assert now.deposit_covered
    assert [due.what for due in now.due] == ["balance"]


# --- credit notes ---


@pytest.mark.parametrize(
    ("total", "left"),
    [
        (1000, [300, 700]),
        (1001, [300, 701]),
        (999, [300, 699]),
        (300, [300]),
        (299, [299]),
        (0, []),
    ],
)
def test_a_credit_takes_from_the_last_instalment_first(total: int, left: list[int]) -> None:
    assert [due.amount for due in plan_cut_to(a_plan(), gbp(total))] == [gbp(n) for n in left]


def test_a_total_that_no_instalment_can_ask_is_refused() -> None:
    assert plan_cut_to((), gbp(0)) == ()
    with pytest.raises(ValueError, match=r"total: expected 0 without instalments, got 0\.01"):
        plan_cut_to((), gbp("0.01"))


@given(st.integers(0, 2000), st.integers(0, 1000), st.integers(0, 2000))
def test_a_credit_never_opens_what_was_covered(total: int, deposit: int, paid: int) -> None:
    plan = a_plan(60, 1000, deposit)
    cut = plan_cut_to(plan, gbp(total))
    before = standing_on(plan, [gbp(paid)], on=TODAY, currency="GBP")
    now = standing_on(cut, [gbp(paid)], on=TODAY, currency="GBP")
    assert now.total == gbp(total)
    assert now.left - now.over == gbp(total) - gbp(paid)
    assert now.deposit_covered or not before.deposit_covered
    if total <= 1000:
        open_ = {due.what: due.amount for due in before.due}
        assert all(due.amount <= open_[due.what] for due in now.due)


def test_a_plan_goes_through_json_exactly() -> None:
    assert plan_from_data(plan_as_data(a_plan()), "GBP") == a_plan()


def test_a_deposit_beyond_the_total_is_refused() -> None:
    with pytest.raises(ValueError, match="deposit: expected 0 to 1000"):
        a_plan(deposit=1001)


# --- part payments between deposit and balance ---


def staged(
    event_on: date, *stages: tuple[str, str], total: str = "1000"
) -> list[tuple[str, date, str]]:
    plan = plan_instalments(
        gbp(total), gbp(total).percent(Decimal(30)), offered_on=TODAY, event_on=event_on, deposit_days=7,
        balance_days=14, stages=stages_from_data(stages),
    )  # fmt: skip
    return [(due.what, due.on, str(due.amount.amount)) for due in plan]


def test_part_payments_lie_between_deposit_and_balance() -> None:
    assert staged(date(2026, 9, 30), ("20", "60"), ("25", "90")) == [
        ("deposit", date(2026, 3, 8), "300.00"),
        ("part payment 1", date(2026, 7, 2), "250.00"),  # 90 days before 30 September
        ("part payment 2", date(2026, 8, 1), "200.00"),
        ("balance", date(2026, 9, 16), "250.00"),
    ]
    assert staged(date(2026, 9, 30), ("20", "60"))[1][0] == "part payment"


@pytest.mark.parametrize(
    ("event_on", "days", "on"),
    [
        # Days are counted on the calendar, whatever its months and clocks do (checked with GNU date).
        (date(2026, 5, 31), 31, date(2026, 4, 30)),
        (date(2026, 7, 31), 30, date(2026, 7, 1)),
        (date(2028, 3, 31), 31, date(2028, 2, 29)),
        (date(2027, 3, 31), 31, date(2027, 2, 28)),
        (date(2027, 1, 15), 31, date(2026, 12, 15)),
        (date(2026, 4, 12), 14, date(2026, 3, 29)),  # the day on which clocks go forward in Europe
        (date(2026, 11, 15), 21, date(2026, 10, 25)),  # and back
    ],
)
def test_days_before_the_event_over_month_ends_and_changes_of_clocks(
    event_on: date, days: int, on: date
) -> None:
    plan = plan_instalments(
        gbp(100), gbp(0), offered_on=date(2026, 1, 2), event_on=event_on, deposit_days=0, balance_days=3,
        stages=[PaymentStage(percent=Decimal(50), days=days)],
    )  # fmt: skip
    assert plan[0].on == on


def test_with_little_time_left_all_fall_on_the_deposits_day_or_later() -> None:
    plan = staged(TODAY + timedelta(days=10), ("25", "60"), ("25", "30"))
    assert {on for _, on, _ in plan} == {date(2026, 3, 8)}
    assert {on for _, on, _ in staged(TODAY + timedelta(days=2), ("25", "60"))} == {
        date(2026, 3, 3)
    }


def test_a_part_asks_no_more_than_is_left() -> None:
    # 33 % and 67 % of 0.50 are 0.17 and 0.34 rounded, a penny more than there is.
    plan = plan_instalments(
        gbp("0.50"), gbp("0.17"), offered_on=TODAY, event_on=date(2026, 9, 30), deposit_days=7, balance_days=14,
        stages=[PaymentStage(percent=Decimal(67), days=60)],
    )  # fmt: skip
    assert [str(d.amount.amount) for d in plan] == ["0.17", "0.33"]


def test_a_part_that_is_no_percentage_is_refused() -> None:
    with pytest.raises(ValueError, match="stage: expected 0 to 100 percent, got 101"):
        staged(date(2026, 9, 30), ("101", "60"))


@given(
    st.integers(0, 10**7), st.integers(0, 100), st.integers(0, 800), st.sampled_from(["GBP", "JPY", "KWD"]),
    st.lists(st.tuples(st.integers(0, 100), st.integers(0, 400)), max_size=5),
)  # fmt: skip
def test_a_plan_with_parts_adds_up_in_order_between_deposit_and_event(
    minor: int, percent: int, event_in: int, currency: str, rows: list[tuple[int, int]]
) -> None:
    total, event_on = Money.of_minor(minor, currency), TODAY + timedelta(days=event_in)
    plan = plan_instalments(
        total, total.percent(Decimal(percent)), offered_on=TODAY, event_on=event_on, deposit_days=7,
        balance_days=14, stages=[PaymentStage(percent=Decimal(p), days=d) for p, d in rows],
    )  # fmt: skip
    assert add_up((due.amount for due in plan), currency) == total
    days = [due.on for due in plan]
    assert days == sorted(days)
    assert all(min(TODAY + timedelta(days=7), event_on) <= on <= event_on for on in days)
    assert all(due.amount.amount > 0 for due in plan)
    assert plan_from_data(plan_as_data(plan), currency) == plan


# --- moves of the event ---


@given(
    st.integers(0, 300), st.integers(0, 1000), st.lists(st.tuples(st.integers(0, 40), st.integers(0, 300)), max_size=5),
    st.integers(0, 1000),
)  # fmt: skip
def test_no_move_opens_a_covered_deposit_or_asks_after_the_event(
    event_in: int, deposit: int, steps: list[tuple[int, int]], paid: int
) -> None:
    """Each step: so many days pass, and the event goes to a day so many days from then."""
    plan, on, event_on = a_plan(event_in, 1000, deposit), TODAY, TODAY + timedelta(days=event_in)
    moves = []
    for wait, ahead in steps:
        on, was = on + timedelta(days=wait), event_on
        event_on = on + timedelta(days=ahead)
        moves.append(EventShift(on=on, days=(event_on - was).days, event_on=event_on))
    moved = move_with_event(plan, moves)
    days = [due.on for due in moved]
    assert days == sorted(days)
    assert all(day <= event_on for day in days)
    assert [(d.what, d.amount) for d in moved] == [(d.what, d.amount) for d in plan]
    before, now = (standing_on(p, [gbp(paid)], on=on, currency="GBP") for p in (plan, moved))
    assert now.deposit_covered == before.deposit_covered
    assert [(d.what, d.amount) for d in now.due] == [(d.what, d.amount) for d in before.due]


def test_a_slip_put_right_on_its_day_leaves_the_plan() -> None:
    event_on = TODAY + timedelta(days=60)
    there = EventShift(on=TODAY, days=-55, event_on=TODAY + timedelta(days=5))
    back = EventShift(on=TODAY, days=55, event_on=event_on)
    assert move_with_event(a_plan(), [there, back]) == a_plan()
    assert [due.on for due in move_with_event(a_plan(), [there])] == [there.event_on] * 2


@pytest.mark.parametrize(("days", "deposit_on"), [(-54, 7), (-53, 8), (-52, 8)])
def test_a_deposit_keeps_its_day_unless_the_event_comes_before_it(
    days: int, deposit_on: int
) -> None:
    # The deposit is due on 8 March, the event on 30 April; at -54 days it is on 7 March.
    event_on = TODAY + timedelta(days=60 + days)
    moved = move_with_event(a_plan(), [EventShift(on=TODAY, days=days, event_on=event_on)])
    assert moved[0].on == date(2026, 3, deposit_on)

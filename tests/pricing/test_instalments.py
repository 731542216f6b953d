"""What is due when."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.core.instalments import Due, plan_as_data, plan_from_data, plan_instalments, standing
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
    now = standing(a_plan(), [gbp(250), gbp(100)], on=date(2026, 3, 20), currency="GBP")
    assert now.deposit_covered
    assert now.due == (Due(what="balance", on=date(2026, 4, 16), amount=gbp(650)),)
    assert now.overdue == ()
    assert (now.paid, now.left, now.over) == (gbp(350), gbp(650), gbp(0))


def test_a_day_is_overdue_the_day_after_it() -> None:
    for day, late in ((8, 0), (9, 1)):
        assert len(standing(a_plan(), [], on=date(2026, 3, day), currency="GBP").overdue) == late


def test_money_given_back_opens_what_was_covered() -> None:
    now = standing(a_plan(), [gbp(300), gbp(-300)], on=TODAY, currency="GBP")
    assert not now.deposit_covered
    assert now.left == gbp(1000)


def test_too_much_is_told() -> None:
    now = standing(a_plan(), [gbp(1200)], on=TODAY, currency="GBP")
    assert (now.due, now.over, now.left) == ((), gbp(200), gbp(0))


@given(st.lists(st.integers(-500, 900), max_size=6))
def test_what_is_open_and_what_is_paid_make_the_total(payments: list[int]) -> None:
    now = standing(a_plan(), [gbp(p) for p in payments], on=TODAY, currency="GBP")
    still = add_up((due.amount for due in now.due), "GBP")
    assert still == max(gbp(0), gbp(1000) - max(now.paid, gbp(0)))


def test_a_plan_goes_through_json_exactly() -> None:
    assert plan_from_data(plan_as_data(a_plan()), "GBP") == a_plan()


def test_a_deposit_beyond_the_total_is_refused() -> None:
    with pytest.raises(ValueError, match="deposit: expected 0 to 1000"):
        a_plan(deposit=1001)

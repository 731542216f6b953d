"""What a job waits for."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest

from jobs.next_steps import StepFacts, next_steps_for
from pricing.core.instalments import Due, standing_on
from pricing.core.money import Money

ON = date(2026, 5, 10)


def waits(**facts: Any) -> list[tuple[str, bool]]:
    told = {
        "stage": "enquiry", "on": ON, "event_start": datetime(2026, 6, 1, 12, tzinfo=UTC),
        "event_end": datetime(2026, 6, 1, 18, tzinfo=UTC), "designed": True, "latex_asked": True,
        "answer_until": None, "standing": None, **facts,
    }  # fmt: skip
    found = next_steps_for(StepFacts(**told), lambda m: f"£{m.amount}", lambda d: d.isoformat())
    return [(w.what, w.late) for w in found]


@pytest.mark.parametrize(
    ("facts", "what"),
    [
        ({"designed": False}, "a design"),
        ({}, "a price"),
        ({"stage": "priced"}, "a proposal to the client"),
        (
            {"stage": "offered", "answer_until": date(2026, 5, 20)},
            "the client’s answer, until 2026-05-20",
        ),
        (
            {"stage": "accepted", "held_until": ON},
            "the client’s deposit",
        ),  # to crew, who see no sums
        ({"stage": "booked"}, "picking and packing"),
        ({"stage": "up"}, "the take-down"),
        ({"stage": "down"}, "the job to be closed"),
    ],
)
def test_each_stage_waits_for_its_next_step(facts: dict[str, Any], what: str) -> None:
    assert waits(**facts) == [(what, False)]


def test_the_late_comes_first() -> None:
    plan = (Due(what="deposit", on=date(2026, 5, 7), amount=Money(Decimal(120), "GBP")),)
    now = standing_on(plan, [], on=ON, currency="GBP")
    found = waits(stage="booked", standing=now, latex_asked=False)
    assert found[0] == ("deposit of £120.00, 3 days overdue", True)
    assert ("somebody to ask about latex allergies", False) in found


def test_after_a_yes_the_deposit_is_named_once_with_its_sum() -> None:
    plan = (Due(what="deposit", on=date(2026, 5, 20), amount=Money(Decimal(120), "GBP")),)
    now = standing_on(plan, [], on=ON, currency="GBP")
    found = waits(stage="accepted", standing=now, held_until=date(2026, 5, 17))
    assert found == [("deposit of £120.00, due 2026-05-20", False)]


@pytest.mark.parametrize(
    ("stage", "held_until", "told"),
    [
        ("offered", None, []),  # nothing need be held for a proposal
        ("offered", date(2026, 5, 9), [("held until 2026-05-09", True, "longer")]),
        ("offered", ON, []),
        ("accepted", ON, []),
        ("accepted", date(2026, 5, 9), [("held until 2026-05-09", True, "longer")]),
        ("accepted", None, [("none are held", False, "at all")]),
        ("booked", date(2026, 5, 9), []),
    ],
)
def test_what_is_held_without_a_deposit_is_asked_about_once_its_days_have_passed(
    stage: str, held_until: date | None, told: list[tuple[str, bool, str]]
) -> None:
    facts = StepFacts(
        stage=stage, on=ON, event_start=datetime(2026, 6, 1, 12, tzinfo=UTC),
        event_end=datetime(2026, 6, 1, 18, tzinfo=UTC), designed=True, latex_asked=True,
        answer_until=None, standing=None, held_until=held_until,
    )  # fmt: skip
    found = next_steps_for(facts, lambda m: f"£{m.amount}", lambda d: d.isoformat())
    asked = [(w.what, w.late, w.ask) for w in found if w.ask]
    assert len(asked) == len(told)
    for (what, late, ask), (says, is_late, how) in zip(asked, told, strict=True):
        assert says in what
        assert (late, ask) == (is_late, how)


def test_an_answer_that_did_not_come_is_late() -> None:
    assert waits(stage="offered", answer_until=date(2026, 5, 9)) == [
        ("the client’s answer, lapsed on 2026-05-09", True)
    ]


def test_a_closed_job_waits_for_nothing() -> None:
    assert waits(stage="closed") == []


def test_an_accepted_job_that_was_credited_whole_waits_for_no_deposit() -> None:
    now = standing_on([], [], on=ON, currency="GBP")
    found = waits(stage="accepted", standing=now, held_until=ON)
    assert found == [("another invoice or the call-off: all that was asked is credited", False)]

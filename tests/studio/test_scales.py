"""Scales as people type them: the call-off scale and the part payments."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client as Browser
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from pricing.core.cancelling import Scale
from studio.access import Access
from studio.models import Studio
from studio.scales import ScaleError, read_scale, read_stages, write_scale, write_stages
from tests.studio.test_pages import facts


@pytest.mark.parametrize(
    "typed",
    ["60 days: 25 %\n0 days: 100 %", "60: 25\n0: 100", "60 days before 25%\n\n 0=100 ", "60 25.0\r\n0 100"],
)  # fmt: skip
def test_people_type_it_as_they_like(typed: str) -> None:
    assert read_scale(typed, "Scale") == [["60", "25"], ["0", "100"]]


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        (
            "a month: 25 %",
            "Scale, line 1: expected a step such as “60 days: 25 %”, got “a month: 25 %”",
        ),
        ("60 days: 25 %\n30 days", "Scale, line 2: expected a step"),
        ("30: 25\n60: 50\n0: 100", "expected fewer days from line to line, got 60 days after 30"),
        ("30: 25\n30: 50", "expected fewer days"),
        (
            "30: 50\n0: 20",
            "expected no less to be kept nearer to the event, got 20 % at 0 days after 50 %",
        ),
        ("30: 50\n14: 100", "expected a last line for 0 days, the day of the event, got 14 days"),
        ("0: 101", "expected 0 to 100 % with two decimals at most, got 101"),
        ("0: 12.345", "with two decimals at most"),
        ("9999: 1\n0: 2", "expected at most 1000 days, got 9999"),
        ("\n".join(f"{40 - n}: {n}" for n in range(13)), "expected at most 12 steps, got 13"),
    ],
)
def test_garbage_gets_a_sentence(typed: str, says: str) -> None:
    with pytest.raises(ScaleError) as refused:
        read_scale(typed, "Scale")
    assert says in str(refused.value)


@pytest.mark.parametrize(
    ("typed", "says"), [("60: 60\n30: 50", "100 % at most in all, got 110 %"), ("60: 0", "more than 0 %")]
)  # fmt: skip
def test_part_payments_are_parts_of_the_whole(typed: str, says: str) -> None:
    with pytest.raises(ScaleError, match=says):
        read_stages(typed, "Stages")


def test_part_payments_are_held_percent_first() -> None:
    assert read_stages("60 days: 25 %\n30 days: 12,5 %", "Stages") == [["25", "60"], ["12.5", "30"]]
    assert write_stages([["25", "60"], ["12.5", "1"]]) == "60 days: 25 %\n1 day: 12.5 %"


@given(
    st.lists(st.integers(1, 1000), max_size=8, unique=True),
    st.lists(st.decimals(0, 100, places=2), min_size=9, max_size=9),
)
def test_what_is_written_reads_back_and_the_core_takes_it(
    days: list[int], percents: list[Decimal]
) -> None:
    rising = sorted(percents)[: len(days) + 1]
    rows = [
        [str(d), f"{p.normalize():f}"]
        for d, p in zip([*sorted(days, reverse=True), 0], rising, strict=True)
    ]
    assert read_scale(write_scale(rows), "Scale") == rows
    assert Scale.read(rows).percent(0) == rising[-1]


def test_the_studio_keeps_both_under_its_facts(browser: Browser, access: Access) -> None:
    page = browser.get(reverse("studio:facts")).content.decode()
    assert "60 days: 25 %\n30 days: 50 %\n14 days: 75 %\n0 days: 100 %" in page
    assert "local consumer law comes first" in page
    typed = facts(access.studio, call_off_scale="20: 30\n0: 90", stages="60 days: 25 %")
    assert browser.post(reverse("studio:facts"), typed).status_code == 302
    kept = Studio.objects.get(pk=access.studio.pk)
    assert (kept.call_off_scale, kept.stages) == ([["20", "30"], ["0", "90"]], [["25", "60"]])
    empty = facts(kept, call_off_scale="", stages="")
    assert browser.post(reverse("studio:facts"), empty).status_code == 302
    kept.refresh_from_db()
    assert (kept.call_off_scale, kept.stages) == ([], [])


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("call_off_scale", "soon: much", "expected a step such as"),
        ("stages", "60 days: 80 %", "expected 100 % at most with the deposit, got 110"),
        ("stages", "10 days: 20 %", "expected more than the 14 days of the balance, got 10"),
    ],
)
def test_an_error_shows_what_was_typed_and_saves_nothing(
    browser: Browser, access: Access, field: str, typed: str, says: str
) -> None:
    answer = browser.post(reverse("studio:facts"), facts(access.studio, **{field: typed}))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert says in page
    assert typed in page
    assert Studio.objects.get(pk=access.studio.pk).version == 1

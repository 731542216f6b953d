"""The practice page: what the studio's hands know changes what its designs count."""

from __future__ import annotations

import pytest
from django.test import Client as Browser
from django.urls import reverse

from jobs.inputs import practice_of, worked_for
from jobs.models import StudioPractice
from studio.access import Access
from tests.conftest import signed_in
from tests.factories import a_designed_job

AT = "/practice/"


def typed(browser: Browser, **changes: str) -> dict[str, str]:
    form = browser.get(AT).context["form"]
    data = {b.html_name: str(b.value()) for b in form if b.value() is not None}
    return {**data, **changes}


def test_a_closer_squeeze_counts_more_balloons(browser: Browser, access: Access) -> None:
    job = a_designed_job(access)
    before = worked_for(access, job).takeoff.ball_count  # type: ignore[union-attr]
    assert browser.post(AT, typed(browser, squeeze="60 %")).status_code == 302
    assert practice_of(access).squeeze == pytest.approx(0.6)
    assert worked_for(access, job).takeoff.ball_count > before  # type: ignore[union-attr]


def test_own_minutes_stand_in_for_the_usual_ones_and_go_back_when_emptied(
    browser: Browser, access: Access
) -> None:
    usual = practice_of(access).minutes["tie a bow"]
    browser.post(AT, typed(browser, **{"minutes-tie-a-bow": "5.5"}))
    assert practice_of(access).minutes["tie a bow"] == 5.5
    browser.post(AT, typed(browser, **{"minutes-tie-a-bow": ""}))
    assert practice_of(access).minutes["tie a bow"] == usual


def test_a_finished_run_shows_its_squeeze_and_saves_nothing(
    browser: Browser, access: Access
) -> None:
    # Two quads of 10 in balloons a foot (common practice, no source) is a squeeze of about 70 %.
    run = {"run-length_m": "10 ft", "run-clusters": "20", "run-balls": "4", "run-blown_m": "10 in"}
    page = browser.post(AT, {**run, "do": "learn"})
    assert "squeeze of 71.4" in page.content.decode()
    assert not StudioPractice.objects.exists()


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("squeeze", "30 %", "Squeeze: expected 40 % to 120 %, got 30 %."),
        ("squeeze", "snug", "expected a percentage such as 80 %, got “snug”"),
        ("workshop_c", "900", "expected a temperature from −30 °C to 60 °C"),
        ("steady_after", "0", "expected a whole number from 1 to 1000"),
    ],
)
def test_what_cannot_be_is_told_beside_its_field(
    browser: Browser, field: str, value: str, says: str
) -> None:
    page = browser.post(AT, typed(browser, **{field: value}))
    assert page.status_code == 422
    assert says in page.content.decode()
    assert value in page.content.decode()


def test_two_people_editing_are_told(browser: Browser) -> None:
    browser.post(AT, typed(browser, squeeze="75 %"))
    first = typed(browser, squeeze="70 %")
    browser.post(AT, typed(browser, squeeze="65 %"))
    assert browser.post(AT, first).status_code == 409


def test_crew_do_not_set_the_practice(crew: Access) -> None:
    assert signed_in(crew).get(reverse("jobs:practice")).status_code == 403

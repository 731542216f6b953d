"""Saving by itself: the same is no change, nobody clashes with themselves, nothing old writes over something new."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client as Browser
from django.urls import reverse

from jobs.alternatives import choose_alternative, duplicate_alternative
from jobs.design_editing import SAVED
from jobs.models import Job, JobDesign, LogEntry
from studio.access import Access
from tests.factories import a_designed_job
from tests.jobs.test_design_page import typed

ACROSS = "p0-support-diameter_m"
HTMX = {"HX-Request": "true"}


@pytest.fixture
def job(access: Access) -> Job:
    return a_designed_job(access)


@pytest.fixture
def data(browser: Browser, job: Job) -> dict[str, str]:
    return typed(browser.get(at(job)).context["sheet"])


def at(job: Job) -> str:
    return reverse("jobs:design", args=[job.number])


class Page:
    """One open page of the design: it saves by itself, as its script does."""

    def __init__(self, browser: Browser, job: Job, data: dict[str, str], hand: str) -> None:
        self.browser, self.job, self.data, self.hand = browser, job, data, hand
        self.version, self.step = 1, 0

    def save(self, across: str, *, step: int = 0, do: str = "keep") -> Any:
        self.step += not step
        told = {
            **self.data, ACROSS: across, "do": do, "version": str(self.version), "hand": self.hand,
            "step": str(step or self.step),
        }  # fmt: skip
        return self.browser.post(at(self.job), told, headers=HTMX if do == "keep" else None)


@pytest.fixture
def page(browser: Browser, job: Job, data: dict[str, str]) -> Page:
    return Page(browser, job, data, "one")


def row(job: Job) -> JobDesign:
    return JobDesign.objects.get(job=job)


def across(job: Job) -> float:
    return float(row(job).document["pieces"][0]["support"]["diameter_m"])


def test_the_same_again_is_saved_already(page: Page, job: Job) -> None:
    before = row(job).document
    answer = page.save("7' 6\"")
    assert answer.status_code == 200
    assert 'data-version="1"' in answer.content.decode()
    assert (row(job).version, row(job).document) == (1, before)
    assert not LogEntry.objects.filter(what=SAVED).exists()


def test_what_was_saved_before_a_lost_answer_is_no_clash(page: Page, job: Job) -> None:
    page.save("8 ft")  # the answer is lost: the page still says version 1
    answer = page.save("9 ft")
    assert answer.status_code == 200
    assert 'data-version="3"' in answer.content.decode()
    assert across(job) == pytest.approx(9 * 0.3048)


def test_a_press_of_the_button_after_a_lost_answer_is_no_clash(page: Page, job: Job) -> None:
    page.save("8 ft")
    assert page.save("9 ft", do="save").status_code == 302
    assert across(job) == pytest.approx(9 * 0.3048)


def test_a_save_that_comes_late_writes_over_nothing_newer(page: Page, job: Job) -> None:
    page.step = 1  # the first is on its way still
    assert page.save("9 ft").status_code == 200
    late = page.save("8 ft", step=1)
    assert late.status_code == 200
    assert 'data-version="2"' in late.content.decode()
    assert across(job) == pytest.approx(9 * 0.3048)


def test_a_change_that_was_taken_back_is_not_brought_by_a_late_save(page: Page, job: Job) -> None:
    page.step = 1
    page.save("7' 6\"")
    page.save("8 ft", step=1)
    assert across(job) == pytest.approx(7.5 * 0.3048)


def test_two_pages_still_clash(
    page: Page, browser: Browser, job: Job, data: dict[str, str]
) -> None:
    other = Page(browser, job, data, "two")
    assert page.save("8 ft").status_code == 200
    assert other.save("9 ft").status_code == 409
    assert across(job) == pytest.approx(8 * 0.3048)
    other.version = 2
    assert other.save("9 ft").status_code == 200
    assert page.save("10 ft").status_code == 409  # the other one saved since


def test_without_scripts_a_page_says_no_hand_and_clashes_with_what_it_has_not_seen(
    browser: Browser, job: Job, data: dict[str, str]
) -> None:
    for version, status in (("1", 302), ("1", 409), ("2", 302)):
        told = {**data, ACROSS: f"{7 + int(status == 302)} ft {version} in", "version": version}
        assert browser.post(at(job), told).status_code == status


def test_what_is_laid_out_again_carries_the_version_of_its_own_save(
    page: Page, browser: Browser, job: Job, data: dict[str, str]
) -> None:
    page.save("8 ft")
    told = {**data, "do": "lay-out", "version": "1", "hand": "one"}
    assert 'name="version" value="2"' in browser.post(at(job), told).content.decode()
    told["hand"] = "two"
    assert 'name="version" value="1"' in browser.post(at(job), told).content.decode()


# --- what cannot be read yet ---


def test_a_group_that_is_half_typed_leaves_the_picture_alone_and_says_what_is_missing(
    browser: Browser, job: Job, data: dict[str, str]
) -> None:
    half = {**data, "version": "1", "p0-topper-size": "", "p0-features-count": "3"}
    half |= {"p0-features-size": "", "p0-features-blown_m": ""}
    answer = browser.post(at(job), {**half, "do": "look"}, headers=HTMX)
    assert answer.headers["HX-Retarget"] == "#unread"
    content = answer.content.decode()
    assert "<svg" not in content
    assert 'href="#id_p0-features-size"' in content
    assert 'href="#id_p0-features-blown_m"' in content
    whole = browser.post(at(job), half)
    assert whole.status_code == 422
    shown = whole.content.decode()
    assert "as it was saved" in shown
    assert shown.count('class="ball"') == whole.context["look"].worked.takeoff.ball_count > 0
    assert 'id="id_p0-features-size_error"' in shown


def test_what_can_be_read_again_takes_the_whole_place(
    browser: Browser, job: Job, data: dict[str, str]
) -> None:
    answer = browser.post(at(job), {**data, "version": "1", "do": "look"}, headers=HTMX)
    assert "HX-Retarget" not in answer.headers
    assert "<svg" in answer.content.decode()
    assert "Not readable yet" not in answer.content.decode()


def test_a_form_saves_to_the_alternative_that_it_shows(
    browser: Browser, access: Access, job: Job, data: dict[str, str]
) -> None:
    shown = row(job)
    other = duplicate_alternative(access, job, "A", "full")
    before = other.document
    choose_alternative(access, job, other.letter)  # by somebody else, while the page of A is open
    told = {**data, ACROSS: "8'", "version": "1", "letter": "A"}
    assert browser.post(at(job), {**told, "do": "keep"}, headers=HTMX).status_code == 200
    for found in (shown, other):
        found.refresh_from_db()
    assert shown.document["pieces"][0]["support"]["diameter_m"] == pytest.approx(2.4384)
    assert other.document == before
    answer = browser.post(at(job), {**told, ACROSS: "9'", "version": "2", "do": "save"})
    assert answer.url == reverse("jobs:alternative", args=[job.number, "A"])  # type: ignore[attr-defined]


def test_the_form_says_which_alternative_it_shows(browser: Browser, job: Job) -> None:
    assert '<input type="hidden" name="letter" value="A">' in browser.get(at(job)).content.decode()

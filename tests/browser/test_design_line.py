"""The design screen on a bad line: slow answers, lost answers, a press in between; and typing that is not done yet."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Dialog, Page, Route, expect

from jobs.models import Job, JobDesign, LogEntry
from studio.access import Access
from tests.browser.conftest import Opener, assert_accessible, sign_in
from tests.factories import PASSWORD, JobFactory, a_designed_job, a_stocked_access

KEEPS = re.compile(r"(^|&)do=keep(&|$)")


@pytest.fixture
def access(committed: None) -> Access:
    return a_stocked_access()


@pytest.fixture
def job(access: Access) -> Job:
    return a_designed_job(access, venue__ceiling_m=6.0)


@pytest.fixture
def page(open_page: Opener, access: Access, job: Job) -> Iterator[Page]:
    page = open_page(lets=("net::ERR_FAILED", "status of 503"))
    sign_in(page, access.person.mail, PASSWORD)
    page.goto(f"/jobs/{job.number}/design/")
    yield page
    page.unroute_all(behavior="ignoreErrors")


def on_save(page: Page, do: Callable[[Route, int], None]) -> list[int]:
    """Hand every save of the page to `do` with its number; answers the list of their statuses."""
    seen: list[int] = []

    def each(route: Route) -> None:
        if KEEPS.search(route.request.post_data or ""):
            seen.append(0)
            do(route, len(seen))
        else:
            route.continue_()

    page.route("**/design/", each)
    page.on("response", lambda r: KEEPS.search(r.request.post_data or "") and seen.append(r.status))
    return seen


def across() -> float:
    return float(JobDesign.objects.get().document["pieces"][0]["support"]["diameter_m"]) / 0.3048


def soon(page: Page, feet: float) -> None:
    """Wait until the ring is kept so far across."""
    until = time.monotonic() + 20
    while across() != pytest.approx(feet):
        assert time.monotonic() < until, f"expected {feet} ft to be kept, got {across()} ft"
        page.wait_for_timeout(100)


def test_one_save_is_under_way_at_a_time_and_the_last_word_is_kept(page: Page) -> None:
    under_way, most = 0, 0

    def slowly(route: Route, _: int) -> None:
        nonlocal under_way, most
        under_way += 1
        most = max(most, under_way)
        answer = route.fetch()
        page.wait_for_timeout(2500)
        under_way -= 1
        route.fulfill(response=answer)

    seen = on_save(page, slowly)
    field = page.get_by_label("Across")
    for value in ("8'", "9'", "10'"):
        field.fill(value)
        page.wait_for_timeout(1700)
    expect(page.locator("#kept")).to_contain_text("Saved")
    soon(page, 10)
    assert most == 1
    assert 409 not in seen


def test_a_sketch_saves_itself_and_a_reload_keeps_what_was_typed(
    page: Page, access: Access
) -> None:
    job = JobFactory.create(studio=access.studio, venue__ceiling_m=6.0)
    page.goto(f"/jobs/{job.number}/design/")
    page.get_by_role("button", name="Ring", exact=True).click()
    expect(page.locator("#kept")).to_contain_text("Saved")
    assert JobDesign.objects.filter(job=job).count() == 1
    page.locator("[name=p0-support-diameter_m]").fill("5 ft")
    expect(page.locator("#kept [data-version='2']")).to_be_attached()
    page.reload()
    assert page.locator("[name=p0-support-diameter_m]").input_value() in ("5'", "5 ft")


def test_leaving_at_once_loses_nothing(page: Page) -> None:
    page.get_by_label("Across").fill("8'")
    page.goto("/jobs/")
    soon(page, 8)


def test_leaving_what_cannot_be_kept_is_asked_about(page: Page) -> None:
    asked: list[str] = []

    def ask(dialog: Dialog) -> None:
        asked.append(dialog.type)
        dialog.dismiss()

    page.on("dialog", ask)
    page.get_by_label("Across").press_sequentially("feet")
    expect(page.locator("#kept")).to_contain_text("Not saved")
    page.get_by_role("link", name="Today").click()
    page.wait_for_timeout(500)
    assert asked == ["beforeunload"]
    assert page.url.endswith("/design/")


def test_a_lost_answer_is_no_clash(page: Page) -> None:
    def lost(route: Route, number: int) -> None:
        if number == 1:
            route.fetch()  # the server saved it, and nobody heard
            route.abort()
        else:
            route.continue_()

    seen = on_save(page, lost)
    page.get_by_label("Across").fill("8'")
    expect(page.locator("#kept")).to_contain_text("Not saved yet")
    page.get_by_label("Across").fill("9'")
    expect(page.locator("#kept")).to_contain_text("Saved")
    soon(page, 9)
    assert 409 not in seen


def test_a_press_of_save_while_a_save_is_under_way_is_no_clash(page: Page) -> None:
    def slowly(route: Route, _: int) -> None:
        route.fetch()  # saved; the answer comes after the page has gone
        page.wait_for_timeout(3000)
        route.abort()

    on_save(page, slowly)
    page.get_by_label("Across").fill("8'")
    soon(page, 8)
    page.get_by_label("Across").fill("9'")
    page.get_by_role("button", name="Save the design").last.click()
    expect(page.get_by_text("Design saved.")).to_be_visible()
    assert across() == pytest.approx(9)
    expect(page.get_by_label("Across")).to_have_value("9'")


def test_what_is_typed_and_taken_back_is_no_change(page: Page) -> None:
    field = page.get_by_label("Across")
    field.fill("8'")
    field.fill("7' 6\"")
    expect(page.locator("#kept")).to_contain_text("Saved")
    assert JobDesign.objects.get().version == 1
    assert not LogEntry.objects.exists()


def test_a_server_that_fails_is_asked_again(page: Page) -> None:
    def fails(route: Route, number: int) -> None:
        if number == 1:
            route.fulfill(status=503, body="away")
        else:
            route.continue_()

    on_save(page, fails)
    page.get_by_label("Across").fill("8'")
    expect(page.locator("#kept")).to_contain_text("Trying again")
    expect(page.locator("#kept")).to_contain_text("Saved")
    assert across() == pytest.approx(8)


def test_undo_takes_the_first_typed_change_without_leaving_the_field(page: Page) -> None:
    field, undo = page.get_by_label("Across"), page.get_by_role("button", name="Undo")
    expect(undo).to_be_disabled()
    field.focus()
    field.press("Control+a")
    page.keyboard.type("9'")
    expect(field).to_be_focused()
    expect(undo).to_be_enabled()
    undo.dispatch_event("click")  # without the field being left
    expect(field).to_have_value("7' 6\"")
    expect(undo).to_be_disabled()
    page.get_by_role("button", name="Redo").click()
    expect(page.get_by_label("Across")).to_have_value("9'")


def test_typing_in_spells_is_taken_back_spell_by_spell(page: Page) -> None:
    field, undo = page.get_by_label("Across"), page.get_by_role("button", name="Undo")
    for value in ("8'", "9'"):
        field.fill(value)
        page.wait_for_timeout(700)  # the hand rests: SNAP_MS
    undo.click()
    expect(field).to_have_value("8'")
    undo.click()
    expect(field).to_have_value("7' 6\"")


def test_a_group_half_typed_keeps_the_picture_and_says_what_is_missing_beside_the_field(
    page: Page,
) -> None:
    balls = page.locator("#worked circle.ball").count()
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    cluster = page.locator("[name=p0-skirt-recipe]")
    cluster.fill("")
    missing = page.locator("#id_p0-skirt-recipe_error")
    expect(missing).to_contain_text("expected a value, got nothing")
    expect(cluster).to_have_attribute("aria-invalid", "true")
    expect(cluster).to_have_attribute("aria-describedby", re.compile("id_p0-skirt-recipe_error"))
    assert page.locator("#worked circle.ball").count() == balls
    expect(page.locator("#unread")).to_contain_text("of what could be read last")
    assert_accessible(page)
    cluster.fill("eight")
    expect(missing).to_have_count(0)
    expect(cluster).not_to_have_attribute("aria-invalid", "true")
    expect(page.locator("#unread section")).to_have_count(0)
    expect(page.locator("#worked circle.ball")).to_have_count(balls + 6 * 4)  # eights for quads


def test_after_undoing_to_what_cannot_be_read_the_saved_picture_stands(page: Page) -> None:
    field = page.get_by_label("Across")
    balls = page.locator("#worked circle.ball").count()
    field.fill("x")
    page.wait_for_timeout(700)
    field.fill("8'")
    page.wait_for_timeout(700)
    page.get_by_role("button", name="Undo").click()
    expect(field).to_have_value("x")
    expect(page.locator("#unread")).to_contain_text("as it was saved")
    assert page.locator("#worked circle.ball").count() == balls

"""The design screen under the hand: dragging, keys, undo, saving by itself, a clash, no scripts, a phone."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
from PIL import Image
from playwright.sync_api import Locator, Page, expect
from scipy.ndimage import uniform_filter

from jobs.design.picture import draw
from jobs.design.reading import read_design
from jobs.design.working import work_out
from jobs.models import Job, JobDesign
from studio.access import Access
from studio.paper import render_paper
from tests.browser.conftest import Opener, assert_accessible, assert_fits, sign_in
from tests.factories import DATA, PASSWORD, a_designed_job, a_stocked_access

END = "#h-p0-runs-0-end-0"


@pytest.fixture
def access(committed: None) -> Access:
    return a_stocked_access()


@pytest.fixture
def job(access: Access) -> Job:
    return a_designed_job(access, venue__ceiling_m=4.0)


def opened(page: Page, access: Access, job: Job) -> Page:
    sign_in(page, access.person.mail, PASSWORD)
    page.goto(f"/jobs/{job.number}/design/")
    return page


def balls(page: Page) -> int:
    return page.locator("#worked circle.ball").count()


def drag(page: Page, handle: Locator, dx: float, dy: float, steps: int = 24) -> None:
    handle.scroll_into_view_if_needed()
    box = handle.bounding_box()
    assert box
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + dx, y + dy, steps=steps)
    page.mouse.up()


def test_dragging_the_end_of_a_run_moves_counts_price_and_picture_together(
    open_page: Opener, access: Access, job: Job
) -> None:
    page = opened(open_page(), access, job)
    before, price = balls(page), page.locator("#total").inner_text()
    drag(page, page.locator(END), 130, -60)
    expect(page.locator("#worked tfoot td.count").first).not_to_have_text(str(before))
    assert balls(page) > before
    assert page.locator("#total").inner_text() != price
    counted = page.locator("#worked tfoot td.count").first.inner_text()
    assert counted == str(balls(page))
    expect(page.locator("[name=p0-runs-0-end]")).not_to_have_value("left 6'")
    expect(page.locator(END)).to_be_focused()
    expect(page.locator("#kept")).to_contain_text("Saved")
    assert JobDesign.objects.get().version == 2


def test_keys_do_what_the_hand_does(open_page: Opener, access: Access, job: Job) -> None:
    page = opened(open_page(), access, job)
    handle = page.locator(END)
    handle.focus()
    before = page.locator("[name=p0-runs-0-end]").input_value()
    for _ in range(3):
        handle.press("Shift+ArrowRight")
    expect(page.locator("[name=p0-runs-0-end]")).not_to_have_value(before)
    expect(page.locator(END)).to_be_focused()
    page.locator("#h-p0-own-at_m-0").focus()
    page.keyboard.press("PageUp")
    expect(page.get_by_role("textbox", name="Stands")).to_have_value('10" right')


def test_undo_and_redo_walk_through_whole_states(
    open_page: Opener, access: Access, job: Job
) -> None:
    page = opened(open_page(), access, job)
    first = balls(page)
    across = page.get_by_label("Across")
    across.fill("12'")
    across.blur()
    expect(page.locator("#worked tfoot td.count").first).not_to_have_text(str(first))
    page.wait_for_timeout(600)  # a state is taken when the hand rests
    second = balls(page)
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_label("Across")).to_have_value("7' 6\"")
    assert balls(page) == first
    page.get_by_role("button", name="Redo").click()
    expect(page.get_by_label("Across")).to_have_value("12'")
    assert balls(page) == second
    expect(page.get_by_role("button", name="Redo")).to_be_disabled()


def test_the_second_of_two_people_is_told_and_nothing_is_overwritten(
    open_page: Opener, access: Access, job: Job
) -> None:
    first, second = (opened(open_page(), access, job) for _ in range(2))
    first.get_by_label("Across").fill("8'")
    expect(first.locator("#kept")).to_contain_text("Saved")
    second.get_by_label("Across").fill("9'")
    expect(second.locator("#kept")).to_contain_text("Somebody saved in between")
    kept = JobDesign.objects.get().document["pieces"][0]["support"]["diameter_m"]
    assert kept == pytest.approx(8 * 0.3048)
    expect(second.get_by_label("Across")).to_have_value("9'")


def test_without_scripts_everything_is_a_form(open_page: Opener, access: Access, job: Job) -> None:
    page = opened(open_page(java_script_enabled=False), access, job)
    expect(page.get_by_role("button", name="Undo")).to_be_hidden()
    page.get_by_label("Across").fill("6'")
    page.get_by_label("Seen").select_option("side")
    page.get_by_role("button", name="Save the design").last.click()
    expect(page.get_by_text("Design saved.")).to_be_visible()
    expect(page.get_by_label("Across")).to_have_value("6'")
    page.get_by_role("link", name="Alternatives").click()
    page.get_by_label("Layout of the new one").select_option("one side")
    page.get_by_role("button", name="Make another from it").click()
    expect(page.get_by_role("heading", name="B: one side")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_on_a_phone_it_is_dragged_with_a_thumb_and_fits(
    open_page: Opener, access: Access, job: Job, scheme: Any
) -> None:
    page = opened(
        open_page(390, 844, has_touch=True, is_mobile=True, color_scheme=scheme), access, job
    )
    assert_fits(page)
    assert_accessible(page)
    expect(page.locator("#counts")).not_to_have_attribute("open", "")
    before = balls(page)
    drag(page, page.locator(END), 60, -30)
    expect(page.locator(".sums strong").first).not_to_have_text(str(before))
    page.goto(f"/jobs/{job.number}/alternatives/")
    assert_fits(page)
    assert_accessible(page)


def test_dragging_keeps_fifty_frames_a_second(open_page: Opener, access: Access, job: Job) -> None:
    """By the browser's own frame clock, the piece moving under the pointer, the server answering meanwhile."""
    page = opened(open_page(), access, job)
    page.evaluate(
        "window.frames_ = []; const f = t => { window.frames_.push(t); requestAnimationFrame(f) };"
        "requestAnimationFrame(f)"
    )
    handle = page.locator(END)
    page.evaluate("window.frames_.length = 0")
    drag(page, handle, 140, -50, steps=90)
    gaps = np.diff(page.evaluate("window.frames_"))
    # The median says what the drawing costs; a shared machine loses a frame now and then.
    assert np.median(gaps) <= 20, gaps


def alike(one: Image.Image, other: Image.Image) -> float:
    """Mean structural similarity of two pictures (Wang et al. 2004, from memory: 7 × 7 windows, K 0.01, 0.03)."""
    a, b = (np.asarray(x.convert("L"), dtype=np.float64) for x in (one, other))
    mean_a, mean_b = uniform_filter(a, 7), uniform_filter(b, 7)
    var_a = uniform_filter(a * a, 7) - mean_a**2
    var_b = uniform_filter(b * b, 7) - mean_b**2
    both = uniform_filter(a * b, 7) - mean_a * mean_b
    c1, c2 = (0.01 * 255) ** 2, (0.03 * 255) ** 2
    top = (2 * mean_a * mean_b + c1) * (2 * both + c2)
    return float((top / ((mean_a**2 + mean_b**2 + c1) * (var_a + var_b + c2))).mean())


@pytest.mark.parametrize("name", ["gym-doors", "lakeside", "shop-tenth"])
def test_the_picture_is_the_same_on_screen_and_on_paper(
    open_page: Opener, tmp_path: Path, name: str
) -> None:
    svg = draw(work_out(read_design((DATA / f"{name}.json").read_bytes())), units="imperial")
    svg = svg.replace("<svg ", '<svg width="600" height="450" preserveAspectRatio="xMidYMid" ', 1)
    html = f"<html lang='en'><head><title>x</title></head><body>{svg}</body></html>"
    page = open_page(640, 480)
    page.set_content(f"<style>body {{ margin: 0 }} svg {{ display: block }}</style>{svg}")
    seen = Image.open(
        io.BytesIO(page.screenshot(clip={"x": 0, "y": 0, "width": 600, "height": 450}))
    )
    printed = render_paper(html, paper="A4")
    sheet = pypdfium2.PdfDocument(printed)[0].render(scale=96 / 72).to_pil()
    left, top = round(15 / 25.4 * 96), round(15 / 25.4 * 96)  # the paper's margins
    paper = sheet.crop((left, top, left + 600, top + 450))
    # The same picture a few pixels off scores about 0.5; lettering differs by the fonts of page and paper.
    assert alike(seen, paper) > 0.85

"""Tables stay inside their cards at every width; what is printed from the browser is what is said."""

from __future__ import annotations

from typing import Any

import pypdfium2
import pytest
from django.urls import reverse
from playwright.sync_api import Page

from jobs.demo import MAIL, PASSWORD, load_demo
from jobs.models import ClientLink, Job
from jobs.proposal.links import shown_again
from tests.browser.conftest import Opener, assert_fits, sign_in

WIDTHS = (360, 390, 641, 768, 900, 1024, 1280, 1440, 1920)
# How far each table reaches past the card or the scrolling box that it lies in, and whether that box scrolls.
PAST = """() => [...document.querySelectorAll('.sheet table')].flatMap(table => {
  const box = table.closest('.scrolls, .sheet'), past = table.getBoundingClientRect().right
    - box.getBoundingClientRect().right;
  if (past <= 1) return [];
  box.scrollLeft = box.scrollWidth;
  const left = table.getBoundingClientRect().right - box.getBoundingClientRect().right;
  return left <= 1 ? [] : [`${box.closest('.sheet').querySelector('h2')?.textContent}: ${Math.round(left)} px`];
})"""


@pytest.fixture
def page(open_page: Opener) -> Page:
    load_demo()
    page = open_page()
    sign_in(page, MAIL, PASSWORD)
    return page


def test_the_last_column_of_every_table_can_be_reached(page: Page) -> None:
    pages = [reverse("jobs:build", args=[n]) for n in (2, 4)] + [reverse("jobs:reports")]
    for address in pages:
        for wide in WIDTHS:
            page.set_viewport_size({"width": wide, "height": 900})
            page.goto(address)
            assert page.evaluate(PAST) == [], (address, wide)
            assert_fits(page)


def printed(page: Page) -> list[str]:
    """What a browser's own print of a page says, page by page."""
    pdf = pypdfium2.PdfDocument(page.pdf(format="A4"))
    return [sheet.get_textpage().get_text_range() for sheet in pdf]


def forms_shown(page: Page) -> list[str]:
    page.emulate_media(media="print")
    shown = "els => els.filter(e => e.checkVisibility()).map(e => e.outerHTML.slice(0, 80))"
    found: list[str] = page.eval_on_selector_all(
        "input, select, textarea, button, summary, .button", shown
    )
    page.emulate_media(media="null")
    return found


def offered() -> str:
    job = Job.objects.get(title="Leavers’ evening")
    link = ClientLink.objects.get(offer__job=job)
    return reverse("jobs:offer-page", args=[shown_again(link)])


def test_the_clients_page_prints_from_its_first_page_and_without_forms(page: Page) -> None:
    page.goto(offered())
    assert forms_shown(page) == []
    sheets = printed(page)
    for words in ("Quillmoor Décor", "Leavers’ evening", "Dear Ada Brennock"):
        assert words in sheets[0], sheets[0]
    assert all(len(sheet.split()) > 20 for sheet in sheets), [s[:80] for s in sheets]
    told = "\n".join(sheets)
    assert "Say yes" not in told
    assert "Your question" not in told
    assert told.count("Quillmoor Décor") == 1  # its letterhead, not the page's own head too


def test_build_prints_its_counts_without_what_is_pressed(page: Page) -> None:
    page.goto(reverse("jobs:build", args=[2]))
    assert forms_shown(page) == []
    sheets = printed(page)
    for words in ("Anniversary lunch by the lake", "To inflate", "Sizing sheet"):
        assert words in sheets[0], sheets[0]
    told = "\n".join(sheets)
    for pressed in ("Packed and ready", "Reserve supplies", "Call it off", "Pick list"):
        assert pressed not in told


def test_the_packing_page_prints_its_list(page: Page) -> None:
    page.goto(reverse("jobs:packing", args=[2]))
    assert "first-aid kit" in "\n".join(printed(page))


@pytest.mark.parametrize("wide", [360, 375, 1280])
def test_where_the_letterhead_wraps_it_stands_under_the_name(page: Page, wide: int) -> None:
    page.set_viewport_size({"width": wide, "height": 800})
    page.goto(offered())
    at: Any = page.evaluate("""() => ['.house', '.where'].map(name => {
      const box = document.createRange();
      box.selectNodeContents(document.querySelector('.letterhead ' + name));
      return [...box.getClientRects()].filter(r => r.width > 1).map(r => [r.left, r.top]);
    })""")
    (house,), lines = at[0][:1], at[1]
    assert len({round(left) for left, _ in lines}) == 1  # the address from one left edge
    wraps = lines[0][1] > house[1] + 20
    assert wraps == (wide < 400)
    if wraps:
        assert round(lines[0][0]) == round(house[0])

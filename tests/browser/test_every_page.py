"""Every page: reachable to everybody, and no wider than a phone."""

from __future__ import annotations

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from jobs.demo import CREW_MAIL, MAIL, PASSWORD, load_demo
from jobs.models import Client, ClientLink
from jobs.proposal.links import shown_again, stop_token
from pricing.models import Supply
from studio.access import Access
from tests.browser.conftest import Opener, assert_accessible, assert_fits, sign_in


def pages(access: Access) -> list[str]:
    lists = ["jobs:today", "jobs:jobs", "jobs:new", "jobs:diary", "jobs:money", "jobs:reports", "pricing:stores", "pricing:new-supply",
             "pricing:rates", "pricing:stock", "pricing:count", "pricing:kit", "pricing:new-kit", "pricing:packs",
             "pricing:new-pack", "pricing:new-supplier", "pricing:orders", "pricing:sheets", "jobs:buying",
             "jobs:shades", "studio:facts", "studio:letters", "studio:password", "jobs:practice"]  # fmt: skip
    steps = [
        "jobs:brief",
        "jobs:design",
        "jobs:price",
        "jobs:proposal",
        "jobs:payment",
        "jobs:call-off",
        "jobs:postpone",
        "jobs:build",
        "jobs:packing",
        "jobs:after",
        "jobs:alternatives",
        "jobs:fit",
        "jobs:photo",
    ]
    supply = access.rows(Supply).first()
    assert supply
    links = [
        reverse("jobs:offer-page", args=[shown_again(link)])
        for link in ClientLink.objects.order_by("pk")
    ]
    return [
        *(reverse(name) for name in lists),
        *(reverse(name, args=[number]) for name in steps for number in (2, 4)),
        reverse("jobs:design", args=[5]),
        reverse("jobs:after", args=[1]),
        reverse("jobs:options", args=[4, "A"]),
        reverse("pricing:supply", args=[supply.pk]),
        reverse("jobs:buying") + "?work=out",
        *links,
        reverse("jobs:stop", args=[stop_token(access.rows(Client)[0])]),
    ]


@pytest.mark.parametrize(("wide", "scheme"), [(1280, "light"), (1280, "dark"), (360, "light")])
def test_every_page_is_accessible_and_fits(open_page: Opener, wide: int, scheme: str) -> None:
    access = load_demo()
    page = open_page(wide, 800, color_scheme=scheme)
    page.goto("/sign-in/")
    assert_accessible(page)
    sign_in(page, MAIL, PASSWORD)
    for address in pages(access):
        page.goto(address)
        assert_accessible(page)
        assert_fits(page)


def test_the_first_start_is_accessible(open_page: Opener) -> None:
    page = open_page(360, 800)
    page.goto("/")
    assert_accessible(page)
    assert_fits(page)


SMALL = """() => [...document.querySelectorAll(
  'button, .button, input:not([type=hidden]), select, textarea, summary, nav a, .tabs a')].flatMap(e => {
  const tick = ['checkbox', 'radio'].includes(e.type) && (e.closest('label') || e.closest('.tick'));
  const {width, height} = (tick || e).getBoundingClientRect();
  return e.checkVisibility() && Math.min(width, height) < 44 ? [e.outerHTML.slice(0, 80)] : [];
})"""


def test_what_is_pressed_by_thumb_is_large_enough(open_page: Opener) -> None:
    """44 px each way (WCAG 2.2, 2.5.5) where the pointer is coarse."""
    load_demo()
    page = open_page(360, 800, has_touch=True, is_mobile=True)
    sign_in(page, CREW_MAIL, PASSWORD)
    link = shown_again(ClientLink.objects.get(offer__job__title="Leavers’ evening"))
    job = [reverse(f"jobs:{name}", args=[2]) for name in ("brief", "design", "build", "packing")]
    daily = [reverse(f"jobs:{name}") for name in ("today", "diary", "jobs")]
    for address in [*daily, *job, reverse("pricing:kit"), reverse("jobs:offer-page", args=[link])]:
        page.goto(address)
        assert page.evaluate(SMALL) == [], address
        assert_fits(page)


def test_a_client_sees_what_is_missing_without_looking_for_it(open_page: Opener) -> None:
    load_demo()
    page = open_page(360, 780, has_touch=True, is_mobile=True)
    link = shown_again(ClientLink.objects.get(offer__job__title="Leavers’ evening"))
    page.goto(reverse("jobs:offer-page", args=[link]))
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_text("Your full name: expected a name")).to_be_in_viewport()
    page.get_by_role("button", name="Ask").click()
    expect(page.get_by_text("Your question:")).to_be_in_viewport()
    # The page stands at another address now; the yes still goes to its own.
    before = page.locator("#comes-to").inner_text()
    page.get_by_label("Small accents").check()
    expect(page.locator("#comes-to")).not_to_have_text(before)
    expect(page.locator("#comes-to")).to_contain_text("with Small accents")
    page.get_by_label("Your full name").fill("Ada Brennock")
    page.get_by_label("I accept proposal").check()
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("heading", name="Once more, before it counts")).to_be_in_viewport()
    page.get_by_role("button", name="Back").click()
    expect(page.get_by_label("Your full name")).to_be_in_viewport()

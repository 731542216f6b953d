"""From the first start to the van, in a real browser, with nothing typed into a shell."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

from django.utils import timezone
from playwright.sync_api import Page, expect

from jobs.models import Acceptance, Job, Offer, Payment
from tests.browser.conftest import Opener

PASSWORD = "glue-on-fingers-7"


def balls(page: Page) -> int:
    return page.locator("#worked circle.ball").count()


def fill(page: Page, facts: dict[str, str]) -> None:
    for label, value in facts.items():
        page.get_by_label(label, exact=True).fill(value)


def open_the_studio(page: Page) -> None:
    page.goto("/")
    expect(page.get_by_role("heading", name="Open your studio")).to_be_visible()
    fill(page, {
        "Studio": "Quillmoor Décor", "E-mail": "yard@quillmoor.example", "Your name": "Maren Okell",
        "Your e-mail, to sign in": "maren@quillmoor.example", "Your password": PASSWORD,
        "Terms": "The date is held once the deposit is here.",
    })  # fmt: skip
    page.get_by_label("Currency").select_option("GBP")
    page.get_by_label("Time zone").select_option("Europe/London")
    page.get_by_label("Lengths in").select_option("imperial")
    page.get_by_role("button", name="Open the studio").click()
    expect(page.get_by_role("heading", name="Stores")).to_be_visible()


def enquire(page: Page) -> None:
    page.get_by_role("link", name="Jobs", exact=True).click()
    page.get_by_role("link", name="New enquiry").click()
    day = timezone.localdate() + timedelta(days=30)
    fill(page, {
        "What is celebrated": "The shop is ten", "Event starts": f"{day}T10:00", "Event ends": f"{day}T18:00",
        "Room free from": f"{day}T07:00", "Room clear by": f"{day}T20:00", "Client’s name": "Rufus Amadi",
        "E-mail": "rufus@example.com", "Phone": "020 7946 0958", "Venue": "Lantern & Thread",
        "Ceiling height": "rather low", "Narrowest door, width": "84 cm", "Narrowest door, height": "6' 8\"",
    })  # fmt: skip
    page.get_by_label("Latex allergy").select_option("none")
    page.get_by_role("button", name="Open the job").click()
    expect(page.get_by_text("Ceiling height: expected a length such as")).to_be_visible()
    expect(page.get_by_label("Client’s name", exact=True)).to_have_value(
        "Rufus Amadi"
    )  # nothing is lost
    page.get_by_label("Ceiling height").fill("8 ft")
    page.get_by_role("button", name="Open the job").click()


def design(page: Page) -> None:
    page.get_by_role("button", name="Ring").click()
    expect(page.locator("#worked circle.ball").first).to_be_visible()
    before, price = balls(page), page.locator("#total").inner_text()
    # A ring up to the ceiling, covered all the way round: told in numbers, and mended.
    page.get_by_label("Across").fill("7' 6\"")
    page.get_by_label("To", exact=True).first.fill("right 2' 7\"")
    expect(page.locator(".findings .stop")).to_contain_text(
        re.compile(r"too high over the top .* of the ring")
    )
    expect(page.locator("#worked")).to_contain_text("Ending the left side")
    assert balls(page) > before
    assert page.locator("#total").inner_text() != price
    page.get_by_label("To", exact=True).first.fill("left 6'")
    expect(page.locator(".findings .stop")).to_have_count(0)
    counted = page.locator("#worked tfoot td.count").first
    expect(counted).to_have_text(str(balls(page)))
    expect(
        page.get_by_label("To", exact=True).first
    ).to_be_focused()  # a change beside it never takes the cursor
    page.get_by_label("To", exact=True).first.press("Enter")  # saves, as people expect of Enter
    expect(page.get_by_text("Design saved.")).to_be_visible()


def price(page: Page) -> None:
    page.get_by_role("link", name="Price", exact=True).click()
    page.get_by_label("Way to the venue, km").fill("12")
    expect(page.locator("#buildup")).to_contain_text("travel")
    page.get_by_role("button", name="Save the price").click()
    expect(page.get_by_text("Price saved.")).to_be_visible()


def offer(page: Page) -> str:
    page.get_by_role("link", name="Proposal", exact=True).click()
    page.get_by_label("A note to the client").fill("With pleasure.")
    expect(page.locator("#draft")).to_contain_text("With pleasure.")
    page.get_by_role("button", name=re.compile("Send proposal")).click()
    expect(page.get_by_text("Proposal sent")).to_be_visible()
    return page.get_by_label("The client’s link").input_value()


def accept(phone: Page, address: str) -> None:
    phone.goto(address)
    expect(phone.get_by_text("CHOKING HAZARD").first).to_be_visible()
    phone.get_by_label("Your full name").fill("Rufus Amadi")
    phone.get_by_label(re.compile("I accept proposal")).check()
    phone.get_by_role("button", name="Go on").click()
    expect(phone.get_by_role("heading", name="Once more, before it counts")).to_be_visible()
    phone.get_by_role("button", name="Yes, I accept").click()
    expect(phone.get_by_role("heading", name="Thank you, Rufus Amadi")).to_be_visible()


def pay_and_pack(page: Page) -> None:
    page.goto("/money/")
    page.get_by_role("link", name="0001 The shop is ten").first.click()
    page.get_by_label("Amount").fill(Offer.objects.get().figures["deposit"])
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("booked").first).to_be_visible()
    page.get_by_role("link", name="Build", exact=True).click()
    for name in ("Pick list", "Packing list"):
        address = page.get_by_role("link", name=name).get_attribute("href")
        answer = page.request.get(address or "")
        assert answer.headers["content-type"] == "application/pdf"
    page.get_by_role("button", name="Packed and ready").click()
    expect(page.get_by_text("of the packing page are not ticked")).to_be_visible()
    page.get_by_role("button", name="Packed and ready all the same").click()
    expect(page.get_by_text("ready").first).to_be_visible()
    page.get_by_role("link", name="Diary", exact=True).click()
    expect(page.get_by_text("set-up")).to_be_visible()


def test_one_enquiry_the_whole_way(open_page: Opener) -> None:
    page, phone = open_page(), open_page(390, 844)
    open_the_studio(page)
    enquire(page)
    design(page)
    price(page)
    accept(phone, offer(page))
    pay_and_pack(page)
    assert Job.objects.get().stage == "ready"
    assert Acceptance.objects.count() == Payment.objects.count() == 1


def test_the_same_design_with_scripts_off(open_page: Opener, live_server: Any) -> None:
    from jobs.demo import MAIL, load_demo
    from jobs.demo import PASSWORD as DEMO
    from tests.browser.conftest import sign_in

    load_demo()
    page = open_page(java_script_enabled=False)
    sign_in(page, MAIL, DEMO)
    page.goto("/jobs/4/design/")
    page.get_by_role("button", name="Add a colour").click()
    page.get_by_label("Colour", exact=True).last.fill("rust")
    page.get_by_label("Across").fill("7 ft")
    page.get_by_role("button", name="Save the design").click()
    expect(page.get_by_text("Design saved.")).to_be_visible()
    expect(page.get_by_label("Across")).to_have_value("7'")
    expect(page.get_by_text("11 in balloon, rust")).to_be_visible()
    page.goto("/stores/?q=ivy")
    expect(page.get_by_role("link", name="ivy strand")).to_be_visible()


def test_keyboard_alone_signs_in_and_opens_a_job(open_page: Opener) -> None:
    from jobs.demo import MAIL, load_demo
    from jobs.demo import PASSWORD as DEMO

    load_demo()
    page = open_page()
    page.goto("/sign-in/")
    page.get_by_label("E-mail").focus()
    page.keyboard.type(MAIL)
    page.keyboard.press("Tab")
    page.keyboard.type(DEMO)
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r":\d+/$"))
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="To the content")).to_be_focused()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="New enquiry")).to_be_focused()


def test_two_people_editing_one_brief(open_page: Opener) -> None:
    from jobs.demo import MAIL, load_demo
    from jobs.demo import PASSWORD as DEMO
    from tests.browser.conftest import sign_in

    load_demo()
    one, two = open_page(), open_page()
    for page in (one, two):
        sign_in(page, MAIL, DEMO)
        page.goto("/jobs/4/")
    one.get_by_label("Floor").fill("oak boards")
    one.get_by_role("button", name="Save the brief").click()
    expect(one.get_by_text("Brief saved.")).to_be_visible()
    two.get_by_label("Floor").fill("slate")
    two.get_by_role("button", name="Save the brief").click()
    expect(two.get_by_role("heading", name="Somebody saved in between")).to_be_visible()
    expect(two.get_by_role("cell", name="oak boards")).to_be_visible()
    expect(two.get_by_label("Floor")).to_have_value("slate")

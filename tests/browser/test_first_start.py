"""The first start in a real browser: prices follow while somebody types, and a price makes the hour."""

from __future__ import annotations

from playwright.sync_api import expect

from tests.browser.conftest import Opener


def test_prices_follow_as_somebody_types(open_page: Opener) -> None:
    page = open_page()
    page.goto("/first/")
    garland = page.get_by_role("row", name="Garland")
    expect(garland).to_contain_text("451.73")
    hour = page.get_by_label("An hour of work must earn")
    hour.fill("60")
    expect(garland).to_contain_text("629.00")
    expect(hour).to_be_focused()
    page.get_by_label("Your password").fill("glue-on-fingers-7")
    page.get_by_label("Currency").select_option("GBP")
    expect(garland).to_contain_text("£609.11")
    expect(page.get_by_label("Tax is called")).to_have_value("VAT")
    page.get_by_label("Or begin from a price: for").select_option("ring")
    page.get_by_label("I would ask, tax included").fill("500")
    page.get_by_role("button", name="Let that price set the hour").click()
    expect(hour).to_have_value("34.11")
    expect(page.get_by_role("row", name="Ringed backdrop")).to_contain_text("£500.05")
    expect(page.get_by_label("Your password")).to_have_value("glue-on-fingers-7")  # nothing is lost


def test_the_time_zone_of_the_browser_is_proposed_and_no_choice_is_written_over(
    open_page: Opener,
) -> None:
    page = open_page()
    session = page.context.new_cdp_session(page)
    session.send("Emulation.setTimezoneOverride", {"timezoneId": "America/New_York"})
    page.goto("/first/")
    zone = page.get_by_label("Time zone")
    expect(zone).to_have_value("America/New_York")
    zone.select_option("UTC")
    page.get_by_role("button", name="Open the studio").last.click()
    expect(page.get_by_label("Your name")).to_have_attribute("aria-invalid", "true")
    expect(zone).to_have_value("UTC")

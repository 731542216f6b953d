"""Stores: supplies, prices, rates."""

from __future__ import annotations

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from pricing.book.price_book import NoRates, book_for
from pricing.core.supply_keys import parse_key
from pricing.models import Price, RateCard, Supply
from studio.access import Access
from studio.permissions import Permission
from tests.conftest import signed_in

STORES = reverse("pricing:stores")


def press() -> str:
    return str(uuid.uuid4())


def a_supply(**changes: str) -> dict[str, str]:
    return {
        "name": "pampas stem", "key": "greenery/pampas", "use": "consumable", "unit": "each", "shelf": "B3",
        "price-pack_price": "12", "price-pack_count": "10", "price-valid_from": "2026-01-01", "form_key": press(),
        **changes,
    }  # fmt: skip


def test_the_list_shows_pack_and_unit_prices(browser: Browser) -> None:
    page = browser.get(STORES).content.decode()
    assert "£13.00 for 100" in page
    assert "£0.13" in page


def test_the_list_filters_with_and_without_htmx(browser: Browser) -> None:
    assert b"ivy strand" not in browser.get(STORES, {"q": "ring"}).content
    part = browser.get(STORES, {"q": "ivy"}, headers={"HX-Request": "true"}).content
    assert b"ivy strand" in part
    assert b"<html" not in part
    assert b"answers to that" in browser.get(STORES, {"q": "zeppelin"}).content


def test_crew_see_shelves_and_no_price(crew: Access) -> None:
    page = signed_in(crew).get(STORES).content.decode()
    assert "ivy strand" in page
    assert "£" not in page
    assert signed_in(crew).get(reverse("pricing:rates")).status_code == 403
    assert signed_in(crew).get(reverse("pricing:new-supply")).status_code == 403


def test_a_new_supply_with_its_price_made_once(browser: Browser, access: Access) -> None:
    told = a_supply()
    for _ in range(2):
        browser.post(reverse("pricing:new-supply"), told)
    supply = access.row(Supply, key="greenery/pampas")
    found = [
        book_for(access, timezone.localdate()).find(parse_key(key))
        for key in ("greenery/pampas", "greenery/pampas/white")
    ]
    assert [price and price.unit_price for price in found] == [Decimal("1.2"), None]
    assert browser.get(reverse("pricing:supply", args=[supply.pk])).status_code == 200


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("key", "balloon/11 in", "expected one of its own, got balloon/11 in"),
        ("key", "balloon", "expected words parted by slashes"),
        ("price-pack_count", "0", "In a pack: expected more than 0, got 0"),
        ("price-pack_price", "-1", "expected at least 0, got -1"),
    ],
)
def test_garbage_gets_a_sentence(browser: Browser, field: str, typed: str, says: str) -> None:
    answer = browser.post(reverse("pricing:new-supply"), a_supply(**{field: typed}))
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert b"pampas stem" in answer.content


def test_a_new_price_holds_from_its_day_and_not_before(browser: Browser, access: Access) -> None:
    supply = access.row(Supply, key="balloon/11 in")
    today = timezone.localdate()
    at = reverse("pricing:new-price", args=[supply.pk])
    told = {
        "price-pack_price": "26",
        "price-pack_count": "100",
        "price-valid_from": today.isoformat(),
    }
    assert browser.post(at, {**told, "form_key": press()}).status_code == 302
    assert (
        browser.post(at, {**told, "form_key": press()}).status_code == 409
    )  # unseen: it has one now
    for day, price in ((today - timedelta(days=1), "0.13"), (today, "0.26")):
        assert book_for(access, day).find(parse_key("balloon/11 in")).unit_price == Decimal(price)  # type: ignore[union-attr]


def shown(browser: Browser, at: str, form: str) -> dict[str, str]:
    """A form as its page shows it, ready to be sent."""
    page = browser.get(at).context[form]
    return {page.add_prefix(n): page[n].value() or "" for n in page.fields} | {"form_key": press()}


def test_a_price_of_today_can_be_put_right_today(browser: Browser, access: Access) -> None:
    supply, today = access.row(Supply, key="balloon/11 in"), access.studio.today()
    page = reverse("pricing:supply", args=[supply.pk])
    at = reverse("pricing:new-price", args=[supply.pk])
    for price in ("26", "27"):
        told = shown(browser, page, "price_form") | {
            "price-pack_price": price, "price-pack_count": "100",
        }  # fmt: skip
        assert browser.post(at, told).status_code == 302
        assert browser.post(at, told).status_code == 302  # the same press
    rows = access.rows(Price).filter(supply=supply, valid_from=today)
    assert [row.pack_price for row in rows] == [27]
    late = {**told, "form_key": press(), "price-pack_price": "31"}
    answer = browser.post(at, late)
    assert answer.status_code == 409  # it was made before the 27 stood
    assert "27" in answer.content.decode()
    assert answer.context["price_form"]["pack_price"].value() == "31"
    again = {
        **late,
        "form_key": press(),
        "price-seen": answer.context["price_form"]["seen"].value(),
    }
    assert browser.post(at, again).status_code == 302
    assert rows.get().pack_price == 31


def test_a_price_that_held_already_stays(browser: Browser, access: Access) -> None:
    supply = access.row(Supply, key="balloon/11 in")
    began = access.rows(Price).get(supply=supply).valid_from
    told = shown(browser, reverse("pricing:supply", args=[supply.pk]), "price_form")
    told |= {
        "price-pack_price": "1",
        "price-pack_count": "1",
        "price-valid_from": began.isoformat(),
    }
    answer = browser.post(reverse("pricing:new-price", args=[supply.pk]), told)
    assert answer.status_code == 422
    assert "its entry has held already" in answer.content.decode()


def test_rates_of_today_can_be_put_right_today(browser: Browser, access: Access) -> None:
    at = reverse("pricing:rates")
    for margin in ("50", "52"):
        assert (
            browser.post(at, shown(browser, at, "form") | {"margin_percent": margin}).status_code
            == 302
        )
    assert book_for(access, access.studio.today()).rates.margin_percent == 52
    assert access.rows(RateCard).filter(valid_from=access.studio.today()).count() == 1
    stale = shown(browser, at, "form")
    assert (
        browser.post(at, shown(browser, at, "form") | {"margin_percent": "54"}).status_code == 302
    )
    answer = browser.post(at, stale | {"margin_percent": "56"})
    assert answer.status_code == 409
    assert '<th scope="row">Margin, % of the price</th>' in answer.content.decode()
    assert book_for(access, access.studio.today()).rates.margin_percent == 54


def test_new_rates_hold_from_their_day(browser: Browser, access: Access) -> None:
    page = browser.get(reverse("pricing:rates"))
    told = {name: page.context["form"][name].value() or "" for name in page.context["form"].fields}
    today = timezone.localdate()
    told |= {"margin_percent": "50", "valid_from": today.isoformat(), "form_key": press()}
    assert browser.post(reverse("pricing:rates"), told).status_code == 302
    assert book_for(access, today).rates.margin_percent == 50
    assert book_for(access, today - timedelta(days=1)).rates.margin_percent == 45
    wrong = browser.post(
        reverse("pricing:rates"), {**told, "margin_percent": "100", "form_key": press()}
    )
    assert "Margin: expected below 100 %" in wrong.content.decode()


def test_a_stale_supply_answers_409(browser: Browser, access: Access) -> None:
    supply = access.row(Supply, key="tie/260")
    at = reverse("pricing:supply", args=[supply.pk])
    told = {
        "name": "tie",
        "key": "tie/260",
        "use": "consumable",
        "unit": "each",
        "shelf": "Z1",
        "version": "1",
    }
    assert browser.post(at, told).status_code == 302
    answer = browser.post(at, {**told, "shelf": "Z2"})
    assert answer.status_code == 409
    assert b"Z1" in answer.content


def test_another_studios_supply_is_none(browser: Browser, stranger: Access) -> None:
    theirs = stranger.row(Supply, key="tie/260")
    assert browser.get(reverse("pricing:supply", args=[theirs.pk])).status_code == 404
    assert browser.post(reverse("pricing:new-price", args=[theirs.pk])).status_code == 404


def test_before_any_rates_there_is_no_book(access: Access) -> None:
    with pytest.raises(NoRates, match="expected some in force on"):
        book_for(access, timezone.localdate() - timedelta(days=2000))


def test_the_book_takes_two_queries(access: Access, django_assert_num_queries: object) -> None:
    with django_assert_num_queries(2):  # type: ignore[operator]
        book_for(access, timezone.localdate())


@pytest.mark.parametrize("model", [Price, RateCard])
def test_prices_are_closed_to_crew(model: type) -> None:
    assert model.permission == Permission.SEE_PRICES  # type: ignore[attr-defined]


@pytest.mark.parametrize(("units", "told"), [("imperial", True), ("metric", False)])
def test_who_drives_miles_is_told_what_a_kilometre_is(
    browser: Browser, access: Access, units: str, told: bool
) -> None:
    access.studio.units = units
    access.studio.save()
    page = browser.get(reverse("pricing:rates")).content.decode()
    # 1.609344 km exactly: international yard and pound agreement, 1959.
    assert ("1 mile is 1.609 km" in page) is told

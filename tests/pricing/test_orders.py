"""Orders from made to done: sent, part come, given up, dropped; and by which day they are counted on."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from pricing.models import OrderLine, Price, PurchaseOrder, Receipt, StockMove, Supplier, Supply
from pricing.stores.buy_plan import unsent_orders
from pricing.stores.incoming import arrives, coming
from pricing.stores.ordering import (
    CannotReceive,
    came_of_line,
    give_up_order,
    goods_total,
    order_lines,
    receive_order,
    record_price,
    send_order,
    shelf_of,
)
from pricing.stores.stock import holdings, on_order, stock_lots
from studio.access import Access
from studio.models import OutgoingMail
from tests.conftest import signed_in

TODAY = date(2026, 6, 1)
NOON = datetime(2026, 6, 1, 12, tzinfo=ZoneInfo("UTC"))
KEY = "balloon/11 in/ivory"


@pytest.fixture
def supplier(access: Access) -> Supplier:
    return access.add(
        Supplier, name="Depot", mail="depot@example.com", delivery=Decimal(5), lead_days=4
    )


@pytest.fixture
def order(access: Access, supplier: Supplier) -> PurchaseOrder:
    """Three packs of a hundred, and two mixed kits."""
    row = access.add(PurchaseOrder, supplier=supplier, number=1, delivery=Decimal(5))
    facts = {"order": row, "price": Decimal("12.50")}
    access.add(OrderLine, code="I", name="Ivory", contents={KEY: 100}, count=3, **facts)
    mixed = {KEY: 10, "balloon/5 in/plum": 20}
    access.add(OrderLine, code="M", name="Mixed", contents=mixed, count=2, **facts)
    return row


@pytest.fixture
def first(order: PurchaseOrder) -> OrderLine:
    return OrderLine.objects.order_by("pk")[0]


def press_in(page: str) -> str:
    return page.partition('name="form_key" value="')[2].partition('"')[0]


def test_what_is_on_order_and_what_is_yet_to_be_sent(access: Access, order: PurchaseOrder) -> None:
    waiting = {KEY: 320, "balloon/5 in/plum": 40}
    assert (on_order(access), on_order(access, sent=False)) == ({}, waiting)
    assert unsent_orders(access) == [order]
    send_order(access, order, at=NOON, on=TODAY)
    assert (on_order(access), on_order(access, sent=False)) == (waiting, {})
    assert unsent_orders(access) == []
    assert holdings(access)[KEY].on_order == 320
    assert goods_total(order_lines(access, order)) == Decimal("62.50")


def test_what_was_given_up_is_waited_for_no_more_and_what_came_stays(
    access: Access, order: PurchaseOrder, first: OrderLine
) -> None:
    send_order(access, order, at=NOON, on=TODAY)
    assert receive_order(access, order, {first.pk: 1}, on=TODAY) == 1
    assert on_order(access)[KEY] == 220
    assert sum(c.quantity for c in coming(access, on=TODAY)) == 220 + 40
    give_up_order(access, order, at=NOON)
    order.refresh_from_db()
    assert order.given_up_at == NOON
    assert (on_order(access), coming(access, on=TODAY)) == ({}, [])
    assert holdings(access)[KEY].on_hand == 100
    give_up_order(access, order, at=NOON + timedelta(days=1))  # twice is once
    order.refresh_from_db()
    assert order.given_up_at == NOON
    # What comes after all is taken in: it lies there.
    assert receive_order(access, order, {first.pk: 2}, on=TODAY) == 2
    assert holdings(access)[KEY].on_hand == 300


def test_an_order_that_was_never_sent_can_be_given_up(access: Access, order: PurchaseOrder) -> None:
    give_up_order(access, order, at=NOON)
    assert unsent_orders(access) == []
    assert on_order(access, sent=False) == {}


def test_the_page_offers_each_press_in_its_time(browser: Browser, order: PurchaseOrder) -> None:
    at = reverse("pricing:order", args=[order.number])

    def offered() -> set[str]:
        page = browser.get(at).content.decode()
        return {do for do in ("send", "drop", "receive", "give-up") if f'value="{do}"' in page}

    assert offered() == {"send", "drop"}
    browser.post(at, {"do": "send"})
    assert offered() == {"receive", "give-up"}
    page = browser.post(at, {"do": "give-up"}, follow=True).content.decode()
    assert "What has not come is not waited for." in page
    assert offered() == set()
    page = browser.get(at).content.decode()
    assert "Given up" in page
    assert 'inputmode="numeric"' not in page
    assert "Given up" in browser.get(reverse("pricing:orders")).content.decode()
    for do in ("drop", "dance", ""):  # it went out: it stays
        assert browser.post(at, {"do": do}).headers["Location"] == at
    assert PurchaseOrder.objects.count() == 1


def test_an_order_that_was_not_sent_is_dropped_whole(
    browser: Browser, order: PurchaseOrder
) -> None:
    answer = browser.post(reverse("pricing:order", args=[order.number]), {"do": "drop"})
    assert answer.headers["Location"] == reverse("pricing:orders")
    assert not PurchaseOrder.objects.exists()
    assert not OrderLine.objects.exists()


def test_everything_that_came_ends_the_waiting(
    browser: Browser, access: Access, order: PurchaseOrder
) -> None:
    send_order(access, order, at=NOON, on=TODAY)
    lines = order_lines(access, order)
    assert [came_of_line(line) for line in lines] == [0, 0]
    at = reverse("pricing:order", args=[order.number])
    page = browser.get(at).content.decode()
    assert page.count('inputmode="numeric"') == 2
    typed = {f"line-{line.pk}": str(line.count) for line in lines}
    answer = browser.post(at, {"do": "receive", "form_key": press_in(page), **typed}, follow=True)
    assert "5 packs are on the shelves." in answer.content.decode()
    assert [came_of_line(line) for line in order_lines(access, order)] == [3, 2]
    assert coming(access, on=TODAY) == []
    page = browser.get(at).content.decode()
    assert 'value="receive"' not in page
    assert 'inputmode="numeric"' not in page


@pytest.mark.parametrize("typed", ["-1", "1.5", "x", "1000000"])
def test_packs_that_are_no_number_get_a_sentence(
    browser: Browser, access: Access, order: PurchaseOrder, first: OrderLine, typed: str
) -> None:
    send_order(access, order, at=NOON, on=TODAY)
    at = reverse("pricing:order", args=[order.number])
    press = press_in(browser.get(at).content.decode())
    answer = browser.post(at, {"do": "receive", "form_key": press, f"line-{first.pk}": typed})
    assert (answer.status_code, Receipt.objects.count()) == (422, 0)
    assert (
        "Packs: expected" in answer.content.decode()
        or "expected 0 to 3 packs" in answer.content.decode()
    )


@pytest.mark.parametrize(("packs", "fine"), [(-1, False), (0, True), (3, True), (4, False)])
def test_no_more_comes_than_was_ordered(
    access: Access, order: PurchaseOrder, first: OrderLine, packs: int, fine: bool
) -> None:
    send_order(access, order, at=NOON, on=TODAY)
    if fine:
        assert receive_order(access, order, {first.pk: packs}, on=TODAY) == packs
        assert Receipt.objects.count() == bool(packs)
    else:
        with pytest.raises(CannotReceive, match=f"Ivory: expected 0 to 3 packs, got {packs}"):
            receive_order(access, order, {first.pk: packs}, on=TODAY)
        assert not Receipt.objects.exists()


def test_what_came_lies_where_its_supply_lies_or_where_it_is_said(
    access: Access, order: PurchaseOrder, first: OrderLine
) -> None:
    Supply.objects.filter(key="balloon/11 in").update(shelf="A1")
    access.add(Supply, key="balloon/11 in/ivory", name="ivory", shelf="A2")
    assert shelf_of(access, "balloon/11 in/ivory/party grade") == "A2"  # the most particular
    assert shelf_of(access, "balloon/11 in/plum") == "A1"
    assert shelf_of(access, "moon/dust") == ""
    receive_order(access, order, {first.pk: 1}, on=TODAY)
    receive_order(access, order, {first.pk: 1}, on=TODAY, shelf="Z9")
    assert {(lot.shelf, lot.quantity) for lot in stock_lots(access, KEY)} == {
        ("A2", 100),
        ("Z9", 100),
    }
    move = access.rows(StockMove).order_by("pk")[0]
    assert (move.why, move.order, move.holder, move.aged_from) == ("order 0001", order, None, TODAY)


def test_a_price_is_learnt_from_packs_of_one_supply_alone(
    access: Access, order: PurchaseOrder, first: OrderLine
) -> None:
    before = Price.objects.count()
    supply = access.add(Supply, key=KEY, name="ivory")
    record_price(
        access, OrderLine.objects.order_by("pk")[1], on=TODAY
    )  # mixed: tells nothing of each
    assert Price.objects.count() == before
    record_price(access, first, on=TODAY)
    record_price(access, first, on=TODAY + timedelta(days=1))  # the same still holds: no row more
    row = Price.objects.get(supply=supply)
    assert (row.pack_count, row.pack_price, row.valid_from) == (100, Decimal("12.5"), TODAY)
    for count, price in ((100, "12.75"), (50, "12.75")):  # another on the same day takes its place
        first.contents, first.price = {KEY: count}, Decimal(price)
        record_price(access, first, on=TODAY)
        row = Price.objects.get(supply=supply)
        assert (row.pack_count, row.pack_price) == (count, Decimal(price))
    record_price(access, first, on=TODAY - timedelta(days=1))  # of a day before: its own row
    first.price = Decimal(13)
    record_price(access, first, on=TODAY + timedelta(days=1))
    assert Price.objects.filter(supply=supply).count() == 3
    first.contents = {"moon/dust": 5}
    record_price(access, first, on=TODAY)
    assert Price.objects.filter(supply=supply).count() == 3


def test_sending_freezes_the_paper_and_writes_once(
    browser: Browser, access: Access, order: PurchaseOrder, supplier: Supplier
) -> None:
    send_order(access, order, at=NOON, on=TODAY)
    send_order(access, order, at=NOON + timedelta(days=1), on=TODAY)
    order.refresh_from_db()
    assert order.sent_at == NOON
    letter = OutgoingMail.objects.get()
    assert letter.subject == f"{access.studio.name}: order 0001"
    assert bytes(letter.attachment) == bytes(order.pdf)
    OrderLine.objects.update(name="Changed since")
    answer = browser.get(reverse("pricing:order-pdf", args=[1]))
    assert answer.content == bytes(order.pdf)
    assert answer.headers["Content-Disposition"] == 'inline; filename="order-0001.pdf"'
    assert answer.headers["Cache-Control"] == "no-store"


def test_a_supplier_without_an_address_gets_no_letter(
    browser: Browser, order: PurchaseOrder, supplier: Supplier
) -> None:
    Supplier.objects.update(mail="")
    at = reverse("pricing:order", args=[order.number])
    assert "Close it; no e-mail is known" in browser.get(at).content.decode()
    page = browser.post(at, {"do": "send"}, follow=True).content.decode()
    assert "Order 0001 is closed for changes; print it." in page
    assert not OutgoingMail.objects.exists()
    order.refresh_from_db()
    assert order.sent_at


@pytest.mark.parametrize(
    ("sent", "line_lead", "needed_by", "on", "comes"),
    [
        # Own rule: the lead after the order went out, not before it was asked for, not before today.
        (None, None, None, TODAY, date(2026, 6, 5)),
        (None, 0, None, TODAY, TODAY),
        (NOON, None, None, TODAY + timedelta(days=1), date(2026, 6, 5)),
        (NOON, 2, None, TODAY, date(2026, 6, 3)),
        (NOON, 2, date(2026, 6, 3), TODAY, date(2026, 6, 3)),
        (NOON, 2, date(2026, 6, 4), TODAY, date(2026, 6, 4)),
        (NOON, 2, date(2026, 6, 2), TODAY, date(2026, 6, 3)),
        (NOON, 2, None, date(2026, 6, 9), date(2026, 6, 9)),
    ],
)  # fmt: skip
def test_the_day_by_which_a_line_is_here(
    order: PurchaseOrder, first: OrderLine, sent: Any, line_lead: Any, needed_by: Any, on: date, comes: date
) -> None:  # fmt: skip
    order.sent_at, order.needed_by = sent, needed_by
    first.order, first.lead_days = order, line_lead
    assert arrives(first, on=on) == comes


def test_an_order_went_out_on_the_studios_day(order: PurchaseOrder, first: OrderLine) -> None:
    # 23:30 in UTC is half past midnight of the next day in London in June (IANA tz database).
    order.sent_at = NOON.replace(hour=23, minute=30)
    first.order = order
    with timezone.override(ZoneInfo("Europe/London")):
        assert arrives(first, on=TODAY) == date(2026, 6, 6)


def test_what_is_not_sent_is_left_out_where_that_is_asked(
    access: Access, order: PurchaseOrder
) -> None:
    assert len(coming(access, on=TODAY)) == 3  # one for each supply of each line
    assert coming(access, on=TODAY, sent_only=True) == []
    send_order(access, order, at=NOON, on=TODAY)
    assert len(coming(access, on=TODAY, sent_only=True)) == 3


def test_the_list_shows_the_newest_hundred_with_their_packs(
    browser: Browser, access: Access, order: PurchaseOrder, supplier: Supplier
) -> None:
    for number in range(2, 103):
        access.add(PurchaseOrder, supplier=supplier, number=number)
    rows = list(browser.get(reverse("pricing:orders")).context["orders"])
    assert (len(rows), rows[0].number, rows[-1].number) == (100, 102, 3)
    PurchaseOrder.objects.filter(number__gt=2).delete()
    rows = list(browser.get(reverse("pricing:orders")).context["orders"])
    assert [row.packs for row in rows] == [None, 5]


def test_another_studios_order_is_none(stranger: Access, order: PurchaseOrder) -> None:
    for name in ("pricing:order", "pricing:order-pdf"):
        assert signed_in(stranger).get(reverse(name, args=[1])).status_code == 404

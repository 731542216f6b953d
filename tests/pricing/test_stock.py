"""The shelves: a ledger of moves, oldest first, never below nothing, whoever takes at the same moment."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import DatabaseError, connection, transaction
from django.http import HttpResponse
from django.test import Client as Browser
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from pricing.core.names import supply_name
from pricing.models import Reservation, StockMove
from pricing.stores.quantities import plain_number
from pricing.stores.stock import (
    NotEnough,
    count_stock,
    holdings,
    put_in_stock,
    shift_stock,
    stock_lots,
    take_from_stock,
)
from studio.access import Access
from tests.conftest import signed_in
from tests.factories import a_holder, a_stocked_access, an_access

IVORY = "balloon/11 in/ivory"
TODAY = date(2026, 6, 1)
Kind = StockMove.Kind


def on_hand(access: Access, key: str = IVORY) -> Decimal:
    held = holdings(access)
    return held[key].on_hand if key in held else Decimal(0)


def test_the_oldest_lot_goes_first(access: Access) -> None:
    put_in_stock(access, IVORY, Decimal(30), on=TODAY, shelf="A2")
    put_in_stock(access, IVORY, Decimal(10), on=TODAY - timedelta(days=90), shelf="B1")
    moves = take_from_stock(access, IVORY, Decimal(15))
    assert [(m.shelf, m.change) for m in moves] == [("B1", -10), ("A2", -5)]
    assert [(lot.shelf, lot.quantity) for lot in stock_lots(access)] == [("A2", 25)]


def test_more_than_lies_there_is_refused_and_nothing_is_taken(access: Access) -> None:
    put_in_stock(access, IVORY, Decimal(10), on=TODAY)
    with pytest.raises(NotEnough, match="expected at most 10, which lie there, got 12"):
        take_from_stock(access, IVORY, Decimal(12))
    assert on_hand(access) == 10


def test_a_count_makes_moves_of_the_differences(access: Access) -> None:
    put_in_stock(access, IVORY, Decimal(50), on=TODAY, shelf="A2")
    put_in_stock(access, "tie/260", Decimal(20), on=TODAY, shelf="A5")
    changed = count_stock(access, {(IVORY, "A2"): Decimal(47), ("tie/260", "A5"): Decimal(20), ("tie/260", "B1"): Decimal(4)}, on=TODAY)  # fmt: skip
    assert changed == 2
    assert (on_hand(access), on_hand(access, "tie/260")) == (47, 24)
    assert access.rows(StockMove).filter(kind=Kind.COUNTED).count() == 2


def test_moving_a_shelf_keeps_the_age(access: Access) -> None:
    old = TODAY - timedelta(days=400)
    put_in_stock(access, IVORY, Decimal(10), on=old, shelf="A2")
    shift_stock(access, IVORY, Decimal(4), source="A2", to="B3")
    found = {lot.shelf: lot for lot in stock_lots(access)}
    assert (found["A2"].quantity, found["B3"].quantity) == (6, 4)
    assert found["B3"].aged_from == old
    assert found["B3"].is_old(TODAY, 365)
    assert not found["B3"].is_old(TODAY, 500)


def test_the_ledger_cannot_be_rewritten(access: Access) -> None:
    move = put_in_stock(access, IVORY, Decimal(10), on=TODAY)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        StockMove.objects.filter(pk=move.pk).update(change=99)


def test_free_is_what_no_job_has_asked_for(access: Access) -> None:
    put_in_stock(access, IVORY, Decimal(10), on=TODAY)
    access.add(Reservation, holder=a_holder(access, "One"), key=IVORY, label="x", quantity=12, needed_by=TODAY)  # fmt: skip
    held = holdings(access)[IVORY]
    assert (held.on_hand, held.reserved, held.free) == (10, 12, -2)


def test_twenty_hands_at_once_never_take_more_than_there_is(committed: None) -> None:
    access = a_stocked_access()
    put_in_stock(access, IVORY, Decimal(25), on=TODAY)

    def reach(_: int) -> bool:
        try:
            take_from_stock(access, IVORY, Decimal(3))
        except NotEnough:
            return False
        finally:
            connection.close()
        return True

    with ThreadPoolExecutor(20) as pool:
        got = sum(pool.map(reach, range(20)))
    assert got == 8
    assert on_hand(access) == 1


@given(st.decimals(0, 10**6, places=3))
def test_quantities_are_written_without_needless_zeros(number: Decimal) -> None:
    assert Decimal(plain_number(number)) == number
    assert "." not in plain_number(number) or not plain_number(number).endswith("0")


# --- pages ---


def press_in(page: str) -> str:
    return page.partition('name="form_key" value="')[2].partition('"')[0]


def test_a_move_by_hand_is_written_once(browser: Browser, access: Access) -> None:
    page = browser.get(reverse("pricing:stock")).content.decode()
    move = {
        "kind": "bought",
        "key": IVORY,
        "quantity": "40",
        "shelf": "A2",
        "form_key": press_in(page),
    }
    for _ in range(2):
        assert browser.post(reverse("pricing:stock-move"), move).status_code == 302
    assert on_hand(access) == 40
    page = browser.get(reverse("pricing:stock")).content.decode()
    assert supply_name(IVORY) in page
    assert IVORY not in page  # keys are for the machine


@pytest.mark.parametrize("who", ["owner", "crew"])
def test_a_move_by_hand_is_typed_by_the_names_that_the_page_offers(
    access: Access, who: str
) -> None:
    put_in_stock(access, IVORY, Decimal(5), on=TODAY)
    browser = signed_in(an_access(who, access.studio))
    page = browser.get(reverse("pricing:stock")).content.decode()
    offered = re.findall(r'<option value="([^"]+)"></option>', page)
    assert supply_name(IVORY) in offered
    assert "tie (modelling balloon, 260)" in offered
    assert "11 in balloon" not in offered  # of no colour: nothing of that kind lies on a shelf
    for said in offered:
        press = press_in(browser.get(reverse("pricing:stock")).content.decode())
        move = {"kind": "bought", "key": said.upper(), "quantity": "2", "form_key": press}
        assert browser.post(reverse("pricing:stock-move"), move).status_code == 302, said
    assert on_hand(access) == 7
    assert {supply_name(key) for key in holdings(access)} == set(offered)


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("key", "ivory", "Supply: expected one of the list, or a balloon"),
        ("key", "11 in balloon", "11 in balloon, ivory; got “11 in balloon”"),
        ("quantity", "-3", "expected more than 0, got -3"),
        ("quantity", "9", "expected at most 5, which lie there, got 9"),
    ],
)
def test_what_cannot_be_moved_is_told_and_nothing_typed_is_lost(
    browser: Browser, access: Access, field: str, value: str, says: str
) -> None:
    put_in_stock(access, IVORY, Decimal(5), on=TODAY)
    page = browser.get(reverse("pricing:stock")).content.decode()
    move = {
        "kind": "used",
        "key": IVORY,
        "quantity": "2",
        "why": "a test",
        "form_key": press_in(page),
    }
    answer = browser.post(reverse("pricing:stock-move"), {**move, field: value})
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert "a test" in answer.content.decode()
    assert on_hand(access) == 5


def count_of(page: HttpResponse, **counts: str) -> dict[str, str]:
    """A count sheet as it was opened, with what was typed on it by shelf."""
    shown = page.context["shown"]  # type: ignore[attr-defined]
    typed = {f"{shelf}|{IVORY}": text for shelf, text in counts.items()}
    return {"form_key": press_in(page.content.decode()), "shown": shown, **typed}


def test_the_count_sheet_is_walked_and_printed(browser: Browser, access: Access) -> None:
    put_in_stock(access, IVORY, Decimal(5), on=TODAY, shelf="A2")
    at = reverse("pricing:count")
    page = browser.get(at)
    wrong = browser.post(at, count_of(page, A2="lots"))
    assert wrong.status_code == 422
    assert "expected a count of 0 or more, got “lots”" in wrong.content.decode()
    assert 'value="lots"' in wrong.content.decode()
    browser.post(at, count_of(page, A2="4"))
    assert on_hand(access) == 4
    assert browser.get(reverse("pricing:count-pdf")).content.startswith(b"%PDF")


def test_a_line_that_moved_while_somebody_counted_is_told_and_nothing_is_put_right(
    browser: Browser, access: Access
) -> None:
    for shelf, many in (("A2", 100), ("B1", 20), ("C3", 7)):
        put_in_stock(access, IVORY, Decimal(many), on=TODAY, shelf=shelf)
    at = reverse("pricing:count")
    page = browser.get(at)
    take_from_stock(access, IVORY, Decimal(30), shelf="A2")
    take_from_stock(access, IVORY, Decimal(7), shelf="C3")
    told = browser.post(at, count_of(page, A2="100", B1="19", C3="6"))
    assert told.status_code == 409
    assert [(m.shelf, m.shown, m.now) for m in told.context["moved"]] == [
        ("A2", 100, 70),
        ("C3", 7, 0),
    ]
    for typed in ("100", "19", "6"):
        assert f'value="{typed}"' in told.content.decode()
    assert on_hand(access) == 90
    assert not access.rows(StockMove).filter(kind=Kind.COUNTED).exists()
    assert browser.post(at, count_of(told, A2="70", B1="19")).status_code == 302
    assert on_hand(access) == 89


def test_what_moved_on_other_lines_does_not_matter(browser: Browser, access: Access) -> None:
    for shelf in ("A2", "B1"):
        put_in_stock(access, IVORY, Decimal(20), on=TODAY, shelf=shelf)
    page = browser.get(reverse("pricing:count"))
    take_from_stock(access, IVORY, Decimal(5), shelf="A2")
    assert browser.post(reverse("pricing:count"), count_of(page, B1="19")).status_code == 302
    assert on_hand(access) == 34


@pytest.mark.parametrize("shown", ["", "100", '[["a"]]', '[["a", "b", "many"]]'])
def test_a_count_without_the_figures_of_its_sheet_is_refused(
    browser: Browser, access: Access, shown: str
) -> None:
    put_in_stock(access, IVORY, Decimal(5), on=TODAY, shelf="A2")
    sheet = {**count_of(browser.get(reverse("pricing:count")), A2="4"), "shown": shown}
    assert browser.post(reverse("pricing:count"), sheet).status_code == 400
    assert on_hand(access) == 5


def test_old_latex_is_told(browser: Browser, access: Access) -> None:
    put_in_stock(access, IVORY, Decimal(5), on=date.today() - timedelta(days=366), shelf="A2")  # noqa: DTZ011
    put_in_stock(access, "tie/260", Decimal(5), on=date(2020, 1, 1))
    page = browser.get(reverse("pricing:stock")).content.decode()
    assert "Past their age" in page
    assert "tie/260, since" not in page

"""Suppliers and packs: entered, corrected, searched, refused in a sentence."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from pricing.models import Pack, Reservation, Supplier, Supply
from pricing.stores.buy_plan import Wanted, demands, packs_for
from pricing.stores.csv_kind import CsvFault
from pricing.stores.csv_kinds import day_cell
from pricing.stores.forms import read_contents, write_contents
from pricing.stores.pages.packs import SHOWN
from pricing.stores.stock import (
    NotEnough,
    StockLot,
    StockMoved,
    count_stock,
    holdings,
    put_in_stock,
    shift_stock,
    stock_lots,
    take_from_stock,
)
from studio.access import Access
from tests.conftest import signed_in
from tests.factories import a_holder


@pytest.fixture
def depot(access: Access) -> Supplier:
    Pack.objects.all().delete()
    return access.add(Supplier, name="Depot", lead_days=4)


def a_pack(access: Access, supplier: Supplier, code: str, **facts: object) -> Pack:
    known = {
        "name": f"Pack {code}",
        "contents": {"balloon/11 in": 50},
        "price": Decimal(9),
        "valid_from": timezone.localdate(),
    }
    return access.add(Pack, supplier=supplier, code=code, **{**known, **facts})


def typed(depot: Supplier, **facts: str) -> dict[str, str]:
    return {
        "supplier": str(depot.pk), "code": "C-1", "name": "Ivory", "contents": "balloon/11 in/ivory = 50\nballoon/5 in = 20",
        "price": "9.50", "lead_days": "", "least": "1", "grade": "professional", "valid_from": "2026-06-01",
        "valid_until": "", "form_key": str(uuid4()), **facts,
    }  # fmt: skip


def test_a_supplier_is_entered_once_and_corrected(
    browser: Browser, access: Access, depot: Supplier
) -> None:
    facts = {
        "name": "Larch Yard",
        "mail": "l@example.com",
        "lead_days": "2",
        "delivery": "5",
        "minimum": "50",
    }
    press = str(uuid4())
    for _ in range(2):
        answer = browser.post(reverse("pricing:new-supplier"), {**facts, "form_key": press})
        assert answer.headers["Location"] == reverse("pricing:packs")
    row = Supplier.objects.get(name="Larch Yard")
    assert (row.mail, row.lead_days, row.delivery, row.minimum) == ("l@example.com", 2, 5, 50)
    at = reverse("pricing:supplier", args=[row.pk])
    assert "Larch Yard" in browser.get(at).content.decode()
    page = browser.post(
        at, {**facts, "lead_days": "3", "version": "1"}, follow=True
    ).content.decode()
    assert "Saved." in page
    assert browser.post(at, {**facts, "lead_days": "9", "version": "1"}).status_code == 409
    row.refresh_from_db()
    assert (row.lead_days, row.version) == (3, 2)


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("name", "Depot", "expected each name once, got “Depot” again"), ("delivery", "-0.01", "expected 0 or more, got -0.01"),
        ("minimum", "-1", "Least order: expected 0 or more, got -1"), ("name", "", "required"),
    ],
)  # fmt: skip
def test_a_supplier_that_cannot_be_gets_a_sentence(
    browser: Browser, depot: Supplier, field: str, value: str, says: str
) -> None:
    facts = {
        "name": "New",
        "mail": "",
        "lead_days": "2",
        "delivery": "0",
        "minimum": "0",
        "form_key": str(uuid4()),
    }
    answer = browser.post(reverse("pricing:new-supplier"), {**facts, field: value})
    assert (answer.status_code, says in answer.content.decode()) == (422, True)
    assert not Supplier.objects.filter(name="New").exists()


def test_its_own_name_is_not_taken(browser: Browser, depot: Supplier) -> None:
    facts = {
        "name": "Depot",
        "mail": "",
        "lead_days": "7",
        "delivery": "0",
        "minimum": "0",
        "version": "1",
    }
    assert browser.post(reverse("pricing:supplier", args=[depot.pk]), facts).status_code == 302


def test_a_pack_is_entered_once_and_corrected(browser: Browser, depot: Supplier) -> None:
    told = typed(depot)
    for _ in range(2):
        assert browser.post(reverse("pricing:new-pack"), told).headers["Location"] == reverse(
            "pricing:packs"
        )
    row = Pack.objects.get()
    assert row.contents == {"balloon/11 in/ivory": 50, "balloon/5 in": 20}
    assert (row.price, row.least, row.grade, row.lead_days, row.valid_until) == (
        Decimal("9.5"),
        1,
        "professional",
        None,
        None,
    )
    at = reverse("pricing:pack", args=[row.pk])
    page = browser.get(at).content.decode()
    for line in (
        "balloon/11 in/ivory = 50",
        "balloon/5 in = 20",
    ):  # a database keeps keys in its own order
        assert line in page
    told = {**told, "version": "1", "price": "8"}
    assert browser.post(at, told).status_code == 302  # its own code is not taken
    assert browser.post(at, told).status_code == 409
    row.refresh_from_db()
    assert (row.price, row.version) == (8, 2)


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ({"price": "0"}, "Price: expected more than 0, got 0"), ({"price": "-1"}, "expected more than 0"),
        ({"valid_until": "2026-05-31"}, "Price until: expected 2026-06-01 or later, got 2026-05-31"),
        ({"contents": "balloon/11 in"}, "expected a supply and a count"), ({"contents": "balloon = 5"}, "expected a supply and a count"),
        ({"contents": "balloon/11 in = 0"}, "expected a supply and a count"), ({"contents": "balloon/11 in = 12345678"}, "expected a supply and a count"),
        ({"contents": " ; "}, "expected at least one supply and its count, got nothing"),
        ({"contents": "a/b = 1; a/b = 2"}, "expected each supply once, got a/b again"),
        ({"code": "OLD"}, "expected each once from a day on, got “OLD” again"), ({"supplier": "0"}, "Select a valid choice"),
    ],
)  # fmt: skip
def test_a_pack_that_cannot_be_gets_a_sentence(
    browser: Browser, access: Access, depot: Supplier, facts: dict[str, str], says: str
) -> None:
    a_pack(access, depot, "OLD", valid_from="2026-06-01")
    answer = browser.post(reverse("pricing:new-pack"), typed(depot, **facts))
    assert (answer.status_code, says in answer.content.decode()) == (422, True)
    assert Pack.objects.count() == 1


@pytest.mark.parametrize("facts", [{"valid_until": "2026-06-01"}, {"code": "OLD", "valid_from": "2026-06-02"}, {"price": "0.01"}, {"contents": "a/b = 9999999"}])  # fmt: skip
def test_what_just_may_be_is_taken(
    browser: Browser, access: Access, depot: Supplier, facts: dict[str, str]
) -> None:
    a_pack(access, depot, "OLD", valid_from="2026-06-01")
    assert browser.post(reverse("pricing:new-pack"), typed(depot, **facts)).status_code == 302


def test_contents_are_written_as_they_are_read() -> None:
    held = {"balloon/11 in/ivory": 50, "balloon/5 in": 20}
    assert read_contents(write_contents(held, "; ")) == held
    assert write_contents({}) == ""


def test_packs_are_searched_by_name_and_code_and_shown_up_to_a_page(
    browser: Browser, access: Access, depot: Supplier
) -> None:
    a_pack(access, depot, "A-1", name="Ivory")
    a_pack(access, depot, "B-2", name="Plum")
    at = reverse("pricing:packs")
    assert [p.code for p in browser.get(at).context["packs"]] == ["A-1", "B-2"]
    assert [p.code for p in browser.get(at, {"q": "plu"}).context["packs"]] == ["B-2"]
    part = browser.get(at, {"q": " a-1 "}, headers={"HX-Request": "true"})
    assert "Ivory" in part.content.decode()
    assert "<html" not in part.content.decode()
    assert browser.get(at).context["more"] is False
    for i in range(SHOWN - 2):
        a_pack(access, depot, f"X{i:03d}")
    assert browser.get(at).context["more"] is False
    a_pack(access, depot, "Z")
    shown = browser.get(at).context
    assert (shown["more"], len(shown["packs"])) == (True, SHOWN)


def test_another_studios_supplier_and_pack_are_none(
    stranger: Access, access: Access, depot: Supplier
) -> None:
    row = a_pack(access, depot, "A")
    hands = signed_in(stranger)
    assert hands.get(reverse("pricing:supplier", args=[depot.pk])).status_code == 404
    assert hands.get(reverse("pricing:pack", args=[row.pk])).status_code == 404
    assert row.pk not in [p.pk for p in hands.get(reverse("pricing:packs")).context["packs"]]


def test_rows_say_their_names(access: Access, depot: Supplier) -> None:
    assert str(depot) == "Depot"
    supply = Supply(key="balloon/11 in", name="11 in balloon")
    assert (str(supply), supply.group) == ("11 in balloon", "balloon")


# Shelves


KEY = "balloon/11 in/ivory"


def test_the_last_piece_can_be_taken_and_not_one_more(access: Access) -> None:
    today = timezone.localdate()
    put_in_stock(access, KEY, Decimal(5), on=today - timedelta(days=2), shelf="A")
    put_in_stock(access, KEY, Decimal(3), on=today - timedelta(days=9), shelf="B")
    with pytest.raises(NotEnough, match=r"expected at most 8, which lie there, got 8\.5"):
        take_from_stock(access, KEY, Decimal("8.5"))
    with pytest.raises(NotEnough, match="expected at most 5"):
        take_from_stock(access, KEY, Decimal(6), shelf="A")
    for wrong in (Decimal(0), Decimal(-1)):
        with pytest.raises(ValueError, match="expected more than 0"):
            take_from_stock(access, KEY, wrong)
        with pytest.raises(ValueError, match="expected more than 0"):
            put_in_stock(access, KEY, wrong, on=today)
    moves = take_from_stock(access, KEY, Decimal(4))
    assert [(m.shelf, m.change) for m in moves] == [("B", -3), ("A", -1)]  # the oldest first
    assert [(lot.shelf, lot.quantity) for lot in stock_lots(access)] == [("A", 4)]
    shift_stock(access, KEY, Decimal(4), source="A", to="C")
    (lot,) = stock_lots(access)
    assert (lot.shelf, lot.quantity, lot.aged_from) == ("C", 4, today - timedelta(days=2))
    take_from_stock(access, KEY, Decimal(4), shelf="C")
    assert (stock_lots(access), holdings(access)) == ([], {})


def test_a_count_makes_moves_of_what_differs_and_no_other(access: Access) -> None:
    today = timezone.localdate()
    put_in_stock(access, KEY, Decimal(5), on=today, shelf="A")
    place = (KEY, "A")
    assert count_stock(access, {place: Decimal(5)}, on=today) == 0
    assert count_stock(access, {place: Decimal(6), (KEY, "B"): Decimal(0)}, on=today) == 1
    assert count_stock(access, {place: Decimal(4)}, on=today, shown={place: Decimal(6)}) == 1
    with pytest.raises(StockMoved):
        count_stock(access, {place: Decimal(9)}, on=today, shown={place: Decimal(6)})
    assert (
        count_stock(access, {(KEY, "B"): Decimal(1)}, on=today, shown={place: Decimal(99)}) == 1
    )  # of other lines
    with pytest.raises(ValueError, match="expected 0 or more, got -1"):
        count_stock(access, {place: Decimal(-1)}, on=today)
    assert holdings(access)[KEY].on_hand == 5


@pytest.mark.parametrize(("days", "old"), [(365, False), (366, True)])
def test_latex_is_old_the_day_after_its_keeping(days: int, old: bool) -> None:
    today = timezone.localdate()
    lot = StockLot(key=KEY, shelf="", aged_from=today - timedelta(days=days), quantity=Decimal(1))
    assert lot.is_old(today, 365) is old
    ribbon = StockLot(
        key="ribbon/plum", shelf="", aged_from=today - timedelta(days=999), quantity=Decimal(1)
    )
    assert ribbon.is_old(today, 365) is False


def test_a_second_press_of_a_new_supply_or_person_leads_where_the_first_one_led(
    browser: Browser,
) -> None:
    price = {
        "price-pack_price": "12",
        "price-pack_count": "10",
        "price-valid_from": timezone.localdate().isoformat(),
    }
    supply = {
        "key": "ribbon/plum",
        "name": "plum",
        "use": "consumable",
        "unit": "m",
        "shelf": "",
        **price,
    }
    person = {"name": "N", "mail": "n@example.com", "role": "crew", "password": "glue-on-fingers-8"}
    for name, facts in (("pricing:new-supply", supply), ("studio:people", person)):
        told = {**facts, "form_key": str(uuid4())}
        first, second = (browser.post(reverse(name), told) for _ in range(2))
        assert (first.status_code, second.status_code) == (302, 302), name
        assert first.headers["Location"] == second.headers["Location"]
        assert browser.post(reverse(name), {**told, "form_key": str(uuid4())}).status_code == 422
    assert (
        browser.post(reverse("pricing:new-supply"), {**supply, "form_key": "x"}).status_code == 400
    )


def test_a_day_of_a_sheet_is_read_where_there_is_one_and_asked_for_where_it_is_needed() -> None:
    for needed in (True, False):
        assert day_cell({"d": "2026-03-01"}, "d", needed=needed) == date(2026, 3, 1)
    assert day_cell({"d": ""}, "d", needed=False) is None
    assert day_cell({}, "d", needed=False) is None
    with pytest.raises(CsvFault, match="expected a day such as 2026-03-01, got “”"):
        day_cell({}, "d", needed=True)


def test_a_mixed_kit_is_a_pack_for_whoever_wants_some_of_it(
    access: Access, depot: Supplier
) -> None:
    on = timezone.localdate()
    a_pack(access, depot, "M", contents={"balloon/11 in/ivory": 10, "balloon/5 in/plum": 20})
    assert len(packs_for(access, ["balloon/5 in/plum"], on=on)) == 1
    assert packs_for(access, ["balloon/5 in/teal"], on=on) == []
    a_pack(access, depot, "P", grade="professional")
    (plain,) = packs_for(access, ["balloon/11 in/teal"], on=on)
    assert plain.contents == {"balloon/11 in/teal": 50}
    assert (
        packs_for(access, ["balloon/11 in/teal/party grade"], on=on) == []
    )  # dearer than what is asked for


def test_packs_come_in_one_order_whatever_the_order_of_keys(
    access: Access, depot: Supplier
) -> None:
    """The keys are a set, which each process walks in an order of its own; equal plans must come out equal."""
    for code in ("B", "A"):
        a_pack(access, depot, code)
    keys = [f"balloon/11 in/{colour}" for colour in ("teal", "ivory", "plum")]
    found = [packs_for(access, some, on=timezone.localdate()) for some in (keys, keys[::-1])]
    assert found[0] == found[1]
    assert len(found[0]) == 6


def test_what_is_wanted_is_summed_by_day_then_by_key(access: Access) -> None:
    first, second = (timezone.localdate() + timedelta(days=n) for n in (1, 2))
    for name, key, many, on in (
        ("job:1", "b/x", "2.5", second), ("job:1", "b/y", "1", first), ("job:2", "b/x", "0.6", second), ("job:2", "a/z", "4", second),
    ):  # fmt: skip
        access.add(
            Reservation,
            holder=a_holder(access, name),
            key=key,
            label="l",
            unit="m",
            quantity=Decimal(many),
            needed_by=on,
        )

    def asked(**facts: object) -> list[tuple[str, int]]:
        return [(d.key, d.quantity) for d in demands(access, Wanted(**facts))]

    assert asked() == [("b/y", 1), ("a/z", 4), ("b/x", 4)]  # 3.1 m are four whole metres
    assert asked(until=first) == [("b/y", 1)]
    assert asked(holders=(a_holder(access, "job:2").pk,)) == [("a/z", 4), ("b/x", 1)]

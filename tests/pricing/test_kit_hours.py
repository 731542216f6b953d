"""Kit at the edges: spans that touch, days and hours at which a thing is due, what is late when."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.test import Client as Browser
from django.urls import reverse
from django.utils.timezone import now

from pricing.models import KitBooking, KitItem, KitNote
from pricing.stores.kit import (
    KitClash,
    KitSpan,
    book_items,
    bookings_in,
    check_in,
    due_for_service,
    free_items,
    late_kit,
    promised_away,
    release_kit,
)
from studio.access import Access
from tests.factories import a_holder

NOON = datetime(2031, 6, 1, 12, tzinfo=UTC)
TODAY = date(2026, 6, 1)
HOUR = timedelta(hours=1)


@pytest.fixture
def pump(access: Access) -> KitItem:
    return access.add(
        KitItem, key="tool/pump", name="pump", hours=Decimal("1.5"), service_hours=Decimal(50)
    )


@pytest.fixture
def ring(access: Access) -> KitItem:
    return access.add(KitItem, key="frame/ring", name="ring")


def at(first: int, last: int) -> KitSpan:
    return KitSpan(out_from=NOON + first * HOUR, back_until=NOON + last * HOUR)


# Kit's hours


@pytest.mark.parametrize(
    ("typed", "hours"), [("2.5", "4.0"), ("0", "1.5"), ("", "1.5"), ("500", "501.5")]
)
def test_hours_that_it_ran_are_added(
    browser: Browser, access: Access, pump: KitItem, typed: str, hours: str
) -> None:
    (booking,) = book_items(access, a_holder(access, "One"), [("tool/pump", 1)], at(0, 1))
    facts = {"kind": "condition", "what": "", "hours": typed}
    browser.post(reverse("pricing:kit-back", args=[booking.pk]), facts)
    pump.refresh_from_db()
    assert pump.hours == Decimal(hours)
    assert pump.condition == ""
    assert not KitNote.objects.exists()  # nothing was found: nothing is noted


@pytest.mark.parametrize("typed", ["-0.1", "500.1", "many"])
def test_hours_that_cannot_be_are_refused_and_it_is_still_out(
    browser: Browser, access: Access, pump: KitItem, typed: str
) -> None:
    (booking,) = book_items(access, a_holder(access, "One"), [("tool/pump", 1)], at(0, 1))
    facts = {"kind": "condition", "what": "", "hours": typed}
    answer = browser.post(reverse("pricing:kit-back", args=[booking.pk]), facts)
    assert answer.status_code == 422
    pump.refresh_from_db()
    booking.refresh_from_db()
    assert (pump.hours, booking.returned_at) == (Decimal("1.5"), None)


@pytest.mark.parametrize(("hours", "due"), [("49.9", False), ("50", True), ("50.1", True)])
def test_it_is_looked_over_once_its_hours_have_run(
    browser: Browser, access: Access, pump: KitItem, hours: str, due: bool
) -> None:
    KitItem.objects.update(hours=Decimal(hours))
    assert due_for_service(access, TODAY) == [pump] * due
    assert (pump in browser.get(reverse("pricing:kit")).context["due"]) is due


@pytest.mark.parametrize(("days", "due"), [(-1, True), (0, True), (1, False)])
def test_it_is_looked_over_on_its_day(access: Access, ring: KitItem, days: int, due: bool) -> None:
    KitItem.objects.filter(pk=ring.pk).update(service_on=TODAY + timedelta(days=days))
    assert due_for_service(access, TODAY) == [ring] * due


def test_what_is_out_of_use_or_has_no_limit_is_not_looked_over(
    access: Access, pump: KitItem, ring: KitItem
) -> None:
    KitItem.objects.filter(pk=ring.pk).update(hours=900)
    KitItem.objects.filter(pk=pump.pk).update(hours=900, out_of_use=True)
    assert due_for_service(access, TODAY) == []


# Spans


@pytest.mark.parametrize(
    ("span", "busy"),
    [(at(-2, 0), False), (at(-2, 1), True), (at(0, 1), True), (at(1, 2), True), (at(2, 3), False), (at(-1, 4), True)],
)  # fmt: skip
def test_spans_that_only_touch_do_not_clash(
    access: Access, ring: KitItem, span: KitSpan, busy: bool
) -> None:
    book_items(access, a_holder(access, "One"), [("frame/ring", 1)], at(0, 2))
    assert bookings_in(access, span).exists() is busy
    assert ("frame/ring" not in free_items(access, span)) is busy
    if busy:
        with pytest.raises(KitClash):
            book_items(access, a_holder(access, "Two"), [("frame/ring", 1)], span)
    else:
        book_items(access, a_holder(access, "Two"), [("frame/ring", 1)], span)


def test_two_of_three_leave_one(access: Access, ring: KitItem) -> None:
    for mark in ("b", "c"):
        access.add(KitItem, key="frame/ring", name="ring", mark=mark)
    held = book_items(access, a_holder(access, "One"), [("frame/ring", 2)], at(0, 2))
    assert [str(b.item) for b in held] == ["ring", "ring b"]
    with pytest.raises(KitClash) as clash:
        book_items(access, a_holder(access, "Two"), [("frame/ring", 2)], at(1, 3))
    assert (clash.value.clashes[0].wanted, clash.value.clashes[0].free) == (2, 1)
    assert [
        str(b.item)
        for b in book_items(access, a_holder(access, "Two"), [("frame/ring", 1)], at(1, 3))
    ] == ["ring c"]


def test_who_keeps_fewer_than_are_wanted_hires_the_rest(access: Access, ring: KitItem) -> None:
    wanted = [("frame/ring", 3), ("frame/arch", 1)]
    assert promised_away(access, a_holder(access, "One"), wanted, at(0, 2)) == []
    book_items(access, a_holder(access, "One"), [("frame/ring", 1)], at(0, 2))
    assert (
        promised_away(access, a_holder(access, "One"), wanted, at(0, 2)) == []
    )  # it does not stand in its own way
    (clash,) = promised_away(access, a_holder(access, "job:2"), wanted, at(1, 3))
    assert (clash.key, clash.wanted, clash.free, clash.held_by) == ("frame/ring", 3, 0, ("One",))
    release_kit(access, a_holder(access, "One"))
    assert promised_away(access, a_holder(access, "job:2"), wanted, at(1, 3)) == []


def test_tools_stand_in_for_their_own_kind_alone(access: Access, pump: KitItem) -> None:
    book_items(access, a_holder(access, "One"), [("tool/pump", 1)], at(0, 2))
    access.add(KitItem, key="tool/ladder", name="ladder")
    (clash,) = promised_away(access, a_holder(access, "job:2"), [("tool/pump", 1)], at(0, 2))
    assert clash.instead == ()
    access.add(KitItem, key="tool/pump/small", name="small pump")
    (clash,) = promised_away(access, a_holder(access, "job:2"), [("tool/pump", 1)], at(0, 2))
    assert clash.instead == ("small pump",)
    assert clash.sentence == "pump: 1 wanted, 0 free; promised to One. Free instead: small pump."


def test_four_at_most_are_named_instead(access: Access, ring: KitItem) -> None:
    for name in "abcde":
        access.add(KitItem, key=f"frame/{name}", name=name)
    with pytest.raises(KitClash) as clash:
        book_items(access, a_holder(access, "One"), [("frame/ring", 2)], at(0, 2))
    assert clash.value.clashes[0].instead == ("a", "b", "c", "d")
    assert "promised to nobody: there are no more." in str(clash.value)


def test_what_came_back_is_free_at_once_and_what_is_off_stays_on_record(
    access: Access, ring: KitItem
) -> None:
    (booking,) = book_items(access, a_holder(access, "One"), [("frame/ring", 1)], at(0, 2))
    check_in(access, booking, at=NOON, kind=KitNote.Kind.CONDITION, what="")
    assert "frame/ring" in free_items(access, at(0, 2))
    release_kit(access, a_holder(access, "One"))  # what came back is kept on record
    assert KitBooking.objects.get().returned_at == NOON


# What came back how


@pytest.mark.parametrize(
    ("kind", "what", "noted", "out"),
    [
        ("condition", "", None, False), ("condition", "scratched", "scratched", False),
        ("charged", "", "broken", True), ("charged", "bent", "bent", True),
        ("spoiled", "", "broken", True), ("spoiled", "torn", "torn", True),
    ],
)  # fmt: skip
def test_what_was_found_is_noted_and_what_broke_is_out_of_use(
    access: Access, ring: KitItem, kind: str, what: str, noted: str | None, out: bool
) -> None:
    (booking,) = book_items(access, a_holder(access, "One"), [("frame/ring", 1)], at(0, 2))
    check_in(access, booking, at=NOON, kind=kind, what=what, amount=Decimal(9))
    ring.refresh_from_db()
    assert (ring.out_of_use, ring.condition) == (out, noted or "")
    note = KitNote.objects.first()
    assert (note.what if note else None) == noted
    assert ring.version == (2 if noted else 1)
    if note:
        assert (note.who, note.holder) == (access.person, a_holder(access, "One"))
        assert note.amount == (9 if kind == "charged" else None)


def test_long_words_are_cut_to_their_columns(access: Access, ring: KitItem) -> None:
    (booking,) = book_items(access, a_holder(access, "One"), [("frame/ring", 1)], at(0, 2))
    check_in(access, booking, at=NOON, kind=KitNote.Kind.CONDITION, what="x" * 400)
    ring.refresh_from_db()
    assert (len(ring.condition), len(KitNote.objects.get().what)) == (200, 300)


# Late


def test_late_is_from_the_moment_it_should_be_back(access: Access, ring: KitItem) -> None:
    early = KitSpan(out_from=now() - 3 * HOUR, back_until=now() + HOUR)
    (booking,) = book_items(access, a_holder(access, "One"), [("frame/ring", 1)], early)
    assert late_kit(access) == []
    assert not booking.is_late
    assert booking.held_by == "One"
    KitBooking.objects.update(back_until=now())
    booking.refresh_from_db()
    (found,) = late_kit(access)
    assert (found.booking, found.then) == (booking, None)
    assert booking.is_late
    assert booking.held_by.startswith("One (still out, due back ")
    booking.returned_at = now()
    assert not booking.is_late


def test_the_longest_late_comes_first_and_the_next_in_line_is_named(access: Access) -> None:
    rows = []
    for i, hours in enumerate((2, 5)):
        item = access.add(KitItem, key="frame/ring", name=f"ring {i}")
        for later in (40, 20):  # promised before it was late
            span = KitSpan(out_from=now() + later * HOUR, back_until=now() + (later + 1) * HOUR)
            access.add(KitBooking, item=item, holder=a_holder(access, f"in {later}"), out_from=span.out_from, back_until=span.back_until)  # fmt: skip
        rows.append(access.add(KitBooking, item=item, holder=a_holder(access, "out"), out_from=now() - 9 * HOUR, back_until=now() - hours * HOUR))  # fmt: skip
    found = late_kit(access)
    assert [late.booking for late in found] == [rows[1], rows[0]]
    assert [late.then.holder.title for late in found if late.then] == ["in 20", "in 20"]


# Pages


def test_things_made_alike_are_told_apart(browser: Browser, access: Access) -> None:
    at_ = reverse("pricing:new-kit")

    def make(copies: str, mark: str) -> None:
        press = (
            browser.get(at_)
            .content.decode()
            .partition('name="form_key" value="')[2]
            .partition('"')[0]
        )
        facts = {"name": "weight", "key": "weight/ballast", "hours": "0", "mark": mark}
        assert browser.post(at_, {**facts, "copies": copies, "form_key": press}).status_code == 302

    make("1", "old")
    make("", "")
    make("2", "red")
    marks = KitItem.objects.order_by("pk").values_list("mark", flat=True)
    assert list(marks) == ["old", "", "red no. 1", "red no. 2"]


def test_a_thing_is_corrected_and_a_stale_save_is_told(
    browser: Browser, access: Access, ring: KitItem
) -> None:
    at_ = reverse("pricing:kit-item", args=[ring.pk])
    assert 'name="copies"' not in browser.get(at_).content.decode()
    facts = {"name": "big ring", "key": "frame/ring", "hours": "0", "version": "1"}
    assert browser.post(at_, facts).headers["Location"] == reverse("pricing:kit")
    assert browser.post(at_, {**facts, "name": "small ring"}).status_code == 409
    ring.refresh_from_db()
    assert (ring.name, ring.version) == ("big ring", 2)
    assert browser.post(at_, {**facts, "version": "2", "key": "ring"}).status_code == 422


def test_a_thing_that_is_back_is_not_checked_in_again(
    browser: Browser, access: Access, ring: KitItem
) -> None:
    (booking,) = book_items(access, a_holder(access, "One"), [("frame/ring", 1)], at(0, 2))
    back = reverse("pricing:kit-back", args=[booking.pk])
    assert (
        "ring is back." in browser.post(back, {"kind": "condition"}, follow=True).content.decode()
    )
    again = browser.post(back, {"kind": "condition", "what": "bent"}, follow=True).content.decode()
    assert "ring is back." not in again
    assert not KitNote.objects.exists()

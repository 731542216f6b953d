"""The hire kit: nothing is promised twice, held by the database itself."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client as Browser
from django.urls import reverse
from django.utils.timezone import now

from pricing.models import Holder, KitBooking, KitItem, KitNote
from pricing.stores.kit import (
    KitAsk,
    KitChoice,
    KitClash,
    KitSpan,
    book_items,
    book_what_is_free,
    charge_note,
    check_in,
    due_for_service,
    free_items,
    kit_charges,
    late_kit,
    promised_away,
)
from pricing.stores.kit_guard import is_clash, stand_guard
from pricing.stores.kit_lacks import kit_lacks, would_lack
from studio.access import Access
from tests.conftest import signed_in
from tests.factories import a_holder, a_stocked_access

NOON = datetime(2026, 6, 1, 12, tzinfo=UTC)


def span(day: int, days: int = 1) -> KitSpan:
    return KitSpan(
        out_from=NOON + timedelta(days=day), back_until=NOON + timedelta(days=day + days)
    )


@pytest.fixture
def ring(access: Access) -> KitItem:
    return access.add(KitItem, key="frame/ring", name="ring frame", mark="no. 1")


def test_the_same_ring_is_not_promised_to_two_jobs(access: Access, ring: KitItem) -> None:
    access.add(KitItem, key="frame/arch", name="arch frame")
    book_items(access, a_holder(access, "0001 Wedding"), [("frame/ring", 1)], span(0))
    with pytest.raises(KitClash) as clash:
        book_items(access, a_holder(access, "0002 Party"), [("frame/ring", 1)], span(0))
    assert "promised to 0001 Wedding" in str(clash.value)
    assert "Free instead: arch frame" in str(clash.value)
    assert access.rows(KitBooking).count() == 1


def test_one_after_the_other_they_both_have_it(access: Access, ring: KitItem) -> None:
    book_items(access, a_holder(access, "One"), [("frame/ring", 1)], span(0))
    book_items(access, a_holder(access, "Two"), [("frame/ring", 1)], span(1))
    assert access.rows(KitBooking).count() == 2


def test_booking_again_takes_the_place_of_what_was_booked(access: Access, ring: KitItem) -> None:
    for day in (0, 0, 5):
        book_items(access, a_holder(access, "One"), [("frame/ring", 1)], span(day))
    assert access.rows(KitBooking).get().out_from == NOON + timedelta(days=5)


def test_a_clash_changes_nothing_of_what_a_job_has(access: Access, ring: KitItem) -> None:
    book_items(access, a_holder(access, "One"), [("frame/ring", 1)], span(0))
    with pytest.raises(KitClash):
        book_items(access, a_holder(access, "One"), [("frame/ring", 2)], span(3))
    assert access.rows(KitBooking).get().out_from == NOON


def test_the_database_itself_refuses_an_overlap(access: Access, ring: KitItem) -> None:
    facts = {"item": ring, "out_from": NOON, "back_until": NOON + timedelta(days=2)}
    first = access.add(KitBooking, holder=a_holder(access, "job:1"), **facts)
    later = {**facts, "out_from": NOON + timedelta(days=1), "back_until": NOON + timedelta(days=3)}
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        access.add(KitBooking, holder=a_holder(access, "job:2"), **later)
    assert is_clash(refused.value)
    touching = {
        **facts,
        "out_from": NOON + timedelta(days=2),
        "back_until": NOON + timedelta(days=3),
    }
    second = access.add(KitBooking, holder=a_holder(access, "job:3"), **touching)
    with pytest.raises(IntegrityError), transaction.atomic():
        KitBooking.objects.filter(pk=second.pk).update(out_from=NOON + timedelta(days=1))
    KitBooking.objects.filter(pk=first.pk).update(returned_at=NOON)
    access.add(
        KitBooking,
        holder=a_holder(access, "job:2"),
        **{**later, "back_until": NOON + timedelta(days=2)},
    )


def test_ten_jobs_race_for_three_rings_and_three_get_one(committed: None) -> None:
    access = a_stocked_access()
    for mark in "abc":
        access.add(KitItem, key="frame/ring", name="ring frame", mark=mark)

    def grab(number: int) -> bool:
        try:
            book_items(access, a_holder(access, f"Job {number}"), [("frame/ring", 1)], span(0))
        except KitClash:
            return False
        finally:
            connection.close()
        return True

    with ThreadPoolExecutor(10) as pool:
        got = sum(pool.map(grab, range(10)))
    assert got == 3
    assert KitBooking.objects.values("item").distinct().count() == KitBooking.objects.count() == 3


def test_two_who_go_round_the_lock_are_stopped_by_the_database(committed: None) -> None:
    access = a_stocked_access()
    ring = access.add(KitItem, key="frame/ring", name="ring frame")

    def write(number: int) -> bool:
        try:
            access.add(
                KitBooking, item=ring, holder=a_holder(access, f"job:{number}"), out_from=NOON,
                back_until=NOON + timedelta(days=1),
            )  # fmt: skip
        except IntegrityError:
            return False
        finally:
            connection.close()
        return True

    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(write, range(8))) == 1


@pytest.fixture
def late(access: Access, ring: KitItem) -> KitBooking:
    """A ring that should have been back yesterday."""
    (booking,) = book_items(
        access, a_holder(access, "0001 Wedding"), [("frame/ring", 1)], from_now(-5, -1)
    )
    return booking


def from_now(out: float, back: float) -> KitSpan:
    return KitSpan(out_from=now() + timedelta(days=out), back_until=now() + timedelta(days=back))


@pytest.mark.parametrize("wanted", [(-0.5, 1), (0.01, 1), (6.9, 31)])
def test_what_is_late_is_nobody_elses_until_it_is_checked_in(
    access: Access, late: KitBooking, wanted: tuple[float, float]
) -> None:
    with pytest.raises(KitClash, match="promised to 0001 Wedding") as clash:
        book_items(access, a_holder(access, "0002 Party"), [("frame/ring", 1)], from_now(*wanted))
    assert "still out, due back" in str(clash.value)
    assert "frame/ring" not in free_items(access, from_now(*wanted))
    assert promised_away(
        access, a_holder(access, "0002 Party"), [("frame/ring", 1)], from_now(*wanted)
    )
    assert not promised_away(
        access, a_holder(access, "0001 Wedding"), [("frame/ring", 1)], from_now(*wanted)
    )
    check_in(access, late, at=now(), kind=KitNote.Kind.CONDITION, what="")
    assert (
        len(
            book_items(
                access, a_holder(access, "0002 Party"), [("frame/ring", 1)], from_now(*wanted)
            )
        )
        == 1
    )


def test_the_database_itself_refuses_what_is_late(access: Access, late: KitBooking) -> None:
    facts = {"item": late.item, "holder": a_holder(access, "job:2")}
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        access.add(KitBooking, **facts, **asdict(from_now(3, 4)))
    assert is_clash(refused.value)
    past = access.add(KitBooking, **facts, **asdict(from_now(-9, -8)))  # over before: no harm
    with pytest.raises(IntegrityError), transaction.atomic():
        KitBooking.objects.filter(pk=past.pk).update(**asdict(from_now(3, 4)))
    KitBooking.objects.filter(pk=past.pk).update(holder=a_holder(access, "y"))
    KitBooking.objects.filter(pk=past.pk).update(returned_at=now())
    longer = from_now(0, 1).back_until
    KitBooking.objects.filter(pk=late.pk).update(back_until=longer)  # not late any more
    KitBooking.objects.filter(pk=late.pk).update(returned_at=now())
    access.add(KitBooking, **facts, **asdict(from_now(3, 4)))


def test_late_kit_stops_no_job_beyond_the_days_that_the_studio_sets(
    access: Access, late: KitBooking
) -> None:
    wanted = [("frame/ring", 1)]
    (far,) = book_items(access, a_holder(access, "0002 Party"), wanted, from_now(7.1, 9))
    assert far.item == late.item
    (told,) = kit_lacks(access, [a_holder(access, "0002 Party").pk])
    assert not told.is_stop
    assert told.sentence.startswith("ring frame no. 1: with 0001 Wedding (still out, due back")
    access.studio.late_kit_days = 30
    with pytest.raises(KitClash):
        book_items(access, a_holder(access, "0002 Party"), wanted, from_now(7.2, 9))
    access.studio.late_kit_days = 0
    book_items(access, a_holder(access, "0002 Party"), wanted, from_now(1, 2))
    assert KitBooking.objects.get(holder=a_holder(access, "0002 Party")).late_days == 0


def test_what_would_be_given_is_told_late_unless_the_job_has_it_itself(
    access: Access, late: KitBooking
) -> None:
    mine, other = late.holder, a_holder(access, "0002 Party")
    choice = KitChoice(items=((KitAsk("frame/ring", 1), late.item),), clashes=())
    (told,) = would_lack(access, other, choice)
    assert told.weight == "care"
    assert told.sentence.startswith("ring frame no. 1: with 0001 Wedding (still out")
    assert would_lack(access, mine, choice) == []


def test_what_is_free_of_an_order_is_booked_and_the_rest_is_told(
    access: Access, ring: KitItem
) -> None:
    for mark in "ab":
        access.add(KitItem, key="weight/ballast", name="weight", mark=mark)
    wanted = [("frame/ring", 2), ("weight/ballast", 2), ("frame/rail", 1)]
    clashes = book_what_is_free(access, a_holder(access, "One"), wanted, span(0))
    assert [(clash.key, clash.wanted, clash.free) for clash in clashes] == [
        ("frame/ring", 2, 1), ("frame/rail", 1, 0),
    ]  # fmt: skip
    assert access.rows(KitBooking).filter(holder=a_holder(access, "One")).count() == 3
    # Nothing of the rail is in the kit: it is hired, and nobody is told.
    assert [
        (lack.is_stop, lack.sentence.split(":")[0])
        for lack in kit_lacks(access, [a_holder(access, "One").pk])
    ] == [(True, "ring frame")]
    assert kit_lacks(access, [a_holder(access, "job:2").pk]) == []


def test_the_guard_of_an_earlier_landing_is_replaced(access: Access, late: KitBooking) -> None:
    """Before, late kit stopped every job to come, however far."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("DROP TRIGGER kit_late_insert")
            cursor.execute(
                "CREATE TRIGGER kit_late_insert BEFORE INSERT ON pricing_kitbooking "
                "BEGIN SELECT RAISE(ABORT, 'kit_never_twice'); END"
            )
    else:
        with connection.cursor() as cursor:
            cursor.execute(
                "CREATE OR REPLACE FUNCTION archwright_kit_late() RETURNS trigger AS $$ BEGIN "
                "RAISE EXCEPTION 'kit_never_twice' USING ERRCODE = 'exclusion_violation'; END; $$ LANGUAGE plpgsql"
            )
    facts = {"item": late.item, "holder": a_holder(access, "job:2")}
    with pytest.raises(IntegrityError), transaction.atomic():
        access.add(KitBooking, **facts, **asdict(from_now(20, 21)))
    stand_guard()
    access.add(KitBooking, **facts, **asdict(from_now(20, 21)))
    with pytest.raises(IntegrityError), transaction.atomic():
        access.add(KitBooking, **facts, **asdict(from_now(2, 3)))
    access.add(KitBooking, **facts, **asdict(from_now(2, 3)), late_days=1)


@pytest.mark.parametrize(
    ("name", "sizes_m", "says"),
    [
        ("ring frame, 2.3 m", (2.286,), ""),
        ("ring frame 7' 6\"", (2.286,), ""),
        ("ring frame 7.5 ft", (2.286,), ""),
        ("ring frame, 180 cm", (2.286,), "It is another size."),
        ("ring frame", (2.286,), "its size is not in its name"),
        ("ring frame", (), ""),
    ],
)
def test_a_ring_of_one_size_does_not_stand_in_without_a_word(
    access: Access, name: str, sizes_m: tuple[float, ...], says: str
) -> None:
    access.add(KitItem, key="frame/ring", name=name)
    book_what_is_free(access, a_holder(access, "One"), [KitAsk("frame/ring", 1, sizes_m)], span(0))
    told = " ".join(lack.sentence for lack in kit_lacks(access, [a_holder(access, "One").pk]))
    assert says in told if says else told == ""
    if says:
        assert "7' 6\"" in told  # 2.286 m, exactly


def test_the_ring_of_the_size_that_is_asked_is_taken_first(access: Access) -> None:
    for name in ("ring, 1.8 m", "ring, no size", "ring, 2.3 m"):
        access.add(KitItem, key="frame/ring", name=name)
    wanted = [KitAsk("frame/ring", 1, (2.286,)), KitAsk("frame/ring", 1, (1.8,))]
    booked = book_items(access, a_holder(access, "One"), wanted, span(0))
    assert [booking.item.name for booking in booked] == ["ring, 2.3 m", "ring, 1.8 m"]


def test_what_was_promised_before_it_was_late_stands_and_is_told(
    browser: Browser, access: Access, ring: KitItem
) -> None:
    book_items(access, a_holder(access, "0002 Party"), [("frame/ring", 1)], from_now(2, 3))
    (first,) = book_items(
        access, a_holder(access, "0001 Wedding"), [("frame/ring", 1)], from_now(0.5, 1)
    )
    KitBooking.objects.filter(pk=first.pk).update(**asdict(from_now(-2, -1)))  # time goes by
    (found,) = late_kit(access)
    assert (found.booking, found.then and found.then.holder.title) == (first, "0002 Party")
    Holder.objects.filter(title="0002 Party").update(title="0002 Feast")
    page = browser.get(reverse("jobs:today")).content.decode()
    assert "Kit that is late" in page
    assert "0002 Feast gets it" in page
    assert browser.get(reverse("pricing:kit")).content.decode().count('class="late"') == 1
    check_in(access, first, at=now(), kind=KitNote.Kind.CONDITION, what="")
    assert "Kit that is late" not in browser.get(reverse("jobs:today")).content.decode()


def test_nobody_who_goes_round_the_lock_gets_what_is_late(committed: None) -> None:
    access = a_stocked_access()
    ring = access.add(KitItem, key="frame/ring", name="ring frame")
    access.add(KitBooking, item=ring, holder=a_holder(access, "x"), **asdict(from_now(-5, -1)))

    def write(number: int) -> bool:
        try:
            access.add(
                KitBooking, item=ring, holder=a_holder(access, f"job:{number}"),
                **asdict(from_now(0.8 * number, 0.8 * number + 0.5)),
            )  # fmt: skip
        except IntegrityError:
            return False
        finally:
            connection.close()
        return True

    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(write, range(8))) == 0


def test_what_came_back_broken_is_noted_and_out_of_use(access: Access, ring: KitItem) -> None:
    (booking,) = book_items(access, a_holder(access, "One"), [("frame/ring", 1)], span(0))
    check_in(access, booking, at=NOON, kind=KitNote.Kind.CHARGED, what="bent at a joint")
    ring.refresh_from_db()
    assert (ring.out_of_use, ring.condition) == (True, "bent at a joint")
    assert access.rows(KitNote).get().holder == a_holder(access, "One")
    assert "frame/ring" not in free_items(access, span(9))


@pytest.mark.parametrize(
    ("kind", "amount", "says"),
    [
        ("charged", "-1", "expected an amount of 0 or more with at most 2 decimals, got -1"),
        ("charged", "1.005", "expected an amount of 0 or more with at most 2 decimals, got 1.005"),
        ("charged", "lots", "Enter a number"),
        ("spoiled", "5", "expected none where the client is not charged, got 5"),
    ],
)
def test_an_amount_that_cannot_be_charged_is_told_and_nothing_typed_is_lost(
    browser: Browser, access: Access, ring: KitItem, kind: str, amount: str, says: str
) -> None:
    (booking,) = book_items(access, a_holder(access, "One"), [("frame/ring", 1)], span(0))
    told = {"kind": kind, "what": "bent here", "hours": "", "amount": amount}
    answer = browser.post(reverse("pricing:kit-back", args=[booking.pk]), told)
    assert answer.status_code == 422
    assert says in answer.content.decode()
    for typed in ("bent here", amount):
        assert f'value="{typed}"' in answer.content.decode()
    assert not KitNote.objects.exists()
    assert access.rows(KitBooking).get().returned_at is None


def test_what_is_charged_is_noted_once_more_and_the_newest_holds(
    access: Access, ring: KitItem
) -> None:
    (booking,) = book_items(access, a_holder(access, "One"), [("frame/ring", 1)], span(0))
    told = {"kind": KitNote.Kind.CHARGED, "what": "bent", "amount": Decimal("42.50")}
    check_in(access, booking, at=NOON, **told)
    (note,) = kit_charges(access, [a_holder(access, "One")])
    assert (note.amount, note.item) == (Decimal("42.50"), ring)
    charge_note(access, note, Decimal(30))
    assert [n.amount for n in kit_charges(access)] == [30]
    assert KitNote.objects.count() == 2
    assert kit_charges(access, [a_holder(access, "job:2")]) == []


def test_crew_check_in_and_say_no_amount(crew: Access, access: Access, ring: KitItem) -> None:
    (booking,) = book_items(access, a_holder(access, "One"), [("frame/ring", 1)], span(0))
    hands = signed_in(crew)
    assert 'name="amount"' not in hands.get(reverse("pricing:kit")).content.decode()
    told = {"kind": "charged", "what": "bent", "amount": "9"}
    hands.post(reverse("pricing:kit-back", args=[booking.pk]), told)
    assert KitNote.objects.get().amount is None


def test_a_pump_is_looked_over_by_day_or_by_hours(access: Access) -> None:
    pump = access.add(
        KitItem, key="tool/pump", name="pump", hours=Decimal(48), service_hours=Decimal(50)
    )
    assert due_for_service(access, date(2026, 6, 1)) == []
    (booking,) = book_items(access, a_holder(access, "One"), [("tool/pump", 1)], span(0))
    check_in(access, booking, at=NOON, kind=KitNote.Kind.CONDITION, what="", hours=2.5)
    assert due_for_service(access, date(2026, 6, 1)) == [pump]
    ring = access.add(KitItem, key="frame/ring", name="ring", service_on=date(2026, 6, 1))
    assert ring in due_for_service(access, date(2026, 6, 1))


def test_two_who_check_the_same_thing_in_at_once_add_its_hours_once(access: Access) -> None:
    pump = access.add(KitItem, key="tool/pump", name="pump")
    (booking,) = book_items(access, a_holder(access, "One"), [("tool/pump", 1)], span(0))
    for what in ("worn", "worn again"):  # both hold the booking as it was before
        check_in(access, booking, at=NOON, kind=KitNote.Kind.CONDITION, what=what, hours=2)
    pump.refresh_from_db()
    assert (pump.hours, pump.condition, pump.notes.count()) == (2, "worn", 1)


def test_ten_weights_are_entered_at_once(browser: Browser, access: Access) -> None:
    page = browser.get(reverse("pricing:new-kit")).content.decode()
    press = page.partition('name="form_key" value="')[2].partition('"')[0]
    facts = {
        "name": "ballast weight",
        "key": "weight/ballast",
        "copies": "10",
        "hours": "0",
        "form_key": press,
    }
    assert browser.post(reverse("pricing:new-kit"), facts).status_code == 302
    assert len({item.mark for item in access.rows(KitItem)}) == 10
    wrong = browser.post(reverse("pricing:new-kit"), {**facts, "key": "weights"})
    assert "expected words parted by slashes" in wrong.content.decode()


def test_a_thing_is_checked_in_on_the_page(browser: Browser, access: Access, ring: KitItem) -> None:
    (booking,) = book_items(access, a_holder(access, "0001 Wedding"), [("frame/ring", 1)], span(0))
    assert "0001 Wedding" in browser.get(reverse("pricing:kit")).content.decode()
    browser.post(
        reverse("pricing:kit-back", args=[booking.pk]), {"kind": "condition", "what": "scratched"}
    )
    assert access.rows(KitBooking).get().returned_at
    assert "scratched" in browser.get(reverse("pricing:kit-item", args=[ring.pk])).content.decode()

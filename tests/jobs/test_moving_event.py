"""An event goes to another day: clocks, kit, supplies, instalments."""

from __future__ import annotations

import uuid
import zoneinfo
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from jobs.day.moving_event import CannotMoveEvent, OtherChanges, move_event, preview_move
from jobs.day.reserving import book_kit, promise_all, span_of
from jobs.models import EventMove, Job, LogEntry, Offer, Venue
from jobs.money.ledger import standing_of
from jobs.records import record_faults
from pricing.core.instalments import Due, EventShift, move_with_event
from pricing.core.money import Money
from pricing.models import KitBooking, KitItem, OrderLine, PurchaseOrder, Reservation, Supplier
from pricing.stores.stock import put_in_stock
from studio.access import Access
from studio.append_only import lower_guards, raise_guards
from studio.models import OutgoingMail
from tests.factories import a_designed_job
from tests.jobs.test_cancelling import an_accepted_job, pay

LONDON = zoneinfo.ZoneInfo("Europe/London")


@pytest.fixture
def kit(access: Access) -> None:
    for key, mark in (("weight/ballast", "1"), ("weight/ballast", "2"), ("frame/ring", "1")):
        access.add(KitItem, key=key, name=key.partition("/")[2], mark=mark)
    access.add(KitItem, key="frame/arch", name="arch frame")


@pytest.fixture
def job(access: Access, kit: None) -> Job:
    """Booked, with kit and supplies promised."""
    job = an_accepted_job(access)
    pay(access, job, Offer.objects.get().figures["deposit"])
    assert job.stage == "booked"
    return job


def at(*clock: int) -> datetime:
    return datetime(*clock, tzinfo=LONDON)  # type: ignore[arg-type]


def set_times(job: Job, start: datetime) -> None:
    Job.objects.filter(pk=job.pk).update(
        event_start=start, event_end=start + timedelta(hours=5),
        access_from=start - timedelta(hours=6), clear_by=start + timedelta(hours=8),
    )  # fmt: skip
    job.refresh_from_db()


def clocks(job: Job) -> list[str]:
    moments = (job.access_from, job.event_start, job.event_end, job.clear_by)
    return [f"{m.astimezone(LONDON):%m-%d %H:%M}" for m in moments if m]


@pytest.mark.parametrize(
    ("start", "to", "told"),
    [
        # Clocks of Europe go forward on 29 March and back on 25 October 2026 (IANA tz database).
        (at(2026, 3, 20, 14), at(2026, 4, 10, 14), ["04-10 08:00", "04-10 14:00", "04-10 19:00", "04-10 22:00"]),
        (at(2026, 10, 20, 14), at(2026, 11, 3, 16, 30), ["11-03 10:30", "11-03 16:30", "11-03 21:30", "11-04 00:30"]),
        (at(2026, 6, 1, 14), at(2026, 5, 1, 9), ["05-01 03:00", "05-01 09:00", "05-01 14:00", "05-01 17:00"]),
        # Set-up at 01:30 in the night of the change falls into the hour that is skipped: it becomes 02:30.
        (at(2026, 3, 20, 7, 30), at(2026, 3, 29, 7, 30), ["03-29 02:30", "03-29 07:30", "03-29 12:30", "03-29 15:30"]),
    ],
)  # fmt: skip
def test_everything_moves_by_the_same_hours_on_the_clock(
    access: Access, job: Job, start: datetime, to: datetime, told: list[str], monkeypatch: Any
) -> None:
    monkeypatch.setattr("jobs.day.moving_event.localdate", lambda **_: date(2026, 3, 1))
    set_times(job, start)
    move_event(access, job, to, why="")
    assert clocks(job) == told
    assert job.event_start == to


def test_kit_and_reservations_go_along(access: Access, job: Job) -> None:
    to = job.event_start + timedelta(days=14)
    shown = preview_move(access, job, to)
    assert (shown.days, shown.kit, shown.clashes) == (14, 1, ())
    move_event(access, job, to, why="the hall burst a pipe")
    booking = KitBooking.objects.get()
    assert (booking.out_from, booking.back_until) == (
        span_of(job).out_from,
        span_of(job).back_until,
    )
    days = set(Reservation.objects.values_list("needed_by", flat=True))
    assert days == {shown.needed_by} == {timezone.localtime(span_of(job).out_from).date()}
    assert list(record_faults(access)) == []


def test_what_another_job_has_then_stands_in_the_way_and_is_named(access: Access, job: Job) -> None:
    to = job.event_start + timedelta(days=14)
    other = a_designed_job(
        access, title="Lantern walk", event_start=to, event_end=to + timedelta(hours=4)
    )
    book_kit(access, other)
    shown = preview_move(access, job, to)
    assert "Lantern walk" in shown.clashes[0].sentence
    assert "Free instead: arch frame" in shown.clashes[0].sentence
    was, booked = job.event_start, KitBooking.objects.get(holder__job=job).out_from
    with pytest.raises(CannotMoveEvent, match="Kit is not free then"):
        move_event(access, job, to, why="")
    job.refresh_from_db()
    assert (job.event_start, KitBooking.objects.get(holder__job=job).out_from) == (was, booked)
    assert not EventMove.objects.exists()
    assert not OutgoingMail.objects.filter(kind="postponed").exists()


def test_a_job_does_not_stand_in_its_own_way(access: Access, job: Job) -> None:
    to = job.event_start + timedelta(hours=3)
    assert preview_move(access, job, to).clashes == ()
    move_event(access, job, to, why="")
    assert KitBooking.objects.count() == 1


def test_whether_supplies_still_come_in_time(access: Access, job: Job) -> None:
    rows = list(Reservation.objects.filter(holder__job=job).order_by("pk"))
    for row in rows[3:]:
        put_in_stock(access, row.key, row.quantity, on=timezone.localdate())
    sooner = job.event_start - timedelta(days=20)
    by = timezone.localtime(sooner).date()
    supplier = access.add(Supplier, name="Depot")
    for n, (row, day) in enumerate(
        ((rows[0], by + timedelta(days=9)), (rows[1], by - timedelta(days=9))), start=1
    ):
        order = access.add(
            PurchaseOrder, supplier=supplier, number=n, needed_by=day, sent_at=timezone.now()
        )
        access.add(
            OrderLine,
            order=order,
            code="x",
            name="x",
            contents={row.key: 100},
            price=Decimal(1),
            count=9,
        )
    told = {
        r.label: (r.in_time, r.how.partition(" for ")[0])
        for r in preview_move(access, job, sooner).late
    }
    assert told == {
        rows[0].label: (False, "ordered"), rows[1].label: (True, "ordered"), rows[2].label: (True, "not ordered yet"),
    }  # fmt: skip
    tomorrow = preview_move(access, job, timezone.now() + timedelta(days=1, hours=8)).late
    assert [r.label for r in tomorrow if not r.in_time] == [r.label for r in tomorrow]


# --- money ---


def due(what: str, on: date, amount: int = 100) -> Due:
    return Due(what=what, on=on, amount=Money(Decimal(amount), "GBP"))


PLAN = (
    due("deposit", date(2026, 5, 20)),
    due("part payment", date(2026, 5, 30)),
    due("balance", date(2026, 7, 1)),
)


@pytest.mark.parametrize(
    ("moves", "days"),
    [
        ([], [(5, 20), (5, 30), (7, 1)]),
        # Settled on 10 May, before anything is due: the deposit keeps its day.
        ([(date(2026, 5, 10), 14)], [(5, 20), (6, 13), (7, 15)]),
        # Settled on the day of the part payment: what is due stays due.
        ([(date(2026, 5, 30), 14)], [(5, 20), (5, 30), (7, 15)]),
        ([(date(2026, 6, 5), 14), (date(2026, 6, 9), -7)], [(5, 20), (5, 30), (7, 8)]),
        # Brought forward: nothing falls due before the day on which that was settled.
        ([(date(2026, 6, 20), -30)], [(5, 20), (5, 30), (6, 20)]),
        # Over the end of months: 31 days from 1 July is 1 August.
        ([(date(2026, 6, 20), 31)], [(5, 20), (5, 30), (8, 1)]),
    ],
)
def test_instalments_that_are_not_due_yet_go_along(
    moves: list[tuple[date, int]], days: list[tuple[int, int]]
) -> None:
    event_on, steps = date(2026, 8, 1), []
    for on, n in moves:
        event_on += timedelta(days=n)
        steps.append(EventShift(on=on, days=n, event_on=event_on))
    plan = move_with_event(PLAN, steps)
    assert [(d.on.month, d.on.day) for d in plan] == days
    assert [(d.what, d.amount) for d in plan] == [(d.what, d.amount) for d in PLAN]


def standing(access: Access, job: Job) -> Any:
    rich = access.rows(Job).with_money().get(pk=job.pk)
    return standing_of(rich, on=timezone.localdate(), currency="GBP")


def test_the_balance_moves_with_the_event_and_the_frozen_plan_does_not(
    access: Access, kit: None
) -> None:
    job = an_accepted_job(access)
    frozen = Offer.objects.get().schedule
    before = standing(access, job)
    shown = preview_move(access, job, job.event_start + timedelta(days=14))
    move_event(access, job, job.event_start + timedelta(days=14), why="")
    after = standing(access, job)
    assert [d.what for d in after.due] == ["deposit", "balance"]
    assert after.due[0] == before.due[0]
    assert after.due[1].on - before.due[1].on == timedelta(days=14)
    assert (after.total, after.paid) == (before.total, before.paid)
    assert [(was.on, will.on) for was, will in shown.dues] == [(before.due[1].on, after.due[1].on)]
    assert Offer.objects.get().schedule == frozen
    move_event(access, job, job.event_start - timedelta(days=4), why="")
    assert standing(access, job).due[1].on - before.due[1].on == timedelta(days=10)


@pytest.mark.parametrize("days", [2, 5, 9, 60])
def test_a_deposit_that_was_paid_stays_paid_wherever_the_event_goes(
    access: Access, kit: None, days: int
) -> None:
    job = an_accepted_job(access)
    pay(access, job, Offer.objects.get().figures["deposit"])
    before = standing(access, job)
    move_event(access, job, timezone.now() + timedelta(days=days), why="")
    now, event_on = standing(access, job), timezone.localtime(job.event_start).date()
    assert now.deposit_covered
    assert [(d.what, d.amount) for d in now.due] == [(d.what, d.amount) for d in before.due]
    assert all(d.on <= event_on for d in now.due)


def test_nothing_is_asked_after_an_event_whose_day_changed_in_any_way(
    access: Access, kit: None
) -> None:
    job = an_accepted_job(access)
    set_times(job, timezone.now() + timedelta(days=3))
    event_on = timezone.localtime(job.event_start).date()
    assert [d.on for d in standing(access, job).due] == [event_on, event_on]


def test_the_client_gets_a_letter_with_the_new_day_and_what_is_due(
    access: Access, job: Job
) -> None:
    year = timezone.localdate().year + 1
    set_times(job, at(year, 6, 1, 14))
    move_event(access, job, at(year, 7, 1, 15), why="")
    told = f"from 1 June {year}, 14:00 to 1 July {year}, 15:00"
    letter = OutgoingMail.objects.get(kind="postponed")
    assert f"moves {told}" in letter.body
    assert "Balance: £" in letter.body
    assert LogEntry.objects.filter(what=f"Postponed {told}").exists()


# --- the page ---


def typed(job: Job, days: int = 14, **changes: str) -> dict[str, str]:
    start = timezone.localtime(job.event_start, LONDON) + timedelta(days=days)
    return {"start": f"{start:%Y-%m-%dT%H:%M}", "why": "a burst pipe", "do": "move", "form_key": str(uuid.uuid4()), **changes}  # fmt: skip


def test_the_page_shows_first_then_moves_once(browser: Browser, job: Job) -> None:
    page = reverse("jobs:postpone", args=[job.number])
    assert browser.get(page).status_code == 200
    told = typed(job)
    looked = browser.post(page, {**told, "do": "look"}).content.decode()
    assert "1 booked piece of kit: free then" in looked
    assert "Balance, £" in looked
    assert not EventMove.objects.exists()
    for _ in range(3):
        assert browser.post(page, told).status_code == 302
    assert EventMove.objects.get().why == "a burst pipe"
    assert page in browser.get(reverse("jobs:build", args=[job.number])).content.decode()


def test_a_clash_takes_the_button_away(browser: Browser, access: Access, job: Job) -> None:
    to = job.event_start + timedelta(days=14)
    other = a_designed_job(
        access, title="Lantern walk", event_start=to, event_end=to + timedelta(hours=4)
    )
    book_kit(access, other)
    page = reverse("jobs:postpone", args=[job.number])
    looked = browser.post(page, typed(job, do="look")).content.decode()
    assert "Lantern walk" in looked
    assert 'value="move"' not in looked
    answer = browser.post(page, typed(job))
    assert answer.status_code == 422
    assert "Kit is not free then" in answer.content.decode()


@pytest.mark.parametrize(
    ("start", "says"),
    [
        ("soon", "expected a date and a time"),
        ("", "required"),
        ("same", "expected another time"),
        (
            "2026-01-31T14:00",
            "New start: expected today or a day to come, got 31 January 2026, 14:00.",
        ),
    ],
)
@pytest.mark.parametrize("do", ["look", "move"])
def test_garbage_gets_a_sentence(
    browser: Browser, job: Job, start: str, says: str, do: str
) -> None:
    same = f"{timezone.localtime(job.event_start, LONDON):%Y-%m-%dT%H:%M}"
    Job.objects.update(event_start=job.event_start.replace(second=0, microsecond=0))
    page = reverse("jobs:postpone", args=[job.number])
    answer = browser.post(page, typed(job, start=same if start == "same" else start, do=do))
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert "a burst pipe" in answer.content.decode()
    assert not EventMove.objects.exists()


@pytest.mark.parametrize(
    ("now", "first"),
    [
        # Auckland is 13 hours ahead of UTC in January, New York five behind (IANA tz database).
        (datetime(2027, 1, 4, 12, tzinfo=UTC), {"Pacific/Auckland": 5, "America/New_York": 4}),
        (datetime(2027, 1, 4, 3, tzinfo=UTC), {"Pacific/Auckland": 4, "America/New_York": 3}),
    ],
)
def test_the_first_day_to_move_to_is_today_where_the_studio_is(
    access: Access, job: Job, now: datetime, first: dict[str, int], monkeypatch: Any
) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)
    for name, day in first.items():
        access.studio.timezone = name
        there = datetime(2027, 1, day, 18, tzinfo=zoneinfo.ZoneInfo(name))
        assert preview_move(access, job, there).times["event_start"] == there
        with pytest.raises(CannotMoveEvent, match="expected today or a day to come"):
            preview_move(access, job, there - timedelta(days=1))


@pytest.mark.parametrize("stage", ["enquiry", "offered", "down", "called_off"])
def test_only_what_was_agreed_and_does_not_stand_yet_is_moved(access: Access, stage: str) -> None:
    job = a_designed_job(access, stage=stage)
    with pytest.raises(CannotMoveEvent, match="is not postponed"):
        preview_move(access, job, job.event_start + timedelta(days=3))


def test_a_changed_postponement_is_found(access: Access, job: Job) -> None:
    move_event(access, job, job.event_start + timedelta(days=3), why="")
    lower_guards()
    try:
        with connection.cursor() as cursor:
            cursor.execute("UPDATE jobs_eventmove SET why = 'other'")
        assert "a postponement to" in " ".join(record_faults(access))
    finally:
        raise_guards()


# --- hours and place ---


def test_end_room_and_venue_move_with_kit_supplies_and_letter(access: Access, job: Job) -> None:
    set_times(job, job.event_start.replace(minute=0, second=0, microsecond=0))
    barn = access.add(Venue, name="Tithe barn", address="1 Long Lane")
    later = OtherChanges(
        event_end=job.event_end + timedelta(hours=2), access_from=job.access_from - timedelta(days=1),
        clear_by=job.clear_by + timedelta(days=1), venue=barn,
    )  # fmt: skip
    shown = preview_move(access, job, job.event_start, later)
    assert [name for name, _, _ in shown.told] == [
        "Room free from", "Event ends", "Room clear by",
    ]  # fmt: skip
    move_event(access, job, job.event_start, later, why="they dance longer")
    assert (job.event_end, job.access_from, job.clear_by) == (
        later.event_end, later.access_from, later.clear_by,
    )  # fmt: skip
    assert job.venue == barn
    booking = KitBooking.objects.get(holder__job=job)
    assert (booking.out_from, booking.back_until) == (
        span_of(job).out_from,
        span_of(job).back_until,
    )
    needed = timezone.localtime(span_of(job).out_from).date()
    assert set(Reservation.objects.values_list("needed_by", flat=True)) == {needed}
    letter = OutgoingMail.objects.get(kind="postponed")
    assert "has a change" in letter.subject
    for line in (
        "Something changes for",
        "Event ends ",
        "Room clear by ",
        "Venue Tithe barn instead",
    ):
        assert line in letter.body
    assert LogEntry.objects.filter(job=job, what__contains="Venue Tithe barn").exists()
    assert list(record_faults(access)) == []


def test_what_is_not_filled_in_goes_along_with_the_start(access: Access, job: Job) -> None:
    set_times(job, job.event_start.replace(minute=0, second=0, microsecond=0))
    end, clear = job.event_end + timedelta(days=9), job.clear_by
    to = job.event_start + timedelta(days=7)
    move_event(access, job, to, OtherChanges(event_end=end - timedelta(days=2)), why="")
    assert job.event_end == end - timedelta(days=2)
    assert (
        timezone.localtime(job.clear_by, LONDON).time() == timezone.localtime(clear, LONDON).time()
    )
    body = OutgoingMail.objects.get(kind="postponed").body
    assert "moves from" in body
    assert "Event ends " in body
    assert "Room clear by" not in body  # it goes along: nobody typed it


def test_a_longer_event_asks_for_the_kit_and_a_clash_changes_nothing(
    access: Access, job: Job
) -> None:
    after = job.event_end + timedelta(days=2)
    other = a_designed_job(
        access, title="Lantern walk", event_start=after, event_end=after + timedelta(hours=4)
    )
    book_kit(access, other)
    longer = OtherChanges(event_end=after)
    assert "Lantern walk" in preview_move(access, job, job.event_start, longer).clashes[0].sentence
    with pytest.raises(CannotMoveEvent, match="Kit is not free then"):
        move_event(access, job, job.event_start, longer, why="")
    job.refresh_from_db()
    assert job.event_end < after
    assert not EventMove.objects.exists()


@pytest.mark.parametrize(
    ("rest", "says"),
    [
        (OtherChanges(), "expected another time, or another end"),
        ({"event_end": -1}, "Event ends: expected no earlier than event starts"),
        ({"access_from": 1}, "Event starts: expected no earlier than room free from"),
        ({"clear_by": 1}, "Room clear by: expected no earlier than event ends"),
    ],
)
def test_hours_out_of_order_get_a_sentence(access: Access, job: Job, rest: Any, says: str) -> None:
    if isinstance(rest, dict):
        rest = OtherChanges(**{k: job.event_start + timedelta(hours=h) for k, h in rest.items()})
    with pytest.raises(CannotMoveEvent, match=says):
        preview_move(access, job, job.event_start, rest)


def test_an_accepted_job_moves_with_what_it_holds_and_holds_it_no_longer_than_the_event(
    access: Access, kit: None
) -> None:
    job = an_accepted_job(access)
    sooner = timezone.now() + timedelta(days=2)
    move_event(access, job, sooner, why="")
    job.refresh_from_db()
    assert job.stage == "accepted"
    assert job.held_until == timezone.localtime(sooner).date()
    assert KitBooking.objects.get(holder__job=job).out_from == span_of(job).out_from


def test_the_page_makes_a_new_venue_or_takes_one_that_is_known(
    browser: Browser, access: Access, job: Job
) -> None:
    page = reverse("jobs:postpone", args=[job.number])
    told = typed(job, 0, place="Tithe barn", address="1 Long Lane")
    looked = browser.post(page, {**told, "do": "look"}).content.decode()
    assert "Tithe barn" in looked
    assert not Venue.objects.filter(name="Tithe barn").exists()
    assert browser.post(page, told).status_code == 302
    job.refresh_from_db()
    assert (job.venue.name, job.venue.address, job.venue.studio) == (
        "Tithe barn", "1 Long Lane", access.studio,
    )  # fmt: skip
    known = access.add(Venue, name="Old Grange")
    browser.post(page, typed(job, 0, venue=str(known.pk)))
    job.refresh_from_db()
    assert job.venue == known
    both = browser.post(page, typed(job, 0, venue=str(known.pk), place="Nowhere"))
    assert both.status_code == 422


def test_another_studios_venue_is_no_venue(browser: Browser, stranger: Access, job: Job) -> None:
    theirs = stranger.add(Venue, name="Their hall")
    page = reverse("jobs:postpone", args=[job.number])
    assert "Their hall" not in browser.get(page).content.decode()
    assert browser.post(page, typed(job, 0, venue=str(theirs.pk))).status_code == 422


# --- while it is up ---


def test_of_what_is_up_the_end_alone_moves_and_its_kit_with_it(
    browser: Browser, access: Access, job: Job
) -> None:
    set_times(job, job.event_start.replace(minute=0, second=0, microsecond=0))
    promise_all(access, job)
    Job.objects.filter(pk=job.pk).update(stage="up")
    job.refresh_from_db()
    (item,) = KitBooking.objects.filter(holder__job=job).values_list("item", flat=True)
    later = job.clear_by + timedelta(hours=3)
    clock = "%Y-%m-%dT%H:%M"
    start = f"{timezone.localtime(job.event_start, LONDON):{clock}}"
    told = {"do": "move", "form_key": str(uuid4()), "start": start}
    wrong = {
        **told,
        "form_key": str(uuid4()),
        "start": f"{timezone.localtime(later, LONDON):{clock}}",
    }
    page = browser.post(reverse("jobs:postpone", args=[job.number]), wrong).content.decode()
    assert "It is up: only its end, and when the room must be clear, can change now." in page
    right = {**told, "clear_by": f"{timezone.localtime(later, LONDON):{clock}}"}
    browser.post(reverse("jobs:postpone", args=[job.number]), right)
    job.refresh_from_db()
    assert (job.clear_by, job.stage) == (later, "up")
    booking = KitBooking.objects.get(holder__job=job)
    assert (booking.item_id, booking.back_until) == (item, span_of(job).back_until)


def test_what_is_up_does_not_stay_into_the_time_of_another_job(access: Access, job: Job) -> None:
    set_times(job, job.event_start.replace(minute=0, second=0, microsecond=0))
    promise_all(access, job)
    begins = job.event_start + timedelta(days=2)
    other = a_designed_job(
        access, title="Lantern walk", event_start=begins, event_end=begins + timedelta(hours=4)
    )
    book_kit(access, other)
    Job.objects.filter(pk=job.pk).update(stage="up")
    job.refresh_from_db()
    was, kept = job.clear_by, KitBooking.objects.get(holder__job=job).back_until
    with pytest.raises(CannotMoveEvent, match=r"Kit is not free then\..*Lantern walk"):
        move_event(access, job, job.event_start, OtherChanges(clear_by=begins), why="")
    job.refresh_from_db()
    assert (job.clear_by, KitBooking.objects.get(holder__job=job).back_until) == (was, kept)

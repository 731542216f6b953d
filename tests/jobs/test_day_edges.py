"""The day at its edges: bags, trips, spans, what is used up, moved, short."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from jobs.day.agenda import diary_by_day
from jobs.day.bags import BAG_M, Bag, bag_balls, carry, fill_of, ranges
from jobs.day.boxes import BAGS, pack_boxes
from jobs.day.loading import (
    ALIKE_MINUTES,
    BAG_MINUTES,
    ROAD_KMH,
    Loading,
    TravelPlan,
    Van,
    work_loading,
)
from jobs.day.moving_event import (
    CannotMoveEvent,
    arrivals_by_key,
    preview_move,
    shifted_on_clocks,
    supplies_late_for,
)
from jobs.day.reserving import (
    book_kit,
    follow_stage,
    holder_of,
    promise_all,
    put_back_supplies,
    reserve_supplies,
    span_of,
    supplies_used,
    title_of,
    use_up_supplies,
)
from jobs.day.substitutes import stand_in
from jobs.design.reading import design_from
from jobs.design.working import Worked, work_out
from jobs.models import Job, Shade
from pricing.models import KitBooking, KitItem, OrderLine, PurchaseOrder, Reservation, Supplier
from pricing.stores.stock import put_in_stock, stock_lots
from studio.access import Access
from tests.factories import JobFactory, a_designed_job, a_document, a_holder

NOON = datetime(2031, 6, 20, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)
S = Job.Stage


@pytest.fixture(scope="module")
def worked() -> Worked:
    return work_out(design_from({**a_document("shop-tenth"), "room": {}}), units="metric")


# Bags


def test_clusters_fill_bags_in_the_order_of_work(worked: Worked) -> None:
    carried = carry(worked, 1.0)
    assert carried.on_site == ()
    numbers = [n for bag in carried.bags for n, _ in bag.clusters]
    assert numbers == list(range(1, len(worked.composition.clusters) + 1))
    fills = [sum(fill_of(c) for _, c in bag.clusters) for bag in carried.bags]
    assert all(fill <= 1 + 1e-6 for fill in fills)
    for fill, bag in zip(fills, carried.bags[1:], strict=False):
        assert fill + fill_of(bag.clusters[0][1]) > 1  # the next one would not have gone in
    assert sum(bag.balls for bag in carried.bags) == worked.takeoff.ball_count


@pytest.mark.parametrize("part", [0.75, 0.5, 0.25, 0.0])
def test_a_part_is_built_and_the_rest_inflated_on_site(worked: Worked, part: float) -> None:
    carried = carry(worked, part)
    balls = sum(bag.balls for bag in carried.bags)
    assert balls <= part * worked.takeoff.ball_count + 1e-6
    if part:
        first = carried.on_site[0][1]
        assert balls + len(first.balls) > part * worked.takeoff.ball_count
    there = [n for n, _ in carried.on_site]
    assert there == sorted(there)
    assert len(there) + sum(len(bag.clusters) for bag in carried.bags) == len(
        worked.composition.clusters
    )


def test_what_a_bag_says_of_itself() -> None:
    ball = SimpleNamespace(size="11 in", colour=SimpleNamespace(name="plum"), blown_m=0.28)
    quad, eight = (
        SimpleNamespace(recipe=r, balls=(ball,) * n) for r, n in (("quad", 4), ("eight", 8))
    )
    bag = Bag(number=1, clusters=((1, quad), (2, eight), (4, quad)))  # type: ignore[arg-type]
    assert (bag.balls, bag.numbers, bag.contents) == (16, "1–2, 4", "2 × quad, 1 × eight")
    assert bag.balloons == ("16 × 11 in, plum",)
    # 0.55 of 1.0 × 1.2 × 0.6 m over the volume of a ball.
    assert (bag_balls(0.28), bag_balls(0.9), bag_balls(2.0)) == (34, 1, 0)
    assert [ranges(n) for n in ([], [4], [1, 3], [1, 2, 4, 5, 6])] == ["", "4", "1, 3", "1–2, 4–6"]


# Trips


def a_way(percent: int, *, minutes: float, trips: int = 1, fits: bool = True) -> TravelPlan:
    nothing: Any = SimpleNamespace(bags=(), boxes=())
    return TravelPlan(
        percent=percent, carried=nothing, packing=nothing, trips=trips, minutes=minutes, fits=fits
    )


@pytest.mark.parametrize(
    ("ways", "best"),
    [
        # Own rule: within five minutes of the least, fewest trips, then the most built in the workshop.
        ([a_way(100, minutes=15), a_way(50, minutes=10)], 100), ([a_way(100, minutes=15.1), a_way(50, minutes=10)], 50),
        ([a_way(100, minutes=10, trips=2), a_way(0, minutes=12)], 0), ([a_way(100, minutes=1, fits=False), a_way(0, minutes=99)], 0),
        ([a_way(100, minutes=1, fits=False)], None),
    ],
)  # fmt: skip
def test_the_way_to_travel(ways: list[TravelPlan], best: int | None) -> None:
    assert ALIKE_MINUTES == 5
    found = Loading(ways=tuple(ways), too_long=(), bag_passes=True)
    assert (found.best.percent if found.best else None) == best
    assert found.way == (found.best or ways[-1])
    assert replace(found, chosen=ways[0].percent).way == ways[0]
    assert replace(found, chosen=33).way == found.way


def test_words_of_a_way() -> None:
    said = [a_way(percent, minutes=0).words for percent in (100, 50, 0)]
    assert said == [
        "all built in the workshop",
        "50 % built in the workshop",
        "all inflated on site",
    ]


def test_a_van_of_just_the_size_takes_one_trip(worked: Worked) -> None:
    (whole, *_, nothing) = work_loading(worked, Van(), km_one_way=0, units="metric").ways
    bags_m3 = whole.bags * BAG_M[0] * BAG_M[1] * BAG_M[2]
    frames = [p for piece in worked.design.pieces for p in piece.support.frame_parts()]
    frame_m3 = sum(
        p.count * p.length_m * max(p.width_m, 0.03) * max(p.thickness_m, 0.03) for p in frames
    )
    volume = frame_m3 + whole.boxes * 0.06 + bags_m3

    def trips(part: float, most: int = 2, km: float = 0) -> TravelPlan:
        van = Van(long_m=volume * part, wide_m=1, high_m=1)
        return work_loading(worked, van, km_one_way=km, units="metric", most_trips=most).ways[0]

    assert (trips(1.0).trips, trips(0.999).trips, trips(0.5).trips, trips(0.499).trips) == (
        1,
        2,
        2,
        3,
    )
    assert trips(0.5, most=2).fits == (
        not work_loading(
            worked, Van(long_m=volume / 2, wide_m=1, high_m=1), km_one_way=0, units="metric"
        ).too_long
    )
    assert not trips(0.499, most=2).fits
    # There and back once more for each further trip, at the road's speed.
    assert trips(0.499, km=20).minutes - trips(0.499).minutes == pytest.approx(
        2 * 2 * 20 / ROAD_KMH * 60
    )
    assert whole.minutes == pytest.approx(whole.bags * BAG_MINUTES)
    assert nothing.bags == 0
    assert nothing.minutes > 0  # slower on site


def test_a_rod_lies_corner_to_corner() -> None:
    assert Van(long_m=2, wide_m=3, high_m=6).longest_m == 7  # 4 + 9 + 36 = 49
    assert Van(long_m=2, wide_m=3, high_m=6).volume_m3 == 36


@pytest.mark.parametrize(("door", "passes"), [(0.6, True), (0.59, False), (None, True)])
def test_a_bag_goes_through_a_door_as_wide_as_its_least_side(
    door: float | None, passes: bool
) -> None:
    room = {"door_width_m": door, "door_height_m": 2.0 if door else None}
    worked = work_out(design_from({**a_document("shop-tenth"), "room": room}), units="metric")
    made = work_loading(worked, Van(long_m=9, wide_m=9, high_m=9), km_one_way=0, units="metric")
    assert made.bag_passes is passes
    assert [way.fits for way in made.ways] == [passes or not way.bags for way in made.ways]


# The diary


def test_a_diary_begins_with_its_first_day_and_ends_before_its_last() -> None:
    job = JobFactory.build(
        event_start=NOON, event_end=NOON + 2 * HOUR, access_from=None, clear_by=None
    )
    day = NOON.date()
    for start, end, there in ((0, 1, True), (-1, 0, False), (1, 2, False), (0, 0, False)):
        found = diary_by_day([job], UTC, day + timedelta(days=start), day + timedelta(days=end))
        assert bool(found) is there
    ((_, entries),) = diary_by_day([job], UTC, day, day + timedelta(days=1))
    assert [(e.kind, e.at, e.until) for e in entries] == [
        ("event", NOON, NOON + 2 * HOUR), ("take-down", NOON + 2 * HOUR, None),
    ]  # fmt: skip
    other = JobFactory.build(
        number=0, event_start=NOON, event_end=NOON, access_from=None, clear_by=NOON + HOUR
    )
    ((_, entries),) = diary_by_day([job, other], UTC, day, day + timedelta(days=1))
    assert [e.job.number for e in entries if e.kind == "event"] == [
        0,
        job.number,
    ]  # of one moment: by number
    assert [e.until for e in entries if e.kind == "take-down"] == [NOON + HOUR, None]


# What is promised


@pytest.mark.parametrize(
    ("access", "clear", "out", "back"),
    [
        # Common practice, no source: two hours' way, four of set-up, cleaned twelve hours after.
        (None, None, -6, 2 + 4 + 12), (-3, None, -5, 18), (None, 5, -6, 17), (-1, 3, -3, 15),
    ],
)  # fmt: skip
def test_kit_is_away_from_the_van_leaving_until_it_is_cleaned(
    access: Any, clear: Any, out: int, back: int
) -> None:
    job = Job(
        event_start=NOON, event_end=NOON + 2 * HOUR, access_from=access and NOON + access * HOUR,
        clear_by=clear and NOON + clear * HOUR,
    )  # fmt: skip
    span = span_of(job)
    assert (span.out_from, span.back_until) == (NOON + out * HOUR, NOON + back * HOUR)


def test_names_of_a_job_in_the_stores() -> None:
    job = Job(number=7, title="x" * 300)
    assert title_of(job) == "0007 " + "x" * 155


def test_a_job_without_a_design_asks_for_nothing(access: Access) -> None:
    job = JobFactory.create(studio=access.studio)
    assert reserve_supplies(access, job) == 0
    assert promise_all(access, job) == ""
    assert not KitBooking.objects.exists()


def test_supplies_are_needed_on_the_day_the_van_leaves_by_the_studios_clock(access: Access) -> None:
    # Out at 23:30 UTC on the 19th, which is half past midnight of the 20th in London in June (IANA tz database).
    start = NOON.replace(day=20, hour=5, minute=30)
    job = a_designed_job(access, event_start=start, event_end=start + HOUR)
    assert reserve_supplies(access, job) > 3
    assert set(Reservation.objects.values_list("needed_by", flat=True)) == {date(2031, 6, 20)}


def test_what_is_up_took_what_was_there_and_gives_it_back_as_it_lay(access: Access) -> None:
    job = a_designed_job(access, stage="ready")
    reserve_supplies(access, job)
    row, other = Reservation.objects.order_by("pk")[:2]
    old, new = date(2026, 1, 1), date(2026, 2, 1)
    put_in_stock(access, row.key, Decimal(1), on=new, shelf="B")
    put_in_stock(access, row.key, row.quantity - 2, on=old, shelf="A")  # one less than is wanted
    put_in_stock(access, other.key, other.quantity + 5, on=old)
    use_up_supplies(access, job)
    assert [(lot.shelf, lot.quantity, lot.aged_from) for lot in supplies_used(access, job) if lot.key == row.key] == [
        ("A", row.quantity - 2, old), ("B", 1, new),
    ]  # fmt: skip
    assert [lot.quantity for lot in stock_lots(access, other.key)] == [5]
    assert not Reservation.objects.exists()
    use_up_supplies(access, job)  # twice is once
    assert [lot.quantity for lot in stock_lots(access, other.key)] == [5]
    put_back_supplies(access, job)
    assert supplies_used(access, job) == []
    assert {(lot.shelf, lot.quantity, lot.aged_from) for lot in stock_lots(access, row.key)} == {
        ("A", row.quantity - 2, old), ("B", 1, new),
    }  # fmt: skip
    assert Reservation.objects.filter(key=row.key).exists()
    many = Reservation.objects.count()
    put_back_supplies(access, job)
    assert Reservation.objects.count() == many


@pytest.mark.parametrize("to", [S.LAPSED, S.DECLINED, S.CALLED_OFF])
def test_a_job_that_ends_lets_everything_go(access: Access, to: str) -> None:
    access.add(KitItem, key="frame/ring", name="ring")
    job = a_designed_job(access, stage="accepted")
    assert follow_stage(access, job, S.ACCEPTED) == ""
    assert Reservation.objects.exists()
    held = KitBooking.objects.count()
    assert follow_stage(access, job, S.BOOKED) == ""  # promised already
    assert KitBooking.objects.count() == held > 0
    assert follow_stage(access, job, S.CLOSED) == ""
    assert Reservation.objects.exists()
    assert follow_stage(access, job, to) == ""
    assert not Reservation.objects.exists()
    assert not KitBooking.objects.exists()


# Another day


def test_an_event_keeps_its_hour_when_the_clocks_change() -> None:
    # Europe/London goes forward on 29 March 2026 and back on 25 October 2026 (IANA tz database).
    zone = ZoneInfo("Europe/London")
    for first, days, then in (
        ("2026-03-28 14:00", 1, "2026-03-29 13:00"), ("2026-10-24 13:00", 1, "2026-10-25 14:00"), ("2026-06-01 09:00", 7, "2026-06-08 09:00"),
    ):  # fmt: skip
        at = datetime.fromisoformat(f"{first}+00:00")
        assert shifted_on_clocks(at, timedelta(days=days), zone) == datetime.fromisoformat(
            f"{then}+00:00"
        )


@pytest.mark.parametrize(("days", "fine"), [(-1, False), (0, True), (1, True)])
def test_an_event_moves_to_today_or_a_day_to_come(access: Access, days: int, fine: bool) -> None:
    job = a_designed_job(access, stage="booked")
    start = timezone.now() + timedelta(days=days)
    if fine:
        shown = preview_move(access, job, start)
        assert shown.times["event_start"] == start
        assert shown.times["event_end"] - start == job.event_end - job.event_start
    else:
        with pytest.raises(CannotMoveEvent, match="expected today or a day to come"):
            preview_move(access, job, start)


def test_what_stays_is_no_move(access: Access) -> None:
    job = a_designed_job(access, stage="booked")
    with pytest.raises(CannotMoveEvent, match="expected another time"):
        preview_move(access, job, job.event_start)
    job.stage = "closed"
    with pytest.raises(CannotMoveEvent, match="is not postponed"):
        preview_move(access, job, job.event_start + HOUR)


def test_what_is_short_after_the_move_and_whether_it_comes(access: Access) -> None:
    today = timezone.localdate()
    soon, far = today + timedelta(days=2), today + timedelta(days=3)
    job = a_designed_job(access, stage="booked")
    facts = {
        "holder": holder_of(access, job),
        "label": "plum",
        "unit": "each",
        "key": "balloon/11 in/plum",
    }
    access.add(Reservation, **facts, quantity=Decimal(10), needed_by=far)
    assert [(x.short, x.how, x.in_time) for x in supplies_late_for(access, job, soon)] == [
        ("10", "not ordered yet", False)
    ]
    assert [x.in_time for x in supplies_late_for(access, job, far)] == [
        True
    ]  # a supplier's three days
    put_in_stock(access, "balloon/11 in/plum", Decimal(10), on=today)
    assert supplies_late_for(access, job, far) == []
    access.add(
        Reservation,
        **{**facts, "holder": a_holder(access, "Another")},
        quantity=Decimal(4),
        needed_by=far,
    )
    (short,) = supplies_late_for(access, job, far)
    assert short.short == "4"
    assert supplies_late_for(access, job, soon) == []  # the other one's turn comes later
    order = access.add(
        PurchaseOrder,
        supplier=access.add(Supplier, name="D", lead_days=3),
        number=1,
        sent_at=timezone.now(),
    )
    access.add(
        OrderLine,
        order=order,
        code="a",
        name="a",
        contents={"balloon/11 in/plum": 50},
        price=1,
        count=1,
    )
    assert arrivals_by_key(access) == {"balloon/11 in/plum": far}
    (short,) = supplies_late_for(access, job, far)
    assert (short.how, short.in_time) == (f"ordered for {far:%d %B %Y}", True)
    OrderLine.objects.update(lead_days=4)
    assert [x.in_time for x in supplies_late_for(access, job, far)] == [False]


def test_kit_is_booked_for_the_design_that_is_chosen(access: Access) -> None:
    access.add(KitItem, key="frame/ring", name="ring")
    job = a_designed_job(access)
    assert book_kit(access, job) == KitBooking.objects.filter(holder__job=job).count() == 1
    assert book_kit(access, JobFactory.create(studio=access.studio)) == 0


def test_a_stand_in_is_a_new_version_of_the_design(access: Access) -> None:
    job = a_designed_job(access)
    row = job.designs.get()
    shade = access.add(Shade, name="mulberry", hex="#5a2345")
    assert stand_in(access, job, "plum", shade) is True
    assert job.designs.get().version == row.version + 1
    assert stand_in(access, job, "plum", shade) is False  # it is there already
    assert (
        stand_in(access, job, "no such colour", access.add(Shade, name="fig", hex="#5a2346"))
        is False
    )
    assert job.designs.get().version == row.version + 1


def test_a_bag_is_ticked_by_what_is_in_it(worked: Worked) -> None:
    carried = carry(worked, 1.0)
    things = [t for t in pack_boxes(worked.takeoff, carried, "metric").things if t.where == BAGS]
    ends = [(bag.clusters[0][0], bag.clusters[-1][0]) for bag in carried.bags]
    assert [t.key for t in things] == [f"bag/{first}-{last}" for first, last in ends]
    assert things[0].what == f"bag 1 of {len(ends)}: clusters {carried.bags[0].numbers}"
    keys = [t.key for t in pack_boxes(worked.takeoff, carried, "metric").things]
    assert len(set(keys)) == len(keys)  # each tick by itself

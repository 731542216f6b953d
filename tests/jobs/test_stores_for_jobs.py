"""From booked jobs to a van: reservations, kit, the buying plan, orders, part deliveries, packing, loading."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pypdfium2
import pytest
from django.db.models import F
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from jobs.day.bags import BAG_M, bag_balls
from jobs.day.loading import ALIKE_MINUTES, Van, work_loading
from jobs.day.reserving import (
    holder_of,
    kit_not_free,
    promise_all,
    reserve_supplies,
    span_of,
    title_of,
)
from jobs.day.substitutes import stand_in
from jobs.design.reading import read_design
from jobs.design.working import work_out
from jobs.inputs import worked_for
from jobs.models import Job, JobDesign, LogEntry, PackTick, Shade
from jobs.stages import move_to_stage
from pricing.core.supply_keys import write_key
from pricing.models import (
    KitBooking,
    KitItem,
    OrderLine,
    Pack,
    Price,
    PurchaseOrder,
    Receipt,
    Reservation,
    StockMove,
    Supplier,
)
from pricing.stores.buy_plan import Wanted, make_plan, order_plan, whole_quantity
from pricing.stores.ordering import (
    CannotReceive,
    receive_order,
    record_price,
    send_order,
    supply_of,
)
from pricing.stores.stock import holdings, on_order, put_in_stock, stock_lots
from studio.access import Access
from studio.mail import mime_message
from studio.models import OutgoingMail
from tests.conftest import signed_in
from tests.factories import DATA, a_designed_job

S = Job.Stage


@pytest.fixture
def kit(access: Access) -> None:
    for mark in ("1", "2"):
        access.add(KitItem, key="weight/ballast", name="ballast", mark=mark)
    access.add(KitItem, key="frame/ring", name="ring frame")
    access.add(KitItem, key="frame/arch", name="arch frame")
    access.add(KitItem, key="frame/rail", name="rail")


@pytest.fixture
def three(access: Access, kit: None) -> list[Job]:
    """Three jobs, days apart, all promised."""
    jobs = []
    for i, name in enumerate(("shop-tenth", "gym-doors", "lakeside")):
        start = timezone.now() + timedelta(days=20 + 3 * i)
        jobs.append(
            a_designed_job(access, name, event_start=start, event_end=start + timedelta(hours=4))
        )
        assert promise_all(access, jobs[-1]) == ""
    return jobs


def press_in(page: str) -> str:
    return page.partition('name="form_key" value="')[2].partition('"')[0]


def test_a_booked_job_reserves_what_it_uses_spares_included(
    access: Access, three: list[Job]
) -> None:
    worked = worked_for(access, three[0])
    assert worked
    wanted = {
        write_key(n.key): n.quantity + n.spare
        for n in worked.takeoff.needs
        if n.use == "consumable"
    }
    kept = {r.key: r.quantity for r in access.rows(Reservation).filter(holder__job=three[0])}
    assert kept == wanted


def test_the_yes_promises_and_calling_off_lets_go(access: Access, kit: None) -> None:
    job = a_designed_job(access, stage="offered")
    move_to_stage(access, job, S.ACCEPTED)
    assert access.rows(Reservation).filter(holder__job=job).exists()
    assert access.rows(KitBooking).filter(holder__job=job).count() == 1
    move_to_stage(access, job, S.CALLED_OFF)
    assert not access.rows(Reservation).exists()
    assert not access.rows(KitBooking).exists()


def test_a_clash_at_booking_is_written_into_the_log(access: Access, kit: None) -> None:
    first, second = (a_designed_job(access, stage="accepted") for _ in range(2))
    move_to_stage(access, first, S.BOOKED)
    move_to_stage(access, second, S.BOOKED)
    said = LogEntry.objects.filter(job=second, what__startswith="Kit is not free").get().what
    assert f"promised to {first.number:04d}" in said
    assert KitBooking.objects.count() == 1


def test_tools_and_ladder_that_the_studio_keeps_are_booked_and_told_when_they_are_away(
    access: Access, kit: None
) -> None:
    for mark in ("1", "2"):
        access.add(KitItem, key="tool/ladder", name="ladder", mark=mark)
    pump = access.add(KitItem, key="tool/pump", name="pump")
    access.add(KitItem, key="tool/pump", name="old pump", out_of_use=True)
    access.add(KitItem, key="frame/ring", name="second ring")
    first, second = (a_designed_job(access, "shop-tenth") for _ in range(2))
    assert promise_all(access, first) == ""
    keys = KitBooking.objects.filter(holder__job=first).values_list("item__key", flat=True)
    tall = any(k.name == "step ladder" for k in worked_for(access, first).takeoff.kit)
    assert sorted(keys) == sorted(["frame/ring", "tool/pump", *["tool/ladder"] * tall])
    spare = access.add(KitItem, key="tool/pump/by hand", name="hand pump")
    told = promise_all(access, second)
    assert told.startswith(f"pump: 1 wanted, 0 free; promised to {title_of(first)}. Free instead:")
    assert "Free instead: hand pump." in told
    (clash,) = kit_not_free(access, second, worked_for(access, second))
    assert clash.sentence == told
    KitItem.objects.filter(pk__in=[pump.pk, spare.pk]).update(out_of_use=True)
    assert promise_all(access, second) == ""  # who keeps no pump is not refused for it
    assert not KitBooking.objects.filter(holder__job=second, item__key="tool/pump").exists()


def test_kit_is_away_from_before_the_room_is_free_until_it_is_cleaned(access: Access) -> None:
    job = a_designed_job(access)
    span = span_of(job)
    assert span.out_from < job.event_start
    assert span.back_until > job.event_end


def test_what_is_promised_follows_the_design(
    browser: Browser, access: Access, three: list[Job]
) -> None:
    from tests.jobs.test_design_page import typed

    at = reverse("jobs:design", args=[three[0].number])
    data = {**typed(browser.get(at).context["sheet"]), "version": "1"}
    before = access.rows(Reservation).get(holder__job=three[0], key="tie/260").quantity
    browser.post(at, {**data, "p0-accents-count": "30"})
    assert access.rows(Reservation).get(holder__job=three[0], key="tie/260").quantity > before


def test_when_it_is_up_the_shelves_have_less(access: Access, three: list[Job]) -> None:
    job = three[0]
    key = access.rows(Reservation).filter(holder__job=job, key__startswith="balloon/11").first().key
    put_in_stock(access, key, Decimal(500), on=timezone.localdate())
    used = access.rows(Reservation).get(holder__job=job, key=key).quantity
    Job.objects.filter(pk=job.pk).update(stage="ready")
    job.refresh_from_db()
    move_to_stage(access, job, S.UP)
    assert holdings(access)[key].on_hand == 500 - used
    assert not access.rows(Reservation).filter(holder__job=job).exists()
    assert access.rows(StockMove).filter(kind="used", holder__job=job).exists()


def test_what_is_not_up_after_all_lies_where_it_lay_and_is_used_once(
    access: Access, kit: None
) -> None:
    job = a_designed_job(access, stage="accepted")
    move_to_stage(access, job, S.BOOKED)
    row = access.rows(Reservation).filter(holder__job=job, key__startswith="balloon/11").first()
    old = timezone.localdate() - timedelta(days=90)
    put_in_stock(access, row.key, row.quantity - 1, on=old, shelf="A1")
    put_in_stock(access, row.key, 2 * row.quantity, on=timezone.localdate(), shelf="B2")
    before, reserved = stock_lots(access, row.key), holdings(access)[row.key].reserved
    for to in (S.READY, S.UP, S.READY):
        move_to_stage(access, job, to)
    assert stock_lots(access, row.key) == before
    assert holdings(access)[row.key].reserved == reserved
    for to in (S.BOOKED, S.READY, S.UP, S.DOWN):
        move_to_stage(access, job, to)
    promise_all(access, job)  # somebody presses it, though it is down
    move_to_stage(access, job, S.UP)
    # Own arithmetic: of 3 n − 1 that lay there, n are used, whatever was pressed.
    assert holdings(access)[row.key].on_hand == 2 * row.quantity - 1
    assert not access.rows(Reservation).filter(holder__job=job).exists()


# --- buying ---


def test_one_press_plans_for_three_jobs_and_another_makes_the_orders(
    browser: Browser, access: Access, three: list[Job]
) -> None:
    page = browser.get(reverse("jobs:buying"), {"work": "out"})
    plan = page.context["plan"]
    bought: dict[str, int] = {}
    for line in plan.bought:
        for key, many in line.pack.contents.items():
            bought[key] = bought.get(key, 0) + many * line.count
    wanted: dict[str, Decimal] = {}
    for row in access.rows(Reservation):
        wanted[row.key] = wanted.get(row.key, Decimal(0)) + row.quantity
    short = {m.key for m in plan.missing}
    for key, many in wanted.items():  # never short
        assert key in short or bought.get(key, 0) >= many, key
    assert plan.saves >= 0
    html = page.content.decode()
    made = browser.post(
        reverse("jobs:buying"), {"total": str(plan.total), "form_key": press_in(html)}
    )
    assert made.status_code == 302
    orders = list(access.rows(PurchaseOrder).order_by("number"))
    assert [o.number for o in orders] == list(range(1, len(orders) + 1))
    total = sum(line.cost for line in access.rows(OrderLine)) + sum(o.delivery for o in orders)
    assert total == plan.total


def test_a_plan_that_changed_in_between_is_shown_and_not_ordered(
    browser: Browser, access: Access, three: list[Job]
) -> None:
    html = browser.get(reverse("jobs:buying"), {"work": "out"}).content.decode()
    answer = browser.post(reverse("jobs:buying"), {"total": "1.00", "form_key": press_in(html)})
    assert "The plan changed in between" in answer.content.decode()
    assert not access.rows(PurchaseOrder).exists()


@pytest.mark.parametrize(
    ("gap", "words"),
    [("0", "does not exist: proven"), ("0.0043", "could save at most £3.12 (0.43 %)"), ("1", "could not be ruled out in time")],
)  # fmt: skip
def test_the_page_says_how_much_a_cheaper_plan_could_save(
    browser: Browser,
    access: Access,
    three: list[Job],
    monkeypatch: pytest.MonkeyPatch,
    gap: str,
    words: str,
) -> None:
    """Own arithmetic: 0.43 % of 725.00 are 3.1175, and at most that is 3.12."""
    made = make_plan(access, Wanted(), on=timezone.localdate())
    shown = replace(made, total=Decimal("725.00"), gap=Decimal(gap))
    monkeypatch.setattr("jobs.pages.day.buying.make_plan", lambda *_, **__: shown)
    page = browser.get(reverse("jobs:buying"), {"work": "out"}).content.decode()
    assert words in page
    assert ("The search ended before" in page) is (gap != "0")


def shown_in(html: str) -> dict[str, str]:
    """What the page's form carries of its plan."""
    return {
        name: html.partition(f'name="{name}" value="')[2].partition('"')[0]
        for name in ("total", "shown")
    } | {"form_key": press_in(html)}  # fmt: skip


def test_the_plan_that_was_seen_is_ordered_without_another_search(
    browser: Browser, access: Access, three: list[Job], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The clock may end a second search with another plan: what was seen is what is ordered."""
    page = browser.get(reverse("jobs:buying"), {"work": "out"})
    seen = page.context["plan"]
    monkeypatch.setattr("pricing.stores.plan.buying.cheapest", None)
    made = browser.post(reverse("jobs:buying"), shown_in(page.content.decode()))
    assert made.status_code == 302
    lines = access.rows(OrderLine).order_by("pk").values_list("count", "price")
    assert list(lines) == [(b.count, b.pack.price) for o in seen.orders for b in o.lines]


@pytest.mark.parametrize("change", ["price", "need", "shelf", "forged"])
def test_a_plan_seen_before_something_changed_is_not_ordered(
    browser: Browser, access: Access, three: list[Job], change: str
) -> None:
    html = browser.get(reverse("jobs:buying"), {"work": "out"}).content.decode()
    data = shown_in(html)
    if change == "price":
        Pack.objects.update(price=F("price") + Decimal("0.01"))
    elif change == "need":
        Reservation.objects.update(quantity=F("quantity") + 500)
    elif change == "shelf":
        for row in access.rows(Reservation):
            put_in_stock(
                access, row.key, Decimal(whole_quantity(row.quantity)), on=timezone.localdate()
            )
    else:
        data |= {"shown": data["shown"][:-1] + "?", "total": "1.00"}
    answer = browser.post(reverse("jobs:buying"), data)
    assert "The plan changed in between" in answer.content.decode()
    assert not access.rows(PurchaseOrder).exists()


def test_client_work_is_professional_grade_unless_said(access: Access, three: list[Job]) -> None:
    from pricing.stores.plan.buying import Grade

    Pack.objects.filter(grade="party").update(price=Decimal("0.10"))
    strict = make_plan(access, Wanted(), on=timezone.localdate())
    loose = make_plan(access, Wanted(floor=None), on=timezone.localdate())
    assert not [b for b in strict.bought if b.pack.grade == Grade.PARTY]
    assert [b for b in loose.bought if b.pack.grade == Grade.PARTY]
    assert loose.total < strict.total


def test_what_lies_there_and_what_is_on_order_is_not_bought_again(
    access: Access, three: list[Job]
) -> None:
    today = timezone.localdate()
    for made in order_plan(access, make_plan(access, Wanted(), on=today), needed_by=None):
        send_order(access, made, at=timezone.now(), on=today)
    again = make_plan(access, Wanted(), on=today)
    assert again.total == 0
    assert again.from_on_order


def test_an_order_that_comes_after_a_job_does_not_cover_it(
    access: Access, three: list[Job]
) -> None:
    today, wanted = timezone.localdate(), Wanted()
    access.rows(Reservation).exclude(holder__job=three[0]).delete()
    by = access.rows(Reservation)[0].needed_by
    made = order_plan(access, make_plan(access, wanted, on=today), needed_by=by)
    assert make_plan(access, wanted, on=today).total == 0
    PurchaseOrder.objects.update(needed_by=by + timedelta(days=1))
    assert make_plan(access, wanted, on=today).total > 0
    PurchaseOrder.objects.update(needed_by=None)
    assert make_plan(access, wanted, on=today).total == 0
    OrderLine.objects.update(lead_days=(by - today).days)
    assert make_plan(access, wanted, on=today).total == 0
    tomorrow = timezone.now() + timedelta(days=1)
    for row in made:  # sent a day later, it comes a day later
        send_order(access, row, at=tomorrow, on=tomorrow.date())
    assert make_plan(access, wanted, on=today).total > 0


def test_what_stands_in_orders_that_are_not_sent_is_not_bought_again(
    browser: Browser, access: Access, three: list[Job]
) -> None:
    today = timezone.localdate()
    made = order_plan(access, make_plan(access, Wanted(), on=today), needed_by=None)
    line = access.rows(OrderLine).filter(order=made[0]).first()
    (key, each), *_ = line.contents.items()
    held = holdings(access)[key]
    assert (held.on_order, held.to_send >= each * line.count) == (0, True)
    assert "not sent yet" in browser.get(reverse("pricing:stock")).content.decode()
    assert make_plan(access, Wanted(), on=today).total == 0
    page = browser.get(reverse("jobs:buying"), {"work": "out"}).content.decode()
    assert "Made and not sent yet" in page
    assert f"order {made[0].number:04d}" in page
    PurchaseOrder.objects.update(given_up_at=timezone.now())
    assert make_plan(access, Wanted(), on=today).total > 0


def test_a_plan_takes_nothing_that_another_job_was_promised(access: Access, kit: None) -> None:
    today = timezone.localdate()
    jobs = []
    for days in (20, 40):
        start = timezone.now() + timedelta(days=days)
        jobs.append(a_designed_job(access, event_start=start, event_end=start + timedelta(hours=4)))
        reserve_supplies(access, jobs[-1])
    for row in access.rows(Reservation).filter(holder__job=jobs[0]):
        put_in_stock(access, row.key, Decimal(whole_quantity(row.quantity)), on=today)
    alone = [
        make_plan(access, Wanted(holders=(holder_of(access, job).pk,)), on=today) for job in jobs
    ]
    both = make_plan(
        access, Wanted(holders=tuple(holder_of(access, job).pk for job in jobs)), on=today
    )
    # Own arithmetic: two jobs want the same, one of them lies there; whichever is planned for, one is bought.
    assert [made.total for made in alone] == [both.total, both.total]
    assert both.total > 0
    order_plan(access, alone[0], needed_by=None)
    PurchaseOrder.objects.update(sent_at=timezone.now())
    assert make_plan(access, Wanted(holders=(holder_of(access, jobs[1]).pk,)), on=today).total == 0


def sent_order(access: Access) -> PurchaseOrder:
    today = timezone.localdate()
    Supplier.objects.update(mail="sales@depot.example")
    made: PurchaseOrder = order_plan(
        access, make_plan(access, Wanted(), on=today), needed_by=today
    )[0]
    made = access.rows(PurchaseOrder).select_related("supplier").get(pk=made.pk)
    send_order(access, made, at=timezone.now(), on=today)
    send_order(access, made, at=timezone.now(), on=today)  # twice is once
    return made


def test_an_order_goes_out_as_a_paper_by_mail(
    browser: Browser, access: Access, three: list[Job]
) -> None:
    made = sent_order(access)
    letter = OutgoingMail.objects.get(kind="order")
    sent = mime_message(letter)
    ((name, content, mime),) = sent.attachments
    assert (name, mime) == (f"order-{made.number:04d}.pdf", "application/pdf")
    text = "".join(p.get_textpage().get_text_range() for p in pypdfium2.PdfDocument(bytes(content)))
    assert f"Order {made.number:04d}" in text
    line = access.rows(OrderLine).filter(order=made).first()
    assert line.code in text
    page = browser.get(reverse("pricing:order-pdf", args=[made.number]))
    assert page.content == bytes(content)


def test_a_part_delivery_goes_on_the_shelves_and_the_rest_stays_on_order(
    browser: Browser, access: Access, three: list[Job]
) -> None:
    made = sent_order(access)
    line = access.rows(OrderLine).filter(order=made).order_by("-count").first()
    waiting = on_order(access)
    page = browser.get(reverse("pricing:order", args=[made.number])).content.decode()
    came = {f"line-{line.pk}": "1", "do": "receive", "form_key": press_in(page)}
    for _ in range(2):  # twice pressed is once received
        browser.post(reverse("pricing:order", args=[made.number]), came)
    assert Receipt.objects.count() == 1
    for key, each in line.contents.items():
        assert holdings(access)[key].on_hand == each
        assert on_order(access).get(key, 0) == waiting[key] - each
    with pytest.raises(CannotReceive, match=f"expected 0 to {line.count - 1} packs"):
        receive_order(access, made, {line.pk: line.count}, on=timezone.localdate())


def test_what_came_keeps_its_price(access: Access, three: list[Job]) -> None:
    Pack.objects.update(price=Decimal("19.75"))
    made = sent_order(access)
    line = next(x for x in access.rows(OrderLine).filter(order=made) if len(x.contents) == 1)
    receive_order(access, made, {line.pk: 1}, on=timezone.localdate())
    newest = access.rows(Price).order_by("-valid_from", "-pk").first()
    assert (newest.pack_price, newest.valid_from) == (Decimal("19.75"), timezone.localdate())


def test_of_two_prices_of_one_day_the_last_one_holds(access: Access, three: list[Job]) -> None:
    today = timezone.localdate()
    line = next(
        x for x in access.rows(OrderLine).filter(order=sent_order(access)) if len(x.contents) == 1
    )
    (key,) = line.contents
    for price in ("19.75", "18.25"):
        line.price = Decimal(price)
        record_price(access, line, on=today)
    kept = Price.objects.get(supply=supply_of(access, key), valid_from=today)
    assert (kept.pack_price, kept.pack_count) == (Decimal("18.25"), line.contents[key])


def test_a_near_shade_stands_in_when_the_owner_says_so(
    browser: Browser, access: Access, three: list[Job]
) -> None:
    Pack.objects.exclude(name__contains="tape").delete()  # nothing comes in any colour now
    supplier = Supplier.objects.first()
    access.add(
        Pack, supplier=supplier, code="P", name="rosy", contents={"balloon/11 in/rosy": 100},
        price=Decimal(10), grade="professional", valid_from=timezone.localdate(),
    )  # fmt: skip
    near = access.add(Shade, name="rosy", hex="#e6b7ac")
    access.add(Shade, name="night", hex="#101030")
    page = browser.get(reverse("jobs:buying"), {"work": "out"}).content.decode()
    assert "rosy for blush" in page
    assert "night for" not in page
    browser.post(
        reverse("jobs:stand-in"), {"shade": str(near.pk), "colour": "blush", "job": three[0].number}
    )
    document = JobDesign.objects.get(job=three[0]).document
    assert "rosy" in {c["name"] for c in document["palette"]}
    assert access.rows(Reservation).filter(holder__job=three[0], key="balloon/11 in/rosy").exists()
    assert not stand_in(access, three[0], "blush", near)  # it is not there any more


# --- packing ---


def test_ticks_are_kept_and_what_is_missing_shows(
    browser: Browser, access: Access, three: list[Job]
) -> None:
    at = reverse("jobs:packing", args=[three[0].number])
    page = browser.get(at)
    thing = page.context["missing"][0]
    count = len(page.context["missing"])
    for _ in range(2):
        part = browser.post(at, {"key": thing.key, "on": "1"}, headers={"HX-Request": "true"})
    assert f"<strong>{count - 1} of {count}</strong> not packed yet" in part.content.decode()
    assert PackTick.objects.count() == 1
    assert (
        f"{count - 1} things not packed"
        not in browser.get(reverse("jobs:build", args=[three[0].number])).content.decode()
    )
    Job.objects.filter(pk=three[0].pk).update(stage="booked")
    assert (
        f"{count - 1} things not packed"
        in browser.get(reverse("jobs:build", args=[three[0].number])).content.decode()
    )
    browser.post(at, {"key": thing.key, "on": "0"})
    assert not PackTick.objects.exists()
    assert browser.post(at, {"key": "nothing/such", "on": "1"}).status_code == 404


def test_crew_pack_and_see_no_prices(crew: Access, three: list[Job]) -> None:
    hands = signed_in(crew)
    at = reverse("jobs:packing", args=[three[0].number])
    key = hands.get(at).context["missing"][0].key
    hands.post(at, {"key": key, "on": "1"})
    assert PackTick.objects.get().who == crew.person
    assert hands.get(reverse("pricing:stock")).status_code == 200
    assert hands.get(reverse("pricing:orders")).status_code == 403
    assert hands.get(reverse("jobs:buying")).status_code == 403


def test_every_box_has_a_label_with_a_code(browser: Browser, three: list[Job]) -> None:
    made = browser.get(reverse("jobs:labels", args=[three[0].number]))
    text = "".join(p.get_textpage().get_text_range() for p in pypdfium2.PdfDocument(made.content))
    assert "5. Tools" in text
    assert "Bag 1 of" in text
    assert "4 × bin bags" in text
    assert "4 bin bags" not in text
    assert f"{three[0].number:04d}" in text


# --- loading ---


def test_a_bag_holds_thirty_four_balloons_of_28_cm() -> None:
    # Bag 1.0 × 1.2 × 0.6 m, d = 0.28 m, random loose packing 0.55 (Onoda & Liniger 1990, from memory): 34, computed.
    assert bag_balls(0.28) == 34
    assert bag_balls(0.28, (2.0, 1.2, 0.6)) == 68


def test_the_least_minutes_that_fit_are_chosen() -> None:
    worked = work_out(read_design((DATA / "gym-doors.json").read_bytes()))
    near = work_loading(worked, Van(), km_one_way=5, units="metric")
    assert near.best in near.ways
    assert near.best.minutes <= min(w.minutes for w in near.ways if w.fits) + ALIKE_MINUTES
    assert near.best.percent == 100  # nobody inflates on site to save two minutes
    far = work_loading(
        worked, Van(long_m=2.4, wide_m=1.2, high_m=1.0), km_one_way=60, units="metric"
    )
    assert far.best
    assert far.best.trips == 1  # two hours of road are dearer than inflating there
    bags = [w.bags for w in near.ways]
    assert bags == sorted(bags, reverse=True)


def test_what_does_not_fit_is_said() -> None:
    worked = work_out(read_design((DATA / "gym-doors.json").read_bytes()))
    tiny = work_loading(
        worked, Van(long_m=0.5, wide_m=0.5, high_m=0.5), km_one_way=5, units="metric"
    )
    assert tiny.best is None
    assert tiny.too_long
    door = worked.design.room.model_copy(update={"door_width_m": min(BAG_M) - 0.1})
    narrow = work_out(worked.design.model_copy(update={"room": door}))
    way = work_loading(narrow, Van(), km_one_way=5, units="metric")
    assert not way.bag_passes
    assert way.best is None or way.best.bags == 0


def test_the_build_page_says_what_the_stores_hold_and_how_to_load(
    browser: Browser, access: Access, three: list[Job]
) -> None:
    page: Any = browser.get(reverse("jobs:build", args=[three[0].number])).content.decode()
    assert "supplies are reserved" in page
    assert "ring frame" in page
    assert "inflated" in page
    access.rows(Reservation).all().delete()
    Job.objects.filter(pk=three[0].pk).update(stage="booked")
    browser.post(reverse("jobs:hold", args=[three[0].number]))
    assert access.rows(Reservation).filter(holder__job=three[0]).exists()
    assert reserve_supplies(access, three[0]) > 5

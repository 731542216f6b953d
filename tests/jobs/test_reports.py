"""Reports: what was won and lost and why, what is booked and due, what was earned."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from jobs.after.time_taken import record_time
from jobs.day.reserving import holder_of
from jobs.design.compose import compose
from jobs.design.needs import count_needs
from jobs.design.reading import design_from
from jobs.inputs import practice_of
from jobs.models import Acceptance, Job, LogEntry, Offer
from jobs.money.bars import WIDE, lay_bars
from jobs.money.invoicing import credit_invoice, issue_invoice
from jobs.money.profits import Profit, gather_profits
from jobs.money.reports import AGES, ReportSpan, age_of, month_on, quiet_words
from jobs.money.tables import NamedCell, Table, TableColumn, write_csv
from jobs.proposal.accepting import ClientYes, accept_offer
from jobs.proposal.offering import Words, send_offer
from pricing.book.price_book import book_for
from pricing.core.instalments import Due
from pricing.core.money import Money, add_up
from pricing.core.supply_keys import parse_key, write_key
from pricing.models import Price, StockMove, Supply
from pricing.stores.stock import put_in_stock, take_from_stock
from studio.access import Access
from tests.conftest import signed_in
from tests.factories import JobFactory, a_designed_job, a_document, a_holder, with_a_rail
from tests.jobs.test_cancelling import an_accepted_job, off

PAGE = reverse("jobs:reports")


def gbp(amount: str | int | Decimal) -> Money:
    return Money(Decimal(amount), "GBP")


def noon(days: int) -> datetime:
    """So many days from today."""
    return timezone.make_aware(
        datetime.combine(timezone.localdate() + timedelta(days=days), time(12))
    )


def offered(
    access: Access, net: int, *, sent: int = -30, event: int = 40, yes: bool = False, **facts: Any
) -> Job:
    """A job with an offer as its records hold it, and a yes where one is asked for."""
    stage = "booked" if yes else "offered"
    start = noon(event)
    told = {"stage": stage, "event_start": start, "event_end": start, **facts}
    job = JobFactory.create(studio=access.studio, **told)
    figures = {
        "currency": "GBP",
        "groups": [],
        **dict.fromkeys(("tax", "discount", "deposit"), "0"),
        **dict.fromkeys(("net", "total", "price"), str(net)),
    }
    due = {"what": "balance", "on": start.date().isoformat(), "amount": str(net)}
    offer = access.add(
        Offer, job=job, version=1, article="", design=a_document(), figures=figures, schedule=[due],
        owner_figures={"cost": "0", "margin": "0", "lines": []}, pdf=b"", pdf_sha256="", stands_until=start.date(), sent_at=noon(sent),
    )  # fmt: skip
    if yes:
        access.add(Acceptance, offer=offer, name="R", at=noon(sent), pdf_sha256="", wording="yes")
    return job


def table(browser: Browser, name: str, **span: str) -> Table:
    found: Table = browser.get(PAGE, span).context["tables"][name]
    return found


# --- won and lost ---


def test_rates_of_winning_by_number_and_by_money(browser: Browser, access: Access) -> None:
    offered(access, 300, yes=True)
    offered(access, 100, stage="declined")
    offered(access, 100, stage="lapsed")
    offered(access, 500)
    offered(access, 900, yes=True, sent=-500)  # long ago
    rows = table(browser, "won")
    assert rows.rows == (
        ("won", 1, gbp(300), Decimal("33.3"), Decimal("60.0")),
        ("lost", 2, gbp(200), Decimal("66.7"), Decimal("40.0")),
        ("still open", 1, gbp(500), None, None),
    )
    assert rows.foot[:3] == ("offered", 4, gbp(1000))


def test_a_job_counts_in_the_time_of_its_first_version(browser: Browser, access: Access) -> None:
    job = offered(access, 300, sent=-400)
    first = Offer.objects.get()
    figures = {**first.figures, "net": "280"}
    access.add(
        Offer, job=job, version=2, article="", design={}, figures=figures, schedule=[], owner_figures={}, pdf=b"",
        pdf_sha256="", stands_until=first.stands_until, sent_at=noon(-5),
    )  # fmt: skip
    assert table(browser, "won").rows == ()
    then = {"since": noon(-410).date().isoformat(), "until": noon(-390).date().isoformat()}
    assert table(browser, "won", **then).rows[2][1:3] == (1, gbp(280))


def test_called_off_after_the_yes_was_won_and_before_it_was_lost(
    browser: Browser, access: Access
) -> None:
    offered(access, 300, yes=True, stage="called_off")
    offered(access, 100, stage="called_off")
    won = table(browser, "won")
    assert [row[1] for row in won.rows] == [1, 1, 0]
    assert won.words == "1 of those that were won was called off later."
    assert table(browser, "lost").rows == (("called off before a yes", 1, gbp(100), ""),)


def test_reasons_come_with_money_and_words_the_most_money_first(
    browser: Browser, access: Access
) -> None:
    offered(access, 100, stage="declined", lost_why="date")
    offered(
        access, 400, stage="declined", lost_why="price", lost_words="twice what they had in mind"
    )
    offered(access, 300, stage="declined", lost_why="price", lost_words="=cmd()")
    offered(access, 50, stage="lapsed")
    assert table(browser, "lost").rows == (
        ("the price", 2, gbp(700), "twice what they had in mind; =cmd()"),
        ("the date was taken", 1, gbp(100), ""),
        ("no reason written down", 1, gbp(50), ""),
    )


# --- by month ---


def test_bookings_stand_in_the_month_of_their_event(browser: Browser, access: Access) -> None:
    offered(access, 300, yes=True, event=0)
    offered(access, 200, yes=True, event=0)
    offered(access, 900, event=0)  # open
    offered(access, 900, yes=True, event=0, stage="called_off")
    booked = table(browser, "booked")
    assert len(booked.rows) == 12
    assert booked.rows[-1][1:] == (2, gbp(500))
    assert booked.foot == ("in all", 2, gbp(500))
    assert booked.rows[-1][0].written == f"{timezone.localdate():%Y-%m}"
    ahead = table(browser, "ahead")
    assert ahead.rows[0][1:] == (2, gbp(500))
    assert ahead.words.startswith("Quiet: ")


@pytest.mark.parametrize(
    ("counts", "says"),
    [
        ({"May": 3, "June": 1, "July": 2, "August": 0}, "Quiet: August. A month of this year has 1.5 "),
        ({"May": 3, "June": 1, "July": 0}, "Quiet: July. A month of this year has 1.3 "),
        ({"May": 4, "June": 2}, "No month is quiet: each has at least half of the 3 "),
        ({"May": 7, "June": 1, "July": 1}, "Quiet: June, July. A month of this year has 3 "),
        ({"May": 0, "June": 0}, "Nothing is booked for the coming year yet."),
    ],
)  # fmt: skip
def test_quiet_is_fewer_than_half_of_the_mean(counts: dict[str, int], says: str) -> None:
    assert quiet_words(counts).startswith(says)


@given(st.dates(date(2000, 1, 1), date(2090, 1, 1)), st.integers(0, 900))
def test_a_span_touches_each_month_once(since: date, days: int) -> None:
    span = ReportSpan(since=since, until=since + timedelta(days=days))
    every = {(since + timedelta(days=n)).replace(day=1) for n in range(days + 1)}
    assert span.months == sorted(every)
    assert month_on(month_on(since, 7), -7) == since.replace(day=1)


# --- due ---


@pytest.mark.parametrize(
    ("late", "age"), [(-9, 0), (0, 0), (1, 1), (30, 1), (31, 2), (60, 2), (61, 3), (400, 3)]
)
def test_ages_meet_without_a_gap(late: int, age: int) -> None:
    on = date(2026, 6, 30)
    due = Due(what="balance", on=on - timedelta(days=late), amount=gbp(1))
    assert age_of(due, on) == AGES[age]


def test_what_is_due_stands_by_its_age(browser: Browser, access: Access) -> None:
    for net, event in ((100, 5), (200, -1), (300, -31), (400, -61), (500, -70)):
        offered(access, net, yes=True, event=event)
    due = table(browser, "due")
    assert [row[1:] for row in due.rows] == [
        (1, gbp(100)), (1, gbp(200)), (1, gbp(300)), (2, gbp(900)),
    ]  # fmt: skip
    assert due.foot == ("in all", 5, gbp(1500))


# --- profit ---


def two_pieces(access: Access) -> Job:
    """A ring and a garland on a rail, offered and accepted."""
    job = with_a_rail(a_designed_job(access, event_start=noon(0), event_end=noon(0)))
    words = Words(greeting="Dear you,", note="")
    offer = send_offer(access, job, words, at=noon(-30), link_for=lambda t: f"/o/{t}/")
    accept_offer(
        access, offer, ClientYes(name="R", wording="yes", address=None, agent=""), at=noon(-29)
    )
    Job.objects.filter(pk=job.pk).update(stage="booked")
    return job


@pytest.fixture
def job(access: Access) -> Job:
    access.studio.tax_number = "GB 123456789"
    access.studio.save()
    return two_pieces(access)


def year(access: Access) -> list[Profit]:
    return gather_profits(access, ReportSpan.year_to(timezone.localdate()))


def test_a_job_is_shared_over_its_pieces_to_the_penny(access: Access, job: Job) -> None:
    (profit,) = year(access)
    offer = Offer.objects.get()
    assert profit.net == gbp(offer.figures["net"])
    assert profit.cost == gbp(offer.owner_figures["cost"])
    assert profit.kept == gbp(offer.owner_figures["margin"])
    lines = [line for line in offer.owner_figures["lines"] if line["kind"] == "materials"]
    assert profit.materials == add_up((gbp(line["cost"]) for line in lines), "GBP") > gbp(0)
    ring, rail = profit.shares
    assert (ring.kind, rail.kind) == ("ring", "rail")
    assert add_up((s.net for s in profit.shares), "GBP") == profit.net
    assert add_up((s.cost for s in profit.shares), "GBP") == profit.cost
    assert rail.net > gbp(0) < ring.net
    assert ring.net != rail.net
    # The same weights share both, so a piece keeps the same part of its net as the whole job, but for a penny.
    for share in profit.shares:
        fair = profit.cost.amount * share.net.amount / profit.net.amount
        assert abs(share.cost.amount - fair) <= Decimal("0.02")


def test_kinds_of_piece_add_up_to_the_jobs(browser: Browser, access: Access, job: Job) -> None:
    jobs, kinds = table(browser, "profit"), table(browser, "kinds")
    assert sorted(row[0] for row in kinds.rows) == ["rail", "ring"]
    assert kinds.foot[2:6] == jobs.foot[1:5]
    for _, _, net, cost, kept, percent, *_ in kinds.rows:
        assert kept == net - cost
        assert percent == (kept.amount / net.amount * 100).quantize(Decimal("0.1"), ROUND_HALF_UP)
    assert add_up((row[2] for row in kinds.rows), "GBP") == jobs.foot[1]


def test_without_anything_written_down_nothing_is_invented(
    browser: Browser, access: Access, job: Job
) -> None:
    (profit,) = year(access)
    assert profit.taken is None
    assert profit.put_right == profit.kept
    assert (profit.minutes_taken, profit.labour_more) == (None, None)
    assert "not written down" in browser.get(PAGE).content.decode()


def stock_up(access: Access, keys: dict[str, int]) -> None:
    for key, many in keys.items():
        put_in_stock(access, key, Decimal(many), on=timezone.localdate())


def test_what_the_shelves_gave_is_reckoned_at_the_prices_of_the_day(
    access: Access, job: Job
) -> None:
    stock_up(access, {"balloon/11 in/plum": 100})
    holder = holder_of(access, job)
    take_from_stock(access, "balloon/11 in/plum", Decimal(60), holder=holder)
    back = StockMove.Kind.RETURNED
    put_in_stock(
        access, "balloon/11 in/plum", Decimal(10), kind=back, on=timezone.localdate(), holder=holder
    )
    take_from_stock(access, "balloon/11 in/plum", Decimal(7), holder=a_holder(access, "Another"))
    price = Price.objects.get(supply__key="balloon/11 in")
    newer = Price.objects.create(
        studio=access.studio, supply=price.supply, valid_from=noon(-1).date(),
        pack_count=Decimal(50), pack_price=Decimal("12.50"),
    )  # fmt: skip
    (profit,) = year(access)
    assert profit.taken == gbp(50 * newer.pack_price / newer.pack_count) == gbp("12.50")
    assert 1 == profit.kinds_taken < profit.kinds
    assert (
        profit.put_right == profit.kept
    )  # only some kinds came from there: materials stay as quoted


def test_materials_are_put_right_where_every_kind_came_from_the_shelves(
    access: Access, job: Job
) -> None:

    practice = practice_of(access)
    design = design_from(Offer.objects.get().design)
    needs = count_needs(design, compose(design, practice), practice)
    for need in needs:
        if need.use == "consumable":
            stock_up(access, {write_key(need.key): int(need.quantity) + 1})
            take_from_stock(access, write_key(need.key), Decimal(1), holder=holder_of(access, job))
    (profit,) = year(access)
    assert profit.kinds_taken == profit.kinds
    assert profit.taken is not None
    assert profit.put_right == profit.kept + profit.materials - profit.taken
    assert profit.put_right > profit.kept


def test_a_supply_without_a_price_leaves_it_unknown(access: Access, job: Job) -> None:
    stock_up(access, {"sequin/gold": 5})
    take_from_stock(access, "sequin/gold", Decimal(5), holder=holder_of(access, job))
    assert not Supply.objects.filter(key__startswith="sequin").exists()
    assert year(access)[0].taken is None


def test_credit_is_taken_off_and_an_invoice_issued_anew_is_none(access: Access, job: Job) -> None:
    today = timezone.localdate()
    first = issue_invoice(access, job, on=today)
    assert year(access)[0].credited == gbp(0)
    credit_invoice(access, first, Decimal("10.00"), "", on=today)
    (profit,) = year(access)
    assert (profit.credited, profit.put_right) == (gbp(10), profit.kept - gbp(10))
    credit_invoice(access, first, None, "", on=today)
    assert year(access)[0].credited == profit.net
    issue_invoice(access, job, on=today)
    assert year(access)[0].credited == gbp(0)


# --- the page and its sheets ---


def test_kept_money_of_a_job_that_was_called_off_is_there(browser: Browser, access: Access) -> None:
    access.studio.tax_number = "GB 123456789"
    access.studio.save()
    job = an_accepted_job(access, days=40)
    row = off(access, job, "10")
    net = job.invoices.get().net
    agreed = Decimal(Offer.objects.get(job=job).figures["net"])
    span = {"since": noon(0).date().isoformat(), "until": noon(60).date().isoformat()}
    kept = table(browser, "kept", **span)
    (line,) = kept.rows
    assert line[1:] == (row.on, gbp(agreed), gbp(net), None, None, gbp(net))
    assert f"Together with “kept, put right” above: £{net:,.2f}." == kept.words
    record_time(access, job, place="workshop", people=1, minutes=30, on=row.on)
    key = "balloon/11 in/ivory"
    price = book_for(access, row.on).find(parse_key(key))
    put_in_stock(access, key, Decimal(5), on=row.on)
    take_from_stock(access, key, Decimal(3), holder=holder_of(access, job))
    rates, (line,) = book_for(access, row.on).rates, table(browser, "kept", **span).rows
    spent = Money.exact(3 * price.unit_cost, "GBP"), Money(rates.workshop_hour / 2, "GBP")
    assert line[4:] == (*spent, gbp(net) - spent[0] - spent[1])
    assert table(browser, "profit", **span).rows == ()
    assert table(browser, "kept").rows == ()
    sheet = browser.get(reverse("jobs:report-sheet", args=["kept"]), span).content.decode()
    assert f"{net:.2f}" in sheet
    # Nothing kept is nothing, and still there.
    off(access, other := an_accepted_job(access, days=41), "0")
    assert table(browser, "kept", **span).rows[1][3] == gbp(0)
    credit_invoice(access, job.invoices.get(), None, "goodwill", on=row.on)
    assert table(browser, "kept", **span).rows[0][3] == gbp(0)
    assert other.stage == "called_off"


def test_each_table_is_taken_away_as_it_stands(browser: Browser, access: Access, job: Job) -> None:
    offered(access, 400, stage="declined", lost_why="price", lost_words="=cmd()|calc")
    page = browser.get(PAGE).context
    for name, shown in {**page["tables"], "balances": page["balances"]}.items():
        answer = browser.get(reverse("jobs:report-sheet", args=[name]))
        rows = list(csv.reader(io.StringIO(answer.content.decode(), newline="")))
        assert rows[0] == [column.label for column in shown.columns]
        assert len(rows) == len(shown.rows) + 1
        assert answer["Content-Type"] == "text/csv; charset=utf-8"
    lost = browser.get(reverse("jobs:report-sheet", args=["lost"])).content.decode()
    assert "the price,1,400.00,'=cmd()|calc" in lost
    assert browser.get(reverse("jobs:report-sheet", args=["moon"])).status_code == 404


def test_words_are_neutral_and_figures_stay_figures() -> None:
    # OWASP, formula injection.
    made = write_csv(
        ["a", "b"],
        [
            ("-2+3", gbp("-2.50")),
            (NamedCell(shown="x", written="@sum"), None),
            ("plain", Decimal("33.3")),
        ],
    )
    assert made == "a,b\r\n'-2+3,-2.50\r\n'@sum,\r\nplain,33.3\r\n"


def test_a_table_without_a_foot_has_no_sums() -> None:
    columns = (TableColumn(label="What"), TableColumn(label="Many", kind="count"))
    bare = Table(name="t", title="T", columns=columns, rows=(("a", 1),))
    assert bare.sums == []
    summed = Table(name="t", title="T", columns=columns, rows=(("a", 1),), foot=("in all", 1))
    assert [cell.value for cell in summed.sums] == ["in all", 1]


def test_a_row_that_does_not_fit_its_table_is_refused() -> None:
    with pytest.raises(ValueError, match="T: expected 1 cells, got 2"):
        Table(name="t", title="T", columns=(TableColumn(label="a"),), rows=(("x", "y"),))


@given(st.lists(st.decimals(-9999, 9999, places=2), min_size=1, max_size=30))
def test_bars_keep_to_one_scale_and_to_the_drawing(values: list[Decimal]) -> None:
    said = [(f"row {n}", value) for n, value in enumerate(values)]
    if not any(values):
        with pytest.raises(ValueError, match="got none"):
            lay_bars(said)
        return
    drawing = lay_bars(said)
    unit = WIDE / (max(0, *values, 0) - min(0, *values, 0))
    for bar, value in zip(drawing.bars, values, strict=True):
        assert abs(bar.wide - abs(value) * unit) <= 1
        assert 0 <= bar.x <= bar.x + bar.wide <= drawing.wide
        assert bar.below is (value < 0)
        assert (bar.x + bar.wide if bar.below else bar.x) == drawing.zero
        assert bar.y + drawing.thick <= drawing.high


@pytest.mark.parametrize(
    ("since", "until", "says"),
    [
        ("2026-03-01", "2026-02-28", "To: expected 2026-03-01 or later, got 2026-02-28."),
        ("1 March", "2026-02-28", "From: expected a day from 2000 to 2100 such as 2026-03-01, got “1 March”."),
        ("2026-03-01", "", "got nothing"),
        ("2001-01-01", "2026-01-01", "To: expected at most 10 years after 2001-01-01, got 2026-01-01."),
        ("0001-01-01", "2026-01-01", "got “0001-01-01”"),
    ],
)  # fmt: skip
def test_a_time_that_cannot_be_read_gets_a_sentence_and_the_usual_year(
    browser: Browser, since: str, until: str, says: str
) -> None:
    told = {"since": since, "until": until}
    page = browser.get(PAGE, told)
    assert page.status_code == 422
    assert says in page.content.decode()
    assert page.context["span"] == ReportSpan.year_to(timezone.localdate())
    assert browser.get(reverse("jobs:report-sheet", args=["won"]), told).status_code == 404
    assert browser.get(reverse("jobs:journal", args=["csv"]), told).status_code == 404


def test_reports_are_the_offices_and_each_studios_own(
    browser: Browser, access: Access, crew: Access, stranger: Access
) -> None:
    offered(access, 300, yes=True)
    assert PAGE in browser.get(reverse("jobs:money")).content.decode()
    assert table(signed_in(stranger), "won").rows == ()
    for page in (PAGE, reverse("jobs:report-sheet", args=["won"])):
        assert signed_in(crew).get(page).status_code == 403
        assert browser.post(page).status_code == 405


def test_reports_ask_the_database_as_often_for_many_jobs(browser: Browser, access: Access) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert browser.get(PAGE).status_code == 200
        return len(seen)

    offered(access, 300, yes=True, event=0)
    few = queries()
    for n in range(5):
        offered(access, 300, yes=True, event=-n, sent=-30 - n)
        offered(access, 100, stage="declined")
    assert queries() == few


# --- asking why, as a job is lost ---

SubmittedForm = Callable[..., Job]


@pytest.fixture
def press(browser: Browser, access: Access) -> SubmittedForm:
    def pressed(job: Job, to: str, **said: str) -> Job:
        browser.post(reverse("jobs:stage", args=[job.number]), {"to": to, **said})
        job.refresh_from_db()
        return job

    return pressed


@pytest.mark.parametrize("to", ["lapsed", "declined"])
@pytest.mark.parametrize("at", ["jobs:build", "jobs:proposal"])
def test_the_form_asks_why_and_the_same_press_keeps_it(
    browser: Browser, access: Access, press: SubmittedForm, to: str, at: str
) -> None:
    job = offered(access, 300)
    page = browser.get(reverse(at, args=[job.number])).content.decode()
    assert f'id="why-{to}"' in page
    assert "another studio" in page
    press(job, to, why="other_studio", words=" theirs was free on the day ")
    assert (job.stage, job.lost_why, job.lost_words) == (
        to, "other_studio", "theirs was free on the day",
    )  # fmt: skip
    line = LogEntry.objects.order_by("-pk").first()
    assert line
    assert line.what == f"Now {to}: another studio, theirs was free on the day"


def test_nobody_has_to_say_why(access: Access, press: SubmittedForm) -> None:
    job = press(offered(access, 300), "lapsed")
    assert (job.stage, job.lost_why, job.lost_words) == ("lapsed", "", "")


@pytest.mark.parametrize(
    ("said", "says"),
    [
        ({"why": "moonlight"}, "Why: expected one of those on the list, got “moonlight”."),
        ({"words": "x" * 201}, "Words: expected at most 200 letters, got 201."),
    ],
)
def test_a_reason_that_is_not_on_the_list_moves_nothing(
    browser: Browser, access: Access, said: dict[str, str], says: str
) -> None:
    job = offered(access, 300)
    at = reverse("jobs:stage", args=[job.number])
    assert says in browser.post(at, {"to": "declined", **said}, follow=True).content.decode()
    job.refresh_from_db()
    assert job.stage == "offered"


def test_a_job_that_is_opened_again_has_no_reason_any_more(
    access: Access, press: SubmittedForm
) -> None:
    job = press(offered(access, 300), "declined", why="price", words="too dear")
    press(job, "enquiry", why="price")
    assert (job.stage, job.lost_why, job.lost_words) == ("enquiry", "", "")


def test_crew_end_no_job(crew: Access, access: Access) -> None:
    job = offered(access, 300)
    signed_in(crew).post(reverse("jobs:stage", args=[job.number]), {"to": "declined"})
    job.refresh_from_db()
    assert job.stage == "offered"

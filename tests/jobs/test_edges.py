"""The last day and the day after: what stands, what is due, what holds; and whose day it is."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.urls import reverse
from django.utils import timezone

from jobs.models import Job, Offer
from jobs.next_steps import StepFacts, next_steps_for
from jobs.proposal.accepting import CannotAccept, ClientYes, accept_offer, why_not_acceptable
from jobs.proposal.client_activity import activity_of
from jobs.proposal.offering import Words, send_offer
from pricing.book.price_book import NoRates, book_for, books_since
from pricing.core.instalments import Due, standing_on
from pricing.core.money import Money
from pricing.core.supply_keys import parse_key
from pricing.models import Pack, Price, RateCard, Supplier
from pricing.stores.buy_plan import packs_for
from studio.access import Access
from tests.conftest import signed_in
from tests.factories import a_designed_job

TODAY = date(2026, 6, 1)
DAY = timedelta(days=1)


@pytest.fixture
def offer(access: Access) -> Offer:
    """Sent now; its event forty days ahead, its answer within twenty-one."""
    job = a_designed_job(access)
    return send_offer(
        access, job, Words(greeting="", note=""), at=timezone.now(), link_for=lambda token: f"/o/{token}/"
    )  # fmt: skip


YES = ClientYes(name="R", wording="I accept.", address=None, agent="")


# The last day of a proposal


def test_a_proposal_stands_on_its_last_day_and_not_the_day_after(
    access: Access, offer: Offer
) -> None:
    last = offer.stands_until
    assert last == timezone.localdate() + 21 * DAY
    assert why_not_acceptable(access, offer, on=last) == ""
    assert "has lapsed" in why_not_acceptable(access, offer, on=last + DAY)
    assert activity_of(offer, on=last).lapsed_on is None
    assert activity_of(offer, on=last + DAY).lapsed_on == last


def test_it_is_accepted_on_the_day_of_the_event_and_not_the_day_after(
    access: Access, offer: Offer
) -> None:
    offer.stands_until += 90 * DAY  # of this copy alone: the row is written once
    starts = timezone.localtime(offer.job.event_start).date()
    assert why_not_acceptable(access, offer, on=starts) == ""
    assert why_not_acceptable(access, offer, on=starts + DAY) == "The day of this event is over."


@pytest.mark.parametrize(("hours", "stands"), [(27, True), (28.9, True), (29.1, False)])
def test_the_last_day_is_the_studios(access: Access, hours: float, stands: bool) -> None:
    """New York is five hours behind UTC in winter (IANA tz database): its evening is the next day there."""
    sent = datetime(2031, 1, 2, 12, tzinfo=UTC)
    starts = sent + 40 * DAY
    access.studio.timezone = "America/New_York"
    access.studio.save()
    job = a_designed_job(access, event_start=starts, event_end=starts + timedelta(hours=4))
    words = Words(greeting="", note="")
    offer = send_offer(access, job, words, at=sent, link_for=lambda token: f"/o/{token}/")
    at = datetime.combine(offer.stands_until, datetime.min.time(), UTC) + timedelta(hours=hours)
    if stands:
        assert accept_offer(access, offer, YES, at=at).at == at
    else:
        with pytest.raises(CannotAccept, match="lapsed"):
            accept_offer(access, offer, YES, at=at)


@pytest.mark.parametrize(
    ("stage", "says"),
    [("lapsed", "has lapsed"), ("declined", "was declined"), ("called_off", "was called off"), ("offered", "")],
)  # fmt: skip
def test_a_job_that_ended_is_not_accepted(
    access: Access, offer: Offer, stage: str, says: str
) -> None:
    offer.job.stage = stage
    told = why_not_acceptable(access, offer, on=timezone.localdate())
    assert (says in told) if says else told == ""


# Due today


def gbp(amount: int) -> Money:
    return Money(Decimal(amount), "GBP")


PLAN = (Due(what="deposit", on=TODAY, amount=gbp(30)), Due(what="balance", on=TODAY + 9 * DAY, amount=gbp(70)))  # fmt: skip


def told_on(on: date, **facts: Any) -> list[tuple[str, bool]]:
    noon = datetime(2026, 6, 20, 12, tzinfo=UTC)
    known: dict[str, Any] = {
        "stage": "offered", "on": on, "event_start": noon, "event_end": noon, "designed": True, "latex_asked": True,
        "answer_until": None, "standing": standing_on(PLAN, [], on=on, currency="GBP"), **facts,
    }  # fmt: skip
    waits = next_steps_for(
        StepFacts(**known), lambda m: f"£{m.amount:.0f}", lambda d: f"{d.day} June"
    )
    return [(wait.what, wait.late) for wait in waits]


@pytest.mark.parametrize(
    ("days", "says", "late"),
    [
        (-1, "deposit of £30, due 1 June", False), (0, "deposit of £30, due today", False),
        (1, "deposit of £30, 1 day overdue", True), (2, "deposit of £30, 2 days overdue", True),
    ],
)  # fmt: skip
def test_what_is_due_today_is_not_late_and_tomorrow_it_is(days: int, says: str, late: bool) -> None:
    found = told_on(TODAY + days * DAY)
    assert (says, late) in found
    assert ("balance of £70, due 10 June", False) in found
    assert bool(standing_on(PLAN, [], on=TODAY + days * DAY, currency="GBP").overdue) is late


@pytest.mark.parametrize(
    ("days", "says", "late"), [(-1, "until 1 June", False), (0, "until 1 June", False), (1, "lapsed on 1 June", True)]
)  # fmt: skip
def test_an_answer_is_waited_for_through_its_last_day(days: int, says: str, late: bool) -> None:
    found = told_on(TODAY + days * DAY, standing=None, answer_until=TODAY)
    assert found == [(f"the client’s answer, {says}", late)]


@pytest.mark.parametrize(("day", "late"), [(19, False), (20, False), (21, True)])
@pytest.mark.parametrize(("stage", "what"), [("booked", "picking and packing"), ("ready", "the set-up"), ("up", "the take-down")])  # fmt: skip
def test_work_is_late_the_day_after_the_event(day: int, late: bool, stage: str, what: str) -> None:
    assert told_on(date(2026, 6, day), stage=stage, standing=None) == [(what, late)]


def test_what_is_down_is_closed_when_there_is_time_and_its_minutes_are_asked() -> None:
    late = date(2026, 7, 1)
    assert told_on(late, stage="down", standing=None) == [("the job to be closed", False)]
    assert told_on(late, stage="down", standing=None, timed=False) == [
        ("the minutes it took", False), ("the job to be closed", False),
    ]  # fmt: skip


@pytest.mark.parametrize("stage", ["enquiry", "priced", "offered", "booked", "ready", "closed"])
def test_latex_is_asked_about_until_it_is_packed(stage: str) -> None:
    asked = told_on(TODAY, stage=stage, standing=None, latex_asked=False)
    assert (("somebody to ask about latex allergies", False) in asked) is (
        stage not in ("ready", "closed")
    )


def test_a_question_stands_first_and_is_late_at_once() -> None:
    found = told_on(TODAY, asked_on=TODAY)
    assert found[0] == ("your answer to a question of 1 June", True)


@pytest.mark.parametrize("stage", ["lapsed", "declined"])
def test_what_ended_asks_for_no_money_here(stage: str) -> None:
    assert told_on(TODAY, stage=stage) == []


def test_what_was_called_off_still_asks_for_what_is_owed() -> None:
    asked = [words for words, _ in told_on(TODAY, stage="called_off")]
    assert any(words.startswith("deposit of") for words in asked)
    assert told_on(TODAY, stage="called_off", standing=None) == []


def test_before_a_price() -> None:
    assert told_on(TODAY, stage="enquiry", standing=None)[0] == ("a price", False)
    assert told_on(TODAY, stage="enquiry", standing=None, designed=False)[0] == ("a design", False)
    assert told_on(TODAY, stage="priced", standing=None) == [("a proposal to the client", False)]
    assert told_on(TODAY, stage="offered", standing=None) == []


# The first day of a price and the last of a pack


def test_prices_and_rates_hold_from_their_day(access: Access) -> None:
    price = Price.objects.select_related("supply").filter(supply__key="balloon/11 in").get()
    access.add(
        Price, supply=price.supply, valid_from=TODAY, pack_count=Decimal(10), pack_price=Decimal(99)
    )
    card = RateCard.objects.get()
    card.pk, card.valid_from, card.workshop_hour = None, TODAY, Decimal(77)
    card._state.adding = True
    card.save()
    back = books_since(access)
    for on, pack, hour in (
        (TODAY - DAY, price.pack_price, None),
        (TODAY, 99, 77),
        (TODAY + DAY, 99, 77),
    ):
        for book in (book_for(access, on), back(on)):
            found = book.find(parse_key("balloon/11 in/ivory"))
            assert found
            assert found.pack_price == pack
            assert (book.rates.workshop_hour == 77) is (hour == 77)


def test_before_the_first_rates_there_are_none_and_looking_back_takes_the_first(
    access: Access,
) -> None:
    RateCard.objects.update(valid_from=TODAY)
    with pytest.raises(NoRates, match=r"expected some in force on 2026-05-31, got none"):
        book_for(access, TODAY - DAY)
    assert books_since(access)(TODAY - DAY).rates == book_for(access, TODAY).rates
    later = RateCard.objects.get()
    later.pk, later.valid_from, later.workshop_hour = None, TODAY + 9 * DAY, Decimal(77)
    later._state.adding = True
    later.save()
    assert books_since(access)(TODAY - DAY).rates == book_for(access, TODAY).rates
    assert books_since(access)(TODAY - DAY).rates.workshop_hour != 77
    RateCard.objects.all().delete()
    with pytest.raises(NoRates):
        books_since(access)


@pytest.mark.parametrize(("percent", "work", "codes"), [("0", None, ("Z", None)), ("20", "20", ("S", None)), ("20", "0", ("S", "Z"))])  # fmt: skip
def test_a_rate_of_nothing_is_zero_rated(
    access: Access, percent: str, work: str | None, codes: tuple[str, str | None]
) -> None:
    """UNCL 5305: S standard, Z zero rated."""
    RateCard.objects.update(tax_percent=Decimal(percent), work_tax_percent=work and Decimal(work))
    book = book_for(access, timezone.localdate())
    assert (book.tax.code, book.work_tax and book.work_tax.code) == codes


def test_a_pack_is_sold_from_its_first_day_to_its_last(access: Access) -> None:
    Pack.objects.all().delete()
    supplier = access.add(Supplier, name="Depot")
    access.add(
        Pack, supplier=supplier, code="A", name="A", contents={"balloon/11 in": 50}, price=Decimal(9),
        valid_from=TODAY, valid_until=TODAY + 2 * DAY,
    )  # fmt: skip
    found = [
        bool(packs_for(access, ["balloon/11 in/ivory"], on=TODAY + n * DAY)) for n in range(-1, 4)
    ]
    assert found == [False, True, True, True, False]
    Pack.objects.update(valid_until=None)
    assert packs_for(access, ["balloon/11 in/ivory"], on=TODAY + 999 * DAY)


# Money's page on the day


def test_money_shows_what_is_due_today_among_what_is_coming(access: Access, offer: Offer) -> None:
    accept_offer(access, offer, YES, at=timezone.now())
    on = date.fromisoformat(offer.schedule[0]["on"])
    noon = datetime(on.year, on.month, on.day, 12, tzinfo=UTC)
    for days, list_ in ((0, "coming"), (1, "overdue")):
        with time_machine.travel(noon + days * DAY, tick=False):
            shown = signed_in(access).get(reverse("jobs:money")).context
            assert "deposit" in [due.what for due, *_ in shown[list_]], days
    assert Job.objects.get().stage in ("offered", "accepted")

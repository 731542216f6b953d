"""Calling off after the yes: figures, papers, stores, books."""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from jobs.models import Cancellation, Invoice, Job, LogEntry, Offer
from jobs.money.bookkeeping import DEPOSITS, RECEIVABLE, books
from jobs.money.cancelling import (
    CancellationPapers,
    CannotCancel,
    cancel_job,
    days_before,
    preview_cancellation,
)
from jobs.money.invoicing import CannotInvoice, credit_invoice, issue_invoice
from jobs.money.ledger import record_payment, standing_of
from jobs.proposal.accepting import ClientYes, accept_offer
from jobs.proposal.offering import Words, send_offer
from jobs.records import record_faults
from pricing.core.money import Money
from pricing.models import KitBooking, KitItem, Reservation
from studio.access import Access
from studio.append_only import lower_guards, raise_guards
from studio.models import OutgoingMail
from tests.conftest import signed_in
from tests.factories import a_designed_job

TODAY = date(2026, 6, 1)


@pytest.fixture
def taxed(access: Access) -> Access:
    access.studio.tax_number = "GB 123456789"
    access.studio.save()
    return access


def an_accepted_job(access: Access, *, days: int = 40, **facts: Any) -> Job:
    start = timezone.now() + timedelta(days=days)
    job = a_designed_job(access, event_start=start, event_end=start + timedelta(hours=5), **facts)
    words = Words(greeting="Dear you,", note="")
    offer = send_offer(access, job, words, at=timezone.now(), link_for=lambda token: f"/o/{token}/")
    yes = ClientYes(name="R", wording="I accept.", address=None, agent="")
    accept_offer(access, offer, yes, at=timezone.now())
    job.refresh_from_db()
    return job


def pay(access: Access, job: Job, amount: object, **facts: Any) -> None:
    record_payment(access, job, on=timezone.localdate(), amount=Decimal(str(amount)), how="transfer", reference="", **facts)  # fmt: skip
    job.refresh_from_db()


@pytest.fixture
def job(taxed: Access) -> Job:
    """Accepted, 40 days ahead: half is kept by the usual scale."""
    return an_accepted_job(taxed)


def off(
    access: Access, job: Job, percent: str | None = None, on: date | None = None
) -> Cancellation:
    share, day = Decimal(percent) if percent else None, on or timezone.localdate()
    seen = preview_cancellation(access, job, on=day, percent=share).seen
    row = cancel_job(access, job, on=day, percent=share, why="moved away", seen=seen)
    job.refresh_from_db()
    return row


def invoiced(job: Job) -> Decimal:
    return sum(
        (-row.total if row.kind == "credit" else row.total for row in job.invoices.all()),
        Decimal(0),
    )


def standing(access: Access, job: Job) -> Any:
    rich = access.rows(Job).with_money().get(pk=job.pk)
    return standing_of(rich, on=timezone.localdate(), currency="GBP")


def test_with_nothing_invoiced_the_kept_part_is(taxed: Access, job: Job) -> None:
    total = standing(taxed, job).total
    row = off(taxed, job)
    half = total.percent(Decimal(50))
    assert 0 <= (half - Money(row.kept, "GBP")).minor <= 1
    assert (row.days_before, row.kept_percent, row.refund) == (40, 50, 0)
    paper = Invoice.objects.get()
    assert (paper.kind, paper.total) == ("invoice", row.kept)
    assert "called off" in paper.xml
    assert job.stage == "called_off"
    assert list(record_faults(taxed)) == []


def test_what_is_invoiced_beyond_it_is_credited(taxed: Access, job: Job) -> None:
    first = issue_invoice(taxed, job, on=timezone.localdate())
    row = off(taxed, job)
    assert invoiced(job) == row.kept
    note = Invoice.objects.get(kind="credit")
    assert note.of == first
    assert "moved away" in note.why


@pytest.mark.parametrize("percent", ["0", "1", "12.5", "33.33", "49.99"])
@pytest.mark.parametrize("papers", ["none", "whole", "part credited"])
def test_books_and_ledger_agree_to_the_penny(
    taxed: Access, job: Job, percent: str, papers: str
) -> None:
    if papers != "none":
        first = issue_invoice(taxed, job, on=TODAY)
        if papers == "part credited":
            credit_invoice(taxed, first, Decimal("33.33"), "two minis fewer", on=TODAY)
    pay(taxed, job, "61.17")
    row = off(taxed, job, percent)
    now = standing(taxed, job)
    assert invoiced(job) == row.kept == now.total.amount
    assert row.kept + row.refund - now.left.amount == Decimal("61.17")
    assert now.over.amount == row.refund


def accounts(access: Access) -> tuple[Decimal, Decimal]:
    """Receivable and deposits after all that was written down."""
    made = books(access, since=TODAY, until=date.max)
    assert made.agrees
    return made.after(RECEIVABLE).amount, made.after(DEPOSITS).amount


def test_what_is_given_back_after_a_call_off_leaves_no_account_open(
    taxed: Access, job: Job
) -> None:
    pay(taxed, job, 500)
    row = off(taxed, job, "10")
    assert accounts(taxed) == (-row.refund, 0)
    pay(taxed, job, -row.refund, kind="refund")
    assert accounts(taxed) == (0, 0)


def test_what_bounces_after_a_call_off_is_owed_again(taxed: Access, job: Job) -> None:
    pay(taxed, job, 100)
    row = off(taxed, job, "10")
    pay(taxed, job, -100, kind="bounced", of=job.payments.get())
    assert accounts(taxed) == (row.kept, 0)
    assert standing(taxed, job).left.amount == row.kept


def test_all_of_a_part_credited_invoice_stays_when_all_is_kept(taxed: Access) -> None:
    job = an_accepted_job(taxed, days=3)
    first = issue_invoice(taxed, job, on=TODAY)
    credit_invoice(taxed, first, Decimal("33.33"), "two minis fewer", on=TODAY)
    before = invoiced(job)
    row = off(taxed, job)
    assert row.kept == before == invoiced(job)


def test_nothing_kept_is_nothing_whatever_was_credited_before(taxed: Access) -> None:
    # 200.01 at 20 % is 40.00 (40.002). 1.03 with its 0.21 leaves 198.98 and 39.79, whose own tax is 39.80: a credit
    # note of both would come to a penny more than was left. Such a part is refused, with its neighbours named.
    whole, found = Decimal(Offer.objects.get(job=an_accepted_job(taxed)).figures["net"]), 0
    for pennies in (102, 103, 104):
        job = an_accepted_job(taxed, discount=whole - Decimal("200.01"))
        first = issue_invoice(taxed, job, on=TODAY)
        assert (first.net, first.total) == (Decimal("200.01"), Decimal("240.01"))
        pay(taxed, job, first.total)
        try:
            note = credit_invoice(taxed, first, Decimal(pennies) / 100, "a candle fewer", on=TODAY)
        except CannotInvoice as reason:
            assert "£1.02 or £1.04" in str(reason)
            continue
        found += 1
        row = off(taxed, job, "0")
        assert (row.kept, row.refund, invoiced(job)) == (0, first.total, 0)
        assert note.total < row.refund
        pay(taxed, job, -row.refund, kind="refund")
        assert accounts(taxed) == (0, 0)
    assert found == 2


def test_the_database_keeps_nothing_below_zero(access: Access, job: Job) -> None:
    facts = {"on": TODAY, "days_before": 3, "kept_percent": 0, "who": access.person}
    for name in ("kept", "refund"):
        amounts = {"kept": 0, "refund": 0, name: Decimal("-0.01")}
        with pytest.raises(IntegrityError, match="call_off_not_below_zero"), transaction.atomic():
            access.add(Cancellation, job=job, **facts, **amounts)


def test_more_credited_than_invoiced_is_told_and_nothing_is_done(
    taxed: Access, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    papers = CancellationPapers(credits=(), invoice=(), kept=Money(Decimal("-0.01"), "GBP"))
    monkeypatch.setattr("jobs.money.cancelling.cancellation_papers", lambda *_: papers)
    with pytest.raises(CannotCancel, match=r"expected nothing below zero, got -£0\.01"):
        preview_cancellation(taxed, job, on=TODAY)


def test_after_a_call_off_only_what_is_kept_is_due(taxed: Access, job: Job) -> None:
    row = off(taxed, job)
    now = standing(taxed, job)
    assert [due.what for due in now.due] == ["amount kept after the call-off"]
    assert now.due[0].amount.amount == row.kept
    assert now.overdue == ()


def test_kit_and_supplies_are_free_again(taxed: Access) -> None:
    for key, mark in (("weight/ballast", "1"), ("weight/ballast", "2"), ("frame/ring", "1")):
        taxed.add(KitItem, key=key, name=key, mark=mark)
    job = an_accepted_job(taxed)
    pay(taxed, job, standing(taxed, job).total.amount)
    assert job.stage == "booked"
    assert Reservation.objects.filter(holder__job=job).exists()
    off(taxed, job)
    assert not Reservation.objects.exists()
    assert not KitBooking.objects.exists()


def test_the_client_gets_a_letter_with_the_figures_and_the_paper(taxed: Access, job: Job) -> None:
    row = off(taxed, job)
    letter = OutgoingMail.objects.get(kind="called-off")
    assert letter.to == job.client.mail
    assert f"Kept by our scale: £{row.kept:,.2f}" in letter.body
    assert "Still to be paid" in letter.body
    assert bytes(letter.attachment or b"").startswith(b"%PDF")
    other = an_accepted_job(taxed, client__mail="")
    off(taxed, other)
    assert OutgoingMail.objects.filter(kind="called-off").count() == 1


@pytest.mark.parametrize(
    ("starts", "zone", "days"),
    [
        # 23:30 UTC on 27 March is 00:30 on the 28th in Lisbon's summer, 23:30 still before 29 March 2026;
        # clocks of Europe change on 29 March 2026 (IANA tz database).
        (datetime(2026, 4, 10, 23, 30, tzinfo=UTC), "Europe/London", 10),
        (datetime(2026, 3, 28, 23, 30, tzinfo=UTC), "Europe/London", -4),
        (datetime(2026, 4, 11, 3, 30, tzinfo=UTC), "America/New_York", 9),
    ],
)
def test_days_are_counted_in_the_studios_zone(
    taxed: Access, starts: datetime, zone: str, days: int
) -> None:
    taxed.studio.timezone = zone
    job = an_accepted_job(taxed)
    Job.objects.filter(pk=job.pk).update(event_start=starts, event_end=starts)
    assert preview_cancellation(taxed, job, on=date(2026, 4, 1)).days_before == days


def test_less_may_be_kept_and_never_more(taxed: Access, job: Job) -> None:
    assert (
        preview_cancellation(
            taxed, job, on=timezone.localdate(), percent=Decimal(0)
        ).settled.kept.amount
        == 0
    )
    with pytest.raises(CannotCancel, match="at most the 50 % of your scale, got 51"):
        preview_cancellation(taxed, job, on=timezone.localdate(), percent=Decimal(51))


@pytest.mark.parametrize("stage", ["up", "down", "closed", "called_off"])
def test_what_stands_or_is_over_is_not_called_off(taxed: Access, job: Job, stage: str) -> None:
    Job.objects.update(stage=stage)
    with pytest.raises(CannotCancel, match="not called off any more"):
        preview_cancellation(taxed, job, on=TODAY)


def test_before_a_yes_the_button_stays_as_it_was(browser: Browser, taxed: Access) -> None:
    job = a_designed_job(taxed, stage="offered")
    page = browser.get(reverse("jobs:build", args=[job.number])).content.decode()
    assert 'value="called_off"' in page
    assert reverse("jobs:call-off", args=[job.number]) not in page
    with pytest.raises(CannotCancel, match="Nothing was accepted yet"):
        preview_cancellation(taxed, job, on=TODAY)
    browser.post(reverse("jobs:stage", args=[job.number]), {"to": "called_off"})
    job.refresh_from_db()
    assert job.stage == "called_off"


def test_after_a_yes_the_button_leads_to_the_page(browser: Browser, job: Job) -> None:
    at = reverse("jobs:call-off", args=[job.number])
    for name in ("jobs:build", "jobs:proposal"):
        page = browser.get(reverse(name, args=[job.number])).content.decode()
        assert 'value="called_off"' not in page
        assert at in page
    assert browser.post(reverse("jobs:stage", args=[job.number]), {"to": "called_off"}).url == at  # type: ignore[attr-defined]
    job.refresh_from_db()
    assert job.stage == "accepted"


def typed(page: Any, **changes: str) -> dict[str, str]:
    return {"on": timezone.localdate().isoformat(), "percent": "", "why": "moved away", "do": "call-off",
            "seen": page.context["shown"].seen, "form_key": str(uuid.uuid4()), **changes}  # fmt: skip


def test_the_page_shows_first_then_does_it_once_and_offers_the_refund(
    browser: Browser, taxed: Access, job: Job
) -> None:
    pay(taxed, job, standing(taxed, job).total.amount)
    at = reverse("jobs:call-off", args=[job.number])
    page = browser.get(at)
    assert "local consumer law comes first" in page.content.decode()
    assert "An invoice of" in page.content.decode()
    told = typed(page)
    looked = browser.post(at, {**told, "do": "look", "percent": "10"})
    assert looked.context["shown"].settled.percent == 10
    assert not Cancellation.objects.exists()
    for _ in range(3):
        answer = browser.post(at, told)
    assert Cancellation.objects.count() == Invoice.objects.count() == 1
    row = Cancellation.objects.get()
    assert row.refund > 0
    form = browser.get(answer.url).context["form"]  # type: ignore[attr-defined]
    assert (form["kind"].value(), Decimal(form["amount"].value())) == ("refund", row.refund)
    money = browser.get(reverse("jobs:money"))
    assert [(over.amount, found.pk) for over, found in money.context["back"]] == [
        (row.refund, job.pk)
    ]
    pay(taxed, job, -row.refund, kind="refund")
    assert browser.get(reverse("jobs:money")).context["back"] == []
    assert standing(taxed, job).due == ()


def test_what_is_still_owed_shows_on_money(browser: Browser, taxed: Access, job: Job) -> None:
    row = off(taxed, job)
    coming = browser.get(reverse("jobs:money")).context["coming"]
    assert [(due.amount.amount, found.pk) for due, found, _ in coming] == [(row.kept, job.pk)]
    page = browser.get(reverse("jobs:payment", args=[job.number])).content.decode()
    assert "Kept after the call-off" in page
    assert "is kept by your scale" in page


def test_figures_that_changed_in_between_are_shown_again(
    browser: Browser, taxed: Access, job: Job
) -> None:
    at = reverse("jobs:call-off", args=[job.number])
    told = typed(browser.get(at))
    pay(taxed, job, standing(taxed, job).total.amount)
    answer = browser.post(at, told)
    assert answer.status_code == 422
    assert "The figures changed in between" in answer.content.decode()
    assert not Cancellation.objects.exists()
    again = {**told, "seen": answer.context["shown"].seen}
    assert browser.post(at, again).status_code == 302


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("on", (timezone.now() + timedelta(days=9)).date().isoformat(), "expected today or a day before"),
        ("percent", "plenty", "Enter a number"),
        ("percent", "60", "at most the 50 % of your scale, got 60"),
    ],
)  # fmt: skip
def test_garbage_gets_a_sentence(
    browser: Browser, job: Job, field: str, value: str, says: str
) -> None:
    at = reverse("jobs:call-off", args=[job.number])
    answer = browser.post(at, typed(browser.get(at), **{field: value}))
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert "moved away" in answer.content.decode()
    assert not Cancellation.objects.exists()


def test_without_a_tax_number_nothing_is_half_done(browser: Browser, access: Access) -> None:
    job = an_accepted_job(access)
    at = reverse("jobs:call-off", args=[job.number])
    answer = browser.post(at, typed(browser.get(at)))
    assert "has no tax number" in answer.content.decode()
    job.refresh_from_db()
    assert (job.stage, Cancellation.objects.count(), OutgoingMail.objects.filter(kind="called-off").count()) == (
        "accepted", 0, 0,
    )  # fmt: skip


def test_crew_and_strangers_keep_out(
    crew: Access, stranger: Access, browser: Browser, job: Job
) -> None:
    for name in ("jobs:call-off", "jobs:postpone", "jobs:statement"):
        at = reverse(name, args=[job.number])
        assert signed_in(crew).get(at).status_code == 403
        assert signed_in(stranger).get(at).status_code == 404
    assert browser.put(reverse("jobs:call-off", args=[job.number])).status_code == 405


def test_a_changed_settlement_is_found(taxed: Access, job: Job) -> None:
    off(taxed, job)
    assert LogEntry.objects.filter(what__startswith="Called off 40 days before").exists()
    lower_guards()
    try:
        with connection.cursor() as cursor:
            cursor.execute("UPDATE jobs_cancellation SET kept = kept + 1")
        assert "settled at the call-off is missing or was changed" in " ".join(record_faults(taxed))
        Cancellation.objects.all().delete()
        assert "settled at the call-off is missing" in " ".join(record_faults(taxed))
    finally:
        raise_guards()


def test_days_in_words() -> None:
    assert [days_before(n) for n in (12, 1, 0, -1)] == [
        "12 days before the event", "1 day before the event", "on the day of the event", "after the event",
    ]  # fmt: skip


def test_the_scale_that_was_agreed_holds_whatever_the_studio_writes_later(
    taxed: Access, job: Job
) -> None:
    offer = taxed.rows(Offer).get(job=job)
    assert "we keep 50 % of the total" in offer.article
    before = preview_cancellation(taxed, job, on=timezone.localdate())
    taxed.studio.call_off_scale = [["0", "100"]]
    taxed.studio.save()
    assert preview_cancellation(taxed, job, on=timezone.localdate()).settled == before.settled


def test_accepted_jobs_are_those_that_stand_and_those_called_off_by_the_scale(
    taxed: Access, job: Job
) -> None:
    a_designed_job(taxed)
    gone = an_accepted_job(taxed)
    Job.objects.filter(pk=gone.pk).update(stage="declined")
    ended = an_accepted_job(taxed)
    off(taxed, ended)
    assert set(taxed.rows(Job).accepted()) == {job, ended}

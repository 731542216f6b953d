"""Reminders: on their days, never twice, stopped by one press, none lost when the mail server goes away."""

from __future__ import annotations

import email
import email.policy
import io
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from jobs.closing import close_job
from jobs.day.moving_event import move_event
from jobs.models import Acceptance, Client, Job, LogEntry, Offer
from jobs.money import reminding
from jobs.money.cancelling import cancel_job, preview_cancellation
from jobs.money.ledger import record_payment
from jobs.money.reminding import CATCH_UP, remind_daily, reminders_on, write_reminders
from jobs.proposal.accepting import ClientYes, accept_offer
from jobs.proposal.links import shown_again, stop_token, withdraw_offer_link
from jobs.proposal.offering import Words, send_offer
from jobs.records import record_faults
from pricing.core.instalments import Due
from pricing.core.money import Money, write_money
from studio.access import Access
from studio.mail import BACK_OFF, mime_message, send_waiting
from studio.models import OutgoingMail, Studio
from tests.conftest import signed_in
from tests.factories import JobFactory, a_designed_job
from tests.studio.test_mail_server import Mailbox, Server, mailbox  # noqa: F401  a fixture

DAYS = [-7, 2, 10]


def due(on: date, what: str = "balance") -> Due:
    return Due(what=what, on=on, amount=Money(Decimal(100), "GBP"))


def days_of(one: Due, *, begin: date, end: date, after: date = date.min) -> list[tuple[date, int]]:
    """Every day of a stretch on which something new would be written, when it is asked daily."""
    found: list[tuple[date, int]] = []
    on = begin
    while on <= end:
        for reminder in reminders_on([one], DAYS, on=on, after=after):
            if all(days != reminder.days for _, days in found):
                found.append((on, reminder.days))
        on += timedelta(days=1)
    return found


@pytest.mark.parametrize(
    ("on", "expected"),
    [
        # The proleptic Gregorian calendar, worked by hand: month ends, a leap year and one that is none.
        (date(2026, 5, 5), [date(2026, 4, 28), date(2026, 5, 7), date(2026, 5, 15)]),
        (date(2026, 12, 30), [date(2026, 12, 23), date(2027, 1, 1), date(2027, 1, 9)]),
        (date(2028, 2, 27), [date(2028, 2, 20), date(2028, 2, 29), date(2028, 3, 8)]),
        (date(2027, 2, 27), [date(2027, 2, 20), date(2027, 3, 1), date(2027, 3, 9)]),
        # London's clocks go forward on 29 March and back on 25 October 2026 (tz database).
        (date(2026, 3, 27), [date(2026, 3, 20), date(2026, 3, 29), date(2026, 4, 6)]),
        (date(2026, 10, 23), [date(2026, 10, 16), date(2026, 10, 25), date(2026, 11, 2)]),
    ],
)  # fmt: skip
def test_days_are_counted_on_the_calendar(on: date, expected: list[date]) -> None:
    found = days_of(due(on), begin=on - timedelta(days=30), end=on + timedelta(days=30))
    assert found == list(zip(expected, DAYS, strict=True))


def test_a_worker_that_was_away_catches_up_three_days_and_no_more() -> None:
    one, day = due(date(2026, 5, 20)), date(2026, 5, 22)
    for late in range(4):
        on = day + timedelta(days=late)
        assert [r.days for r in reminders_on([one], DAYS, on=on, after=date.min)] == [2]
    assert timedelta(days=3) == CATCH_UP
    assert not list(reminders_on([one], DAYS, on=day + timedelta(days=4), after=date.min))


def test_of_several_that_were_missed_only_the_last_is_written() -> None:
    found = list(reminders_on([due(date(2026, 5, 20))], [-1, 0, 1], on=date(2026, 5, 21), after=date.min))  # fmt: skip
    assert [r.days for r in found] == [1]


def test_what_lies_before_the_yes_is_not_made_up_for() -> None:
    one = due(date(2026, 5, 20))  # a week ahead is the 13th
    said_yes = date(2026, 5, 14)
    assert not list(reminders_on([one], DAYS, on=said_yes, after=said_yes))
    assert [r.days for r in reminders_on([one], DAYS, on=said_yes, after=date(2026, 5, 13))] == [-7]


# --- with jobs ---


@pytest.fixture
def job(access: Access) -> Job:
    return accepted(access)


def accepted(access: Access, **facts: Any) -> Job:
    job = a_designed_job(access, **facts)
    words = Words(greeting="Dear you,", note="")
    offer = send_offer(
        access,
        job,
        words,
        at=timezone.now(),
        link_for=lambda token: f"https://x.example/o/{token}/",
    )
    yes = ClientYes(name="R", wording="I accept.", address=None, agent="")
    accept_offer(access, offer, yes, at=timezone.now())
    OutgoingMail.objects.update(state="sent")
    return job


def due_on(job: Job, what: str = "deposit") -> date:
    (one,) = [d for d in Offer.objects.get(job=job).schedule if d["what"] == what]
    return date.fromisoformat(one["on"])


def reminders() -> list[OutgoingMail]:
    return list(OutgoingMail.objects.filter(kind="reminder").order_by("pk"))


def test_what_is_kept_after_a_call_off_is_reminded_of(access: Access, job: Job) -> None:
    access.studio.tax_number = "GB 999 9999 73"
    access.studio.save()
    start = timezone.now() + timedelta(days=3)
    Job.objects.filter(pk=job.pk).update(event_start=start, event_end=start)
    on = timezone.localdate()
    shown = preview_cancellation(access, job, on=on)
    off = cancel_job(access, job, on=on, percent=None, why="", seen=shown.seen)
    for days in range(7 + DAYS[1]):  # due in a week; nothing before, and of the old plan nothing
        assert write_reminders(access, on=on + timedelta(days=days)) == 0
    late = on + timedelta(days=7 + DAYS[1])
    assert write_reminders(access, on=late) == 1
    (letter,) = reminders()
    assert f"the amount kept after the call-off for {job.title} was due on" in letter.body
    assert write_money(Money(off.kept, "GBP"), access.studio.language) in letter.body
    record_payment(access, job, on=on, amount=off.kept, how="transfer", reference="")
    assert write_reminders(access, on=on + timedelta(days=7 + DAYS[2])) == 0


def test_what_a_closed_job_owes_is_reminded_of(access: Access, job: Job) -> None:
    Job.objects.filter(pk=job.pk).update(stage="down")
    close_job(access, Job.objects.get(pk=job.pk))
    assert write_reminders(access, on=due_on(job) + timedelta(days=2)) == 1


def test_the_letter_says_how_much_until_when_and_where_to(access: Access, job: Job) -> None:
    Studio.objects.filter(pk=access.studio.pk).update(
        iban="DE71110220330123456789", bic="BHBLDEHHXXX"
    )
    access.studio.refresh_from_db()
    on = due_on(job) + timedelta(days=2)
    assert write_reminders(access, on=on) == 1
    (letter,) = reminders()
    offer = Offer.objects.get()
    assert letter.once_key == f"due:{offer.pk}:{due_on(job)}:2:deposit"
    assert letter.to == job.client.mail
    sent = mime_message(letter)
    figure = write_money(Money(Decimal(offer.schedule[0]["amount"]), "GBP"), "en-GB")
    for what in (figure, "was due on", str(due_on(job).year), "IBAN DE71110220330123456789, BIC BHBLDEHHXXX",
                 f"J{job.number:04d}", f"/o/{shown_again(offer.links.get())}/", job.client.name, access.studio.name):  # fmt: skip
        assert what in sent.body, what
    assert str(shown_again(offer.links.get())) not in str(vars(letter))
    assert LogEntry.objects.filter(job=job, what="Reminder of the deposit written").count() == 1
    assert list(record_faults(access)) == []


@pytest.mark.parametrize(
    ("days", "words"), [(-7, "falls due on"), (0, "falls due today"), (10, "was due on")]
)
def test_it_is_worded_for_its_day(access: Access, job: Job, days: int, words: str) -> None:
    access.studio.reminders = [days]
    assert write_reminders(access, on=due_on(job, "balance") + timedelta(days=days)) >= 1
    assert words in reminders()[-1].body


def test_never_twice_however_often_it_runs(access: Access, job: Job) -> None:
    on = due_on(job) + timedelta(days=2)
    assert [write_reminders(access, on=on + timedelta(days=n)) for n in (0, 0, 1, 2, 3, 4)] == [1, 0, 0, 0, 0, 0]  # fmt: skip
    assert write_reminders(access, on=on + timedelta(days=8)) == 1  # ten days late
    assert [letter.once_key.split(":")[3] for letter in reminders()] == ["2", "10"]


def test_after_another_day_was_found_the_new_due_date_is_reminded_of(
    access: Access, job: Job
) -> None:
    access.studio.reminders = [-7]
    balance = due_on(job, "balance")
    assert write_reminders(access, on=balance - timedelta(days=7)) == 1
    move_event(access, job, job.event_start + timedelta(days=60), why="")
    later = balance + timedelta(days=60)
    assert [write_reminders(access, on=later - timedelta(days=7)) for _ in range(2)] == [1, 0]
    assert str(later.year) in reminders()[-1].body
    assert [letter.once_key.split(":")[2] for letter in reminders()] == [str(balance), str(later)]


def test_a_part_that_was_paid_leaves_the_rest_and_all_of_it_nothing(
    access: Access, job: Job
) -> None:
    on, whole = due_on(job), Decimal(Offer.objects.get().schedule[0]["amount"])
    record_payment(
        access, job, on=timezone.localdate(), amount=Decimal(10), how="transfer", reference=""
    )
    assert write_reminders(access, on=on + timedelta(days=2)) == 1
    assert write_money(Money(whole - 10, "GBP"), "en-GB") in reminders()[0].body
    record_payment(
        access, job, on=timezone.localdate(), amount=whole - 10, how="transfer", reference=""
    )
    assert write_reminders(access, on=on + timedelta(days=10)) == 0


@pytest.mark.parametrize("why", ["stopped", "no mail", "called_off", "declined", "closed", "no plan", "no yes"])  # fmt: skip
def test_who_is_not_reminded(access: Access, job: Job, why: str) -> None:
    on = due_on(job) + timedelta(days=2)
    if why == "stopped":
        Client.objects.update(reminders_stopped_at=timezone.now())
    elif why == "no mail":
        Client.objects.update(mail="")
    elif why == "no plan":
        access.studio.reminders = []
    elif why == "no yes":
        other = a_designed_job(access)
        send_offer(access, other, Words(greeting="x", note=""), at=timezone.now(), link_for=str)
        Job.objects.filter(pk=job.pk).update(stage="closed")
    else:
        Job.objects.update(stage=why)
    assert write_reminders(access, on=on) == 0
    assert reminders() == []


def test_without_an_open_link_the_letter_brings_none(access: Access, job: Job) -> None:
    withdraw_offer_link(access, Offer.objects.get())
    write_reminders(access, on=due_on(job) + timedelta(days=2))
    (letter,) = reminders()
    assert "/o/" not in mime_message(letter).body
    assert "[the link]" not in mime_message(letter).body


def test_another_studios_jobs_are_its_own(access: Access, stranger: Access, job: Job) -> None:
    assert write_reminders(stranger, on=due_on(job) + timedelta(days=2)) == 0


# --- one press stops them ---


def stop_address(letter: OutgoingMail) -> str:
    return letter.stop_link.removeprefix("http://127.0.0.1:8000")


@pytest.fixture
def reminder(access: Access, job: Job) -> OutgoingMail:
    write_reminders(access, on=due_on(job) + timedelta(days=2))
    return reminders()[0]


@pytest.mark.parametrize(
    "site",
    ["http://127.0.0.1:8000", "https://a-studio-with-a-long-name.in-a-long-domain.example.com"],
)
def test_the_headers_let_a_mail_program_stop_them(
    access: Access, job: Job, settings: Any, site: str
) -> None:
    """RFC 2369, section 3.2, and RFC 8058, section 3.1, byte by byte as they go over the wire."""
    settings.SITE = site
    write_reminders(access, on=due_on(job) + timedelta(days=2))
    (reminder,) = reminders()
    assert reminder.stop_link.startswith(site + "/stop/")
    raw = mime_message(reminder).message(policy=email.policy.SMTP).as_bytes()
    head = raw.partition(b"\r\n\r\n")[0].split(b"\r\n")
    assert f"List-Unsubscribe: <{reminder.stop_link}>".encode() in head
    assert b"List-Unsubscribe-Post: List-Unsubscribe=One-Click" in head
    assert max(map(len, head)) <= 998  # RFC 5322, section 2.1.1
    assert reminder.stop_link in mime_message(reminder).body


def test_other_letters_carry_none(job: Job) -> None:
    assert (
        "List-Unsubscribe"
        not in mime_message(OutgoingMail.objects.filter(kind="offer")[0]).extra_headers
    )


def test_a_look_at_the_page_stops_nothing_and_its_button_does(
    reminder: OutgoingMail, job: Job
) -> None:
    at, client = stop_address(reminder), Browser(enforce_csrf_checks=True)
    page = client.get(at).content.decode()
    assert "Stop reminders?" in page
    assert 'name="List-Unsubscribe" value="One-Click"' in page
    assert Client.objects.get(pk=job.client_id).reminders_stopped_at is None
    done = client.post(at, {"List-Unsubscribe": "One-Click"})
    assert done.status_code == 200
    assert "No more reminders" in done.content.decode()
    stopped = Client.objects.get(pk=job.client_id).reminders_stopped_at
    assert stopped is not None
    client.post(at, {"List-Unsubscribe": "One-Click"})  # again: as it was
    assert Client.objects.get(pk=job.client_id).reminders_stopped_at == stopped
    assert LogEntry.objects.filter(what="Reminders stopped by the client").count() == 1


def test_what_is_no_such_press_stops_nothing(reminder: OutgoingMail, job: Job) -> None:
    at = stop_address(reminder)
    assert Browser().post(at, {}).status_code == 422
    for bad in ("nobody-knows", at.split("/")[2] + "x", f"{job.client_id}:forged"):
        assert Browser().post(f"/stop/{bad}/", {"List-Unsubscribe": "One-Click"}).status_code == 404
    assert Client.objects.get(pk=job.client_id).reminders_stopped_at is None


def test_a_token_stops_its_own_client_only(access: Access, job: Job) -> None:
    other = accepted(access)
    Browser().post(f"/stop/{stop_token(other.client)}/", {"List-Unsubscribe": "One-Click"})
    assert write_reminders(access, on=due_on(job) + timedelta(days=2)) == 1
    assert reminders()[0].to == job.client.mail


def test_the_brief_tells_and_the_office_allows_them_again(
    access: Access, crew: Access, reminder: OutgoingMail, job: Job
) -> None:
    at, browser = reverse("jobs:brief", args=[job.number]), signed_in(access)
    assert "reminders stopped on" not in browser.get(at).content.decode()
    Browser().post(stop_address(reminder), {"List-Unsubscribe": "One-Click"})
    assert "reminders stopped on" in browser.get(at).content.decode()
    allow = reverse("jobs:allow-reminders", args=[job.number])
    assert signed_in(crew).post(allow).status_code == 403
    assert browser.get(allow).status_code == 302
    browser.post(allow)
    assert "reminders stopped on" not in browser.get(at).content.decode()
    assert LogEntry.objects.filter(job=job, what="Reminders allowed again").exists()


# --- the worker and the command ---


@pytest.fixture
def fresh_worker(monkeypatch: Any) -> None:
    monkeypatch.setattr(reminding, "_done", {})


def test_the_worker_writes_from_nine_on_in_the_studios_zone(
    access: Access, job: Job, fresh_worker: None
) -> None:
    Studio.objects.filter(pk=access.studio.pk).update(timezone="Pacific/Auckland")
    day = due_on(job) + timedelta(days=2)
    # Auckland is 12 or 13 hours ahead of UTC: at 12:00 UTC it is past midnight there, at 21:30 past nine.
    remind_daily(at=datetime.combine(day - timedelta(days=1), datetime.min.time(), UTC) + timedelta(hours=12, minutes=30))  # fmt: skip
    assert reminders() == []
    remind_daily(at=datetime.combine(day - timedelta(days=1), datetime.min.time(), UTC) + timedelta(hours=21, minutes=30))  # fmt: skip
    assert len(reminders()) == 1


def test_a_round_that_was_done_is_not_asked_again_that_day(
    access: Access, job: Job, fresh_worker: None, monkeypatch: Any
) -> None:
    asked: list[date] = []
    monkeypatch.setattr(reminding, "write_reminders", lambda _, on: asked.append(on))
    noon = datetime(2026, 5, 4, 12, tzinfo=UTC)
    for hours in (0, 1, 2, 24, 25):
        remind_daily(at=noon + timedelta(hours=hours))
    assert asked == [date(2026, 5, 4), date(2026, 5, 5)]


def test_the_mail_worker_makes_the_round(access: Access, monkeypatch: Any) -> None:
    """A fault in it is told, and letters go all the same."""
    from studio.signals import before_sending

    monkeypatch.setattr(reminding, "_done", {})
    monkeypatch.setattr(reminding, "NOT_BEFORE", datetime.min.time())
    monkeypatch.setattr(reminding, "write_reminders", lambda *_, **__: 1 / 0)
    (told,) = [fault for _, fault in before_sending.send_robust(sender=None) if fault]
    assert isinstance(told, ZeroDivisionError)


def test_the_command_writes_for_a_day(access: Access, job: Job) -> None:
    out = io.StringIO()
    on = (due_on(job) + timedelta(days=2)).isoformat()
    call_command("write_reminders", on=on, stdout=out)
    call_command("write_reminders", on=on, stdout=out)
    assert out.getvalue() == f"{access.studio.name}: 1 written.\n{access.studio.name}: 0 written.\n"
    with pytest.raises(SystemExit):
        call_command("write_reminders", on="soon", stderr=io.StringIO())


def many_accepted(access: Access, many: int) -> date:
    """Jobs with the same offer and yes as the first one; answers when their deposits are due."""
    first = accepted(access)
    offer = Offer.objects.select_related("acceptance").get()
    facts = {
        name: getattr(offer, name) for name in ("version", "article", "design", "figures", "owner_figures", "schedule",
        "pdf", "pdf_sha256", "stands_until", "sent_at")
    }  # fmt: skip
    yes = {
        name: getattr(offer.acceptance, name) for name in ("name", "at", "pdf_sha256", "wording")
    }
    for _ in range(many - 1):
        job = JobFactory.create(studio=access.studio, stage="offered")
        access.add(Acceptance, offer=access.add(Offer, job=job, **facts), **yes)
    return due_on(first)


def test_two_hundred_reminders_none_lost_none_doubled_with_the_server_away_halfway(
    access: Access,
    mailbox: tuple[Mailbox, Server],  # noqa: F811
) -> None:
    """Fifty jobs on four days; the server goes after the second day and comes back after the fourth."""
    box, server = mailbox
    day = many_accepted(access, 50)
    access.studio.reminders = [-2, 0, 2, 4]
    sent = 0
    for n, days in enumerate(access.studio.reminders):
        if n == 2:
            server.stop()
        assert write_reminders(access, on=day + timedelta(days=days)) == 50
        assert write_reminders(access, on=day + timedelta(days=days)) == 0
        sent += send_waiting()[0]
    assert (sent, sum(box.ids.values())) == (100, 100)
    server.start()
    assert send_waiting(at=timezone.now() + BACK_OFF[0] + timedelta(seconds=30)) == (100, 0)
    assert len(box.ids) == 200
    assert set(box.ids.values()) == {1}
    assert set(box.ids) == {letter.message_id for letter in reminders()}

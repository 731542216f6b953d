"""What becomes of a letter: every answer of a server, every moment at which a worker can die."""

from __future__ import annotations

import smtplib
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.core import mail
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from studio.access import Access
from studio.mail import (
    BACK_OFF,
    LEASE,
    decide_unknown,
    deliver,
    mime_message,
    queue_mail,
    send_waiting,
    stop_headers,
)
from studio.models import OutgoingMail
from studio.tokens import PLACE, derive, new_salt

LOCMEM = "django.core.mail.backends.locmem.EmailBackend"


@pytest.fixture
def outgoing(access: Access) -> OutgoingMail:
    return queue_mail(
        access,
        kind="offer",
        once_key="offer:1",
        to="ada@example.com",
        subject="Hello",
        body="Words",
    )


@pytest.fixture
def breaks(monkeypatch: Any) -> Callable[[str, Exception], list[str]]:
    """Make one step of handing over fail; answers what was called of the line."""

    def make(step: str, error: Exception) -> list[str]:
        called: list[str] = []

        def fail(self: Any, *_: Any) -> None:
            called.append(step)
            raise error

        monkeypatch.setattr(f"{LOCMEM}.close", lambda self: called.append("close"))
        monkeypatch.setattr(f"{LOCMEM}.{step}", fail)
        return called

    return make


# RFC 5321, section 4.2.1: 4yz is a transient refusal, 5yz a permanent one.
@pytest.mark.parametrize(
    ("step", "error", "state"),
    [
        ("open", ConnectionRefusedError("nobody listens"), "waiting"),
        ("open", smtplib.SMTPAuthenticationError(535, b"wrong password"), "waiting"),
        ("send_messages", smtplib.SMTPRecipientsRefused({"a": (450, b"later")}), "waiting"),
        ("send_messages", smtplib.SMTPRecipientsRefused({"a": (499, b"later")}), "waiting"),
        ("send_messages", smtplib.SMTPRecipientsRefused({"a": (500, b"no")}), "refused"),
        ("send_messages", smtplib.SMTPRecipientsRefused({"a": (550, b"no"), "b": (450, b"later")}), "waiting"),
        ("send_messages", smtplib.SMTPSenderRefused(499, b"later", "s"), "waiting"),
        ("send_messages", smtplib.SMTPSenderRefused(500, b"no", "s"), "refused"),
        ("send_messages", smtplib.SMTPDataError(451, b"later"), "waiting"),
        ("send_messages", smtplib.SMTPDataError(554, b"no"), "refused"),
        ("send_messages", smtplib.SMTPServerDisconnected("gone"), "unknown"),
        ("send_messages", TimeoutError("no answer"), "unknown"),
    ],
)  # fmt: skip
def test_each_answer_has_its_state_and_its_reason(
    outgoing: OutgoingMail, breaks: Any, step: str, error: Exception, state: str
) -> None:
    called = breaks(step, error)
    outcome, reason = deliver(outgoing)
    assert outcome == state
    assert reason == str(error)[:500]
    assert called == (
        [step] if step == "open" else [step, "close"]
    )  # a line that was opened is shut


def test_a_reason_is_cut_to_its_column(outgoing: OutgoingMail, breaks: Any) -> None:
    for step, error in (
        ("open", OSError("x" * 900)),
        ("send_messages", smtplib.SMTPDataError(451, b"y" * 900)),
        ("send_messages", smtplib.SMTPRecipientsRefused({"a": (550, b"y" * 900)})),
        ("send_messages", OSError("z" * 900)),
    ):
        breaks(step, error)
        assert len(deliver(outgoing)[1]) == 500


def test_a_line_that_breaks_under_way_leaves_it_unknown_and_never_sends_again(
    access: Access, outgoing: OutgoingMail, breaks: Any, monkeypatch: Any
) -> None:
    breaks("send_messages", smtplib.SMTPServerDisconnected("gone"))
    assert send_waiting() == (0, 1)
    outgoing.refresh_from_db()
    assert (outgoing.state, outgoing.error, outgoing.attempts) == ("unknown", "gone", 1)
    monkeypatch.undo()
    for days in (0, 1, 30):
        assert send_waiting(at=timezone.now() + timedelta(days=days)) == (0, 0)
    assert mail.outbox == []


def test_a_person_says_what_became_of_an_unknown_letter(
    browser: Browser, access: Access, outgoing: OutgoingMail
) -> None:
    at = reverse("studio:letters")
    OutgoingMail.objects.update(state="unknown", error="gone", attempts=3)
    page = browser.get(at).content.decode()
    assert "may or may not have arrived" in page
    browser.post(at, {"letter": str(outgoing.pk), "do": "arrived"})
    outgoing.refresh_from_db()
    assert (outgoing.state, outgoing.error, bool(outgoing.sent_at)) == ("sent", "", True)
    assert send_waiting() == (0, 0)
    browser.post(at, {"letter": str(outgoing.pk), "do": "again"})  # sent is sent
    outgoing.refresh_from_db()
    assert outgoing.state == "sent"
    OutgoingMail.objects.update(
        state="unknown", error="gone", attempts=3, try_after=timezone.now() + LEASE
    )
    browser.post(at, {"letter": str(outgoing.pk), "do": "again"})
    outgoing.refresh_from_db()
    assert (outgoing.state, outgoing.error, outgoing.attempts, outgoing.try_after) == (
        "waiting",
        "",
        0,
        None,
    )
    assert send_waiting() == (1, 0)
    assert len(mail.outbox) == 1


@pytest.mark.parametrize(
    ("state", "arrived", "done"),
    [
        ("unknown", True, True), ("unknown", False, True), ("refused", True, True), ("refused", False, True),
        ("waiting", True, False), ("waiting", False, False), ("claimed", False, False), ("sent", False, False),
    ],
)  # fmt: skip
def test_only_open_letters_are_decided(
    access: Access, outgoing: OutgoingMail, state: str, arrived: bool, done: bool
) -> None:
    OutgoingMail.objects.update(state=state)
    assert decide_unknown(access, outgoing, arrived=arrived) is done
    outgoing.refresh_from_db()
    assert outgoing.state == ({True: "sent", False: "waiting"}[arrived] if done else state)


def test_nobody_decides_for_another_studio(stranger: Access, outgoing: OutgoingMail) -> None:
    OutgoingMail.objects.update(state="unknown")
    assert decide_unknown(stranger, outgoing, arrived=True) is False
    assert OutgoingMail.objects.get().state == "unknown"


def test_a_claim_is_another_workers_until_its_lease_is_over(outgoing: OutgoingMail) -> None:
    at = timezone.now()
    OutgoingMail.objects.update(state="claimed", claimed_at=at - LEASE)
    send_waiting(at=at)
    assert OutgoingMail.objects.get().state == "claimed"
    send_waiting(at=at + timedelta(microseconds=1))
    found = OutgoingMail.objects.get()
    assert (found.state, found.error) == ("unknown", "The worker stopped while sending it.")


def test_a_letter_goes_at_its_time_and_not_before(outgoing: OutgoingMail) -> None:
    at = timezone.now()
    OutgoingMail.objects.update(try_after=at)
    assert send_waiting(at=at - timedelta(microseconds=1)) == (0, 0)
    assert send_waiting(at=at) == (1, 0)


def test_a_letter_that_another_worker_claimed_in_between_is_passed_over(
    outgoing: OutgoingMail, monkeypatch: Any
) -> None:
    second = queue_mail(
        Access(outgoing.studio, None, "owner"), kind="offer", once_key="offer:2", to="b@example.com", subject="S", body="B"
    )  # fmt: skip

    def taking(one: OutgoingMail) -> tuple[str, str]:
        OutgoingMail.objects.filter(pk=second.pk).update(state="claimed", claimed_at=timezone.now())
        return "sent", ""

    monkeypatch.setattr("studio.mail.deliver", taking)
    assert send_waiting() == (1, 0)
    assert OutgoingMail.objects.get(pk=second.pk).state == "claimed"


def test_the_last_try_is_told_to_a_person(outgoing: OutgoingMail, breaks: Any) -> None:
    breaks("open", OSError("away"))
    OutgoingMail.objects.update(attempts=len(BACK_OFF) - 1)
    send_waiting()
    assert OutgoingMail.objects.get().state == "waiting"
    OutgoingMail.objects.update(try_after=None)
    send_waiting()
    assert OutgoingMail.objects.get().state == "refused"


def test_a_mark_does_not_undo_what_a_person_decided_meanwhile(
    access: Access, outgoing: OutgoingMail, monkeypatch: Any
) -> None:
    def slow(one: OutgoingMail) -> tuple[str, str]:
        OutgoingMail.objects.filter(pk=one.pk).update(state="unknown")
        assert decide_unknown(access, one, arrived=True)
        return "waiting", "late news"

    monkeypatch.setattr("studio.mail.deliver", slow)
    send_waiting()
    assert (OutgoingMail.objects.get().state, OutgoingMail.objects.get().error) == ("sent", "")


def test_a_letter_as_it_goes_out(access: Access) -> None:
    salt = new_salt()
    row = queue_mail(
        access, kind="offer", once_key="offer:9", to="ada@example.com", subject="Hello",
        body="Look here: [the link]", link=(f"https://studio.example/o/{PLACE}/", salt),
        attachment=("paper.pdf", b"%PDF-"), stop="https://studio.example/stop/x/",
    )  # fmt: skip
    made = mime_message(row)
    assert made.to == ["ada@example.com"]
    assert made.body == f"Look here: https://studio.example/o/{derive(salt)}/"
    assert made.from_email == f"{access.studio.name} <{access.studio.mail}>"
    # RFC 2369, section 3.2; RFC 8058, section 3.1.
    assert made.extra_headers["List-Unsubscribe"] == "<https://studio.example/stop/x/>"
    assert made.extra_headers["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    ((name, content, kind),) = [tuple(part) for part in made.attachments]
    assert (name, content, kind) == ("paper.pdf", b"%PDF-", "application/pdf")


def test_a_plain_letter_of_a_studio_without_an_address(
    access: Access, outgoing: OutgoingMail
) -> None:
    access.studio.mail = ""
    access.studio.save()
    outgoing.refresh_from_db()
    made = mime_message(outgoing)
    assert made.from_email == "webmaster@localhost"  # Django's own default: none was given
    assert (made.body, made.attachments) == ("Words", [])
    assert list(made.extra_headers) == ["Message-ID"]
    assert stop_headers("") == {}


def test_the_page_of_letters_shows_what_is_open_apart_and_the_newest_first(
    browser: Browser, access: Access, stranger: Access
) -> None:
    for i in range(102):
        queue_mail(
            access,
            kind="offer",
            once_key=f"offer:{i}",
            to="ada@example.com",
            subject=f"No. {i}",
            body="",
        )
    queue_mail(
        stranger, kind="offer", once_key="offer:1", to="x@example.com", subject="Not ours", body=""
    )
    OutgoingMail.objects.filter(once_key__in=("offer:3", "offer:4"), studio=access.studio).update(
        state="refused"
    )
    shown = browser.get(reverse("studio:letters")).context
    assert [row.subject for row in shown["open"]] == ["No. 3", "No. 4"]
    subjects = [row.subject for row in shown["letters"]]
    assert len(subjects) == 100
    assert subjects[0] == "No. 101"
    assert {"No. 3", "No. 4", "Not ours"}.isdisjoint(subjects)


def test_a_letter_of_another_studio_is_none(browser: Browser, stranger: Access) -> None:
    row = queue_mail(
        stranger, kind="offer", once_key="offer:1", to="x@example.com", subject="S", body=""
    )
    OutgoingMail.objects.update(state="unknown")
    for number in (str(row.pk), "0", "x", ""):
        assert (
            browser.post(reverse("studio:letters"), {"letter": number, "do": "arrived"}).status_code
            == 404
        )
    assert OutgoingMail.objects.get().state == "unknown"

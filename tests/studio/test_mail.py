"""The outbox."""

from __future__ import annotations

import smtplib
from datetime import timedelta
from typing import Any

import pytest
from django.core import mail
from django.db import InterfaceError, OperationalError, connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.access import Access
from studio.forms import FactsForm
from studio.mail import LEASE, queue_mail, send_waiting
from studio.management.commands import send_letters
from studio.models import OutgoingMail, Studio
from tests.conftest import signed_in


def a_letter(access: Access, **facts: str) -> OutgoingMail:
    told = {
        "kind": "offer",
        "once_key": "offer:1",
        "to": "ada@example.com",
        "subject": "Hello",
        "body": "Words",
    }
    return queue_mail(access, **{**told, **facts})


def test_one_row_for_each_kind_object_and_recipient(access: Access) -> None:
    assert a_letter(access) == a_letter(access, body="Other words")
    a_letter(access, to="ivo@example.com")
    a_letter(access, once_key="offer:2")
    assert OutgoingMail.objects.count() == 3


def test_waiting_letters_are_sent_once_with_a_stable_message_id(access: Access) -> None:
    outgoing = a_letter(access)
    assert send_waiting() == (1, 0)
    assert send_waiting() == (0, 0)
    (sent,) = mail.outbox
    assert sent.extra_headers["Message-ID"] == outgoing.message_id
    assert sent.to == ["ada@example.com"]


def test_a_letter_that_cannot_go_waits_with_its_reason(access: Access, monkeypatch: Any) -> None:
    a_letter(access)

    def refuse(self: object) -> None:
        raise ConnectionRefusedError("nobody listens")

    monkeypatch.setattr("django.core.mail.backends.locmem.EmailBackend.open", refuse)
    assert send_waiting() == (0, 1)
    outgoing = OutgoingMail.objects.get()
    assert (outgoing.state, outgoing.error) == ("waiting", "nobody listens")


def test_one_whose_worker_died_is_for_a_person_to_decide(access: Access) -> None:
    outgoing = a_letter(access)
    long_ago = timezone.now() - LEASE - timedelta(minutes=1)
    OutgoingMail.objects.filter(pk=outgoing.pk).update(state="claimed", claimed_at=long_ago)
    assert send_waiting() == (0, 0)
    assert OutgoingMail.objects.get().state == "unknown"
    assert mail.outbox == []


def test_a_letter_of_a_long_round_is_left_to_the_worker_that_sends_it(
    access: Access, monkeypatch: Any
) -> None:
    a_letter(access)

    def deliver(outgoing: OutgoingMail) -> tuple[str, str]:
        assert send_waiting() == (0, 0)  # another worker looks in meanwhile
        return "sent", ""

    monkeypatch.setattr("studio.mail.deliver", deliver)
    assert send_waiting(at=timezone.now() - LEASE - timedelta(minutes=1)) == (1, 0)
    assert (OutgoingMail.objects.get().state, OutgoingMail.objects.get().error) == ("sent", "")


def test_a_line_break_in_an_address_is_refused(access: Access) -> None:
    with pytest.raises(ValueError, match="expected one line"):
        a_letter(access, to="ada@example.com\nBcc: all@example.com")


@pytest.mark.parametrize("brk", ["\n", "\r", "\r\n", "\x00", "\u2028"])
def test_names_with_line_breaks_make_no_second_header(access: Access, brk: str) -> None:
    """RFC 5322, section 2.2: a header is a line."""
    a_letter(access, subject=f"Hello{brk}Bcc: all@example.com")
    if brk == "\x00" and connection.vendor == "postgresql":
        brk = "\x01"  # PostgreSQL keeps no NUL in a text (its manual, section 8.3)
    Studio.objects.update(name=f"Quill{brk}moor")
    assert send_waiting() == (1, 0)
    (sent,) = mail.outbox
    assert (sent.subject, sent.bcc) == ("Hello Bcc: all@example.com", [])
    assert sent.from_email.startswith("Quill moor <")


def test_a_long_subject_is_cut_to_what_a_row_holds(access: Access) -> None:
    assert a_letter(access, subject="x" * 300).subject == "x" * 200


def test_the_studios_name_is_one_line(browser: Client, access: Access) -> None:
    facts = {f.name: f.value() for f in FactsForm(instance=access.studio) if f.value() is not None}
    answer = browser.post(reverse("studio:facts"), {**facts, "name": "Quill\r\nmoor"})
    assert answer.status_code == 422
    assert "Studio: expected a name on one line, got a line break." in answer.text


def test_a_letter_that_cannot_be_made_is_set_aside_and_named_and_the_others_go(
    access: Access, browser: Client
) -> None:
    bad = a_letter(access)
    a_letter(access, to="ivo@example.com")
    OutgoingMail.objects.filter(pk=bad.pk).update(message_id="<x@y>\r\nBcc: all@example.com")
    assert send_waiting() == (1, 1)
    assert [sent.to for sent in mail.outbox] == [["ivo@example.com"]]
    bad.refresh_from_db()
    assert bad.state == "refused"
    assert bad.error.startswith("It could not be made into a letter: ")
    shown = browser.get(reverse("studio:letters")).text
    assert "was not sent (It could not be made into a letter: " in shown


@pytest.mark.parametrize(
    ("error", "state"),
    [
        (ValueError("Invalid address"), "refused"),
        (smtplib.SMTPNotSupportedError("SMTPUTF8"), "refused"),
        (smtplib.SMTPServerDisconnected("gone"), "unknown"),
        (TimeoutError("no answer"), "unknown"),
    ],
)
def test_what_became_of_it_follows_from_where_it_stopped(
    access: Access, monkeypatch: Any, error: Exception, state: str
) -> None:
    def stop(self: object, messages: object) -> None:
        raise error

    a_letter(access)
    monkeypatch.setattr("django.core.mail.backends.locmem.EmailBackend.send_messages", stop)
    assert send_waiting() == (0, 1)
    assert OutgoingMail.objects.get().state == state


def test_that_it_was_sent_is_written_down_though_the_database_was_away(
    access: Access, monkeypatch: Any
) -> None:
    pauses: list[float] = []
    monkeypatch.setattr("studio.mail.time.sleep", pauses.append)
    away = iter([OperationalError("database is locked"), InterfaceError("closed")])

    def mark(*told: Any) -> None:
        for error in away:
            raise error
        really(*told)

    from studio import mail as own

    really = own._mark
    monkeypatch.setattr(own, "_mark", mark)
    monkeypatch.setattr(own, "close_old_connections", lambda: None)  # this test's own
    a_letter(access)
    assert send_waiting() == (1, 0)
    assert (OutgoingMail.objects.get().state, pauses) == ("sent", [1, 2])
    assert timedelta(seconds=sum(own.MARK_AGAIN_S)) < LEASE


def test_the_worker_goes_on_whatever_a_round_meets(monkeypatch: Any, caplog: Any) -> None:
    rounds = iter(
        [
            OperationalError("database is locked"),
            OperationalError("database is locked"),
            KeyError("what"),
            None,
        ]
    )
    paused: list[float] = []
    worker = send_letters.Command()
    monkeypatch.setattr(worker, "rest", paused.append)
    monkeypatch.setattr(worker, "goes_on", lambda: worker.going and len(paused) < 9)
    monkeypatch.setattr(send_letters, "close_old_connections", lambda: None)
    monkeypatch.setattr(send_letters.before_sending, "send_robust", lambda **_: [])
    monkeypatch.setattr(send_letters.signal, "signal", lambda *_: None)

    def send() -> tuple[int, int]:
        if error := next(rounds):
            raise error
        worker.stop()
        return 0, 0

    monkeypatch.setattr(send_letters, "send_waiting", send)
    worker.handle(watch=True, with_parent=0)
    assert paused == [6, 12, 24, 3]
    told = [record.getMessage() for record in caplog.records]
    assert told == [
        "Letters wait: OperationalError('database is locked')", "Letters wait: KeyError('what')", "Letters go again.",
    ]  # fmt: skip


# --- what Today says ---


def today(access: Access) -> str:
    return signed_in(access).get(reverse("jobs:today")).text


def test_today_names_letters_that_need_a_person(access: Access, crew: Access) -> None:
    assert "Letters that did not go" not in today(access)
    for i, state in enumerate(["unknown", "refused", "sent", "waiting"]):
        outgoing = a_letter(access, once_key=f"offer:{i}")
        OutgoingMail.objects.filter(pk=outgoing.pk).update(state=state)
    assert "2 letters need you" in " ".join(today(access).split())
    assert "waited since" not in today(access)
    assert "Letters that did not go" not in today(crew)


@pytest.mark.parametrize(("minutes", "told"), [(59, False), (61, True)])
@pytest.mark.parametrize("state", ["waiting", "claimed"])
def test_today_names_letters_that_nobody_sends(
    access: Access, stranger: Access, minutes: int, told: bool, state: str
) -> None:
    a_letter(access)
    since = timezone.now() - timedelta(minutes=minutes)
    OutgoingMail.objects.update(queued_at=since, state=state)
    assert ("1 letter has waited since" in today(access)) is told
    assert "Letters that did not go" not in today(stranger)

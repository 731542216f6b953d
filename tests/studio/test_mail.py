"""The outbox."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.core import mail
from django.utils import timezone

from studio.door import SeatAt
from studio.mail import LEASE, queue, send_waiting
from studio.models import Letter


def a_letter(seat: SeatAt, **facts: str) -> Letter:
    told = {
        "kind": "offer",
        "about": "offer:1",
        "to": "ada@example.com",
        "subject": "Hello",
        "body": "Words",
    }
    return queue(seat, **{**told, **facts})


def test_one_row_for_each_kind_object_and_recipient(seat: SeatAt) -> None:
    assert a_letter(seat) == a_letter(seat, body="Other words")
    a_letter(seat, to="ivo@example.com")
    a_letter(seat, about="offer:2")
    assert Letter.objects.count() == 3


def test_waiting_letters_are_sent_once_with_a_stable_message_id(seat: SeatAt) -> None:
    letter = a_letter(seat)
    assert send_waiting() == (1, 0)
    assert send_waiting() == (0, 0)
    (sent,) = mail.outbox
    assert sent.extra_headers["Message-ID"] == letter.message_id
    assert sent.to == ["ada@example.com"]


def test_a_letter_that_cannot_go_waits_with_its_reason(seat: SeatAt, monkeypatch: Any) -> None:
    a_letter(seat)

    def refuse(self: object) -> None:
        raise ConnectionRefusedError("nobody listens")

    monkeypatch.setattr("django.core.mail.backends.locmem.EmailBackend.open", refuse)
    assert send_waiting() == (0, 1)
    letter = Letter.objects.get()
    assert (letter.state, letter.error) == ("waiting", "nobody listens")


def test_one_whose_worker_died_is_for_a_person_to_decide(seat: SeatAt) -> None:
    letter = a_letter(seat)
    long_ago = timezone.now() - LEASE - timedelta(minutes=1)
    Letter.objects.filter(pk=letter.pk).update(state="claimed", claimed_at=long_ago)
    assert send_waiting() == (0, 0)
    assert Letter.objects.get().state == "unknown"
    assert mail.outbox == []


def test_a_letter_of_a_long_round_is_left_to_the_worker_that_sends_it(
    seat: SeatAt, monkeypatch: Any
) -> None:
    a_letter(seat)

    def deliver(letter: Letter) -> tuple[str, str]:
        assert send_waiting() == (0, 0)  # another worker looks in meanwhile
        return "sent", ""

    monkeypatch.setattr("studio.mail.deliver", deliver)
    assert send_waiting(at=timezone.now() - LEASE - timedelta(minutes=1)) == (1, 0)
    assert (Letter.objects.get().state, Letter.objects.get().error) == ("sent", "")


@pytest.mark.parametrize("field", ["subject", "to"])
def test_a_line_break_in_a_header_is_refused(seat: SeatAt, field: str) -> None:
    with pytest.raises(ValueError, match="expected one line"):
        a_letter(seat, **{field: "x\nBcc: all@example.com"})

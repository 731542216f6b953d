"""The outbox against a real mail server: stopped and started, saying later and no, and a worker that is killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from django.core import mail
from django.db import connection
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from studio.access import Access
from studio.mail import BACK_OFF, LEASE, queue_mail, send_waiting
from studio.models import OutgoingMail
from tests.factories import a_stocked_access

HOME = Path(__file__).parent.parent.parent


class Mailbox:
    """Takes everything, or answers as it is told to."""

    def __init__(self) -> None:
        self.ids: Counter[str] = Counter()
        self.answer = "250 taken"
        self.kill: int | None = None

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # noqa: N802  their name
        if self.answer.startswith("250"):
            text = envelope.content.decode()
            self.ids[text.partition("Message-ID: ")[2].partition("\r\n")[0]] += 1
        if self.kill:
            os.kill(self.kill, signal.SIGKILL)
        return self.answer


class Server:
    """A mail server that can go away and come back to the same port."""

    def __init__(self, box: Mailbox) -> None:
        self.box, self.port = box, free_port()
        self.start()

    def start(self) -> None:
        self.controller = Controller(self.box, hostname="127.0.0.1", port=self.port)
        self.controller.start()

    def stop(self) -> None:
        self.controller.stop()


@pytest.fixture
def mailbox(settings: Any, monkeypatch: Any) -> Iterator[tuple[Mailbox, Server]]:
    box = Mailbox()
    server = Server(box)
    settings.MAILERS = {
        "default": {
            "BACKEND": "django.core.mail.backends.smtp.EmailBackend",
            "OPTIONS": {"host": "127.0.0.1", "port": server.port, "timeout": 5},
        }
    }
    monkeypatch.setattr("studio.mail.mailers", mail.MailersHandler())
    yield box, server
    server.stop()


def free_port() -> int:
    import socket

    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        return int(trial.getsockname()[1])


def mails(access: Access, count: int) -> None:
    for i in range(count):
        queue_mail(access, kind="reminder", once_key=f"due:{i}", to=f"c{i}@example.com", subject="A word", body="Words")  # fmt: skip


def test_two_hundred_letters_none_lost_none_doubled_with_the_server_away_halfway(
    access: Access, mailbox: tuple[Mailbox, Server]
) -> None:
    box, server = mailbox
    mails(access, 100)
    assert send_waiting() == (100, 0)
    server.stop()
    for i in range(100, 200):
        queue_mail(access, kind="reminder", once_key=f"due:{i}", to=f"c{i}@example.com", subject="A word", body="Words")  # fmt: skip
    assert send_waiting() == (0, 100)
    assert send_waiting() == (0, 0)  # not before their time
    server.start()
    assert send_waiting(at=timezone.now() + BACK_OFF[0] + timedelta(seconds=5)) == (100, 0)
    assert len(box.ids) == 200
    assert set(box.ids.values()) == {1}
    assert set(box.ids) == set(OutgoingMail.objects.values_list("message_id", flat=True))


def test_later_is_tried_again_with_longer_and_longer_pauses(
    access: Access, mailbox: tuple[Mailbox, Server]
) -> None:
    mailbox[0].answer = "451 greylisted, come back later"
    mails(access, 1)
    at, pauses = timezone.now(), []
    for _ in BACK_OFF:
        send_waiting(at=at)
        outgoing = OutgoingMail.objects.get()
        assert outgoing.try_after
        pauses.append(outgoing.try_after - at)
        at = outgoing.try_after
    assert tuple(pauses) == BACK_OFF
    send_waiting(at=at)
    assert (
        OutgoingMail.objects.get().state == OutgoingMail.State.REFUSED
    )  # tried often enough: a person decides


def test_no_is_told_at_once_and_not_tried_again(
    access: Access, mailbox: tuple[Mailbox, Server]
) -> None:
    mailbox[0].answer = "550 no such person"
    mails(access, 1)
    assert send_waiting() == (0, 1)
    outgoing = OutgoingMail.objects.get()
    assert (outgoing.state, "no such person" in outgoing.error) == (
        OutgoingMail.State.REFUSED,
        True,
    )


def test_a_worker_killed_before_its_mark_leaves_a_letter_to_decide_and_never_a_second(
    committed: None, mailbox: tuple[Mailbox, Server], browser_of: Any
) -> None:
    """A process of its own, killed by the server at the moment it has taken the letter in."""
    box, server = mailbox
    access = a_stocked_access()
    mails(access, 1)
    worker = subprocess.Popen([sys.executable, "-c", WORKER.format(port=server.port)], cwd=HOME, env=database())  # fmt: skip
    box.kill = worker.pid
    assert worker.wait(timeout=60) == -signal.SIGKILL
    assert sum(box.ids.values()) == 1
    assert OutgoingMail.objects.get().state == OutgoingMail.State.CLAIMED
    box.kill = None
    send_waiting(at=timezone.now() + LEASE + timedelta(minutes=1))
    assert OutgoingMail.objects.get().state == OutgoingMail.State.UNKNOWN
    assert sum(box.ids.values()) == 1  # never blindly a second time
    page: Browser = browser_of(access)
    assert "may or may not have arrived" in page.get(reverse("studio:letters")).content.decode()
    page.post(
        reverse("studio:letters"), {"letter": str(OutgoingMail.objects.get().pk), "do": "arrived"}
    )
    assert OutgoingMail.objects.get().state == OutgoingMail.State.SENT
    assert sum(box.ids.values()) == 1


def test_a_person_may_send_it_again(browser: Browser, access: Access) -> None:
    mails(access, 1)
    OutgoingMail.objects.update(state="refused", attempts=8, error="no")
    browser.post(
        reverse("studio:letters"), {"letter": str(OutgoingMail.objects.get().pk), "do": "again"}
    )
    assert send_waiting() == (1, 0)


WORKER = """
import os, django
os.environ["DJANGO_SETTINGS_MODULE"] = "studio.settings"
from django.conf import settings
settings.MAILERS = {{"default": {{"BACKEND": "django.core.mail.backends.smtp.EmailBackend",
    "OPTIONS": {{"host": "127.0.0.1", "port": {port}, "timeout": 20}}}}}}
name = os.environ.get("TEST_DATABASE")
settings.DATABASES["default"]["NAME"] = name
django.setup()
from studio.mail import send_waiting
send_waiting()
"""


def database() -> dict[str, str]:
    """The test's own database, for a process beside it."""
    return {**os.environ, "TEST_DATABASE": str(connection.settings_dict["NAME"])}


@pytest.fixture
def browser_of() -> Any:
    from tests.conftest import signed_in

    return signed_in


def test_the_watching_worker_stops_when_told(tmp_path: Path) -> None:
    env = {**os.environ, "ARCHWRIGHT_VAR": str(tmp_path)}
    subprocess.run([sys.executable, "manage.py", "migrate", "-v0"], cwd=HOME, env=env, check=True)
    words = [sys.executable, "manage.py", "send_letters", "--watch"]
    worker = subprocess.Popen(words, cwd=HOME, env=env, stdout=subprocess.PIPE, text=True)
    assert worker.stdout
    assert worker.stdout.readline() == "Watching the outbox.\n"  # from here on it hears a signal
    worker.terminate()
    assert worker.wait(timeout=60) == 0
    worker.stdout.close()

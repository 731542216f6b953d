"""Letters: queued as rows in the same transaction as what they tell, sent by a worker afterwards."""

from __future__ import annotations

import hashlib
import re
import smtplib
import time
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from email.utils import formataddr
from typing import Any

from django.core.mail import EmailMessage, mailers
from django.db import InterfaceError, OperationalError, close_old_connections
from django.db.models import Count, F, Min, Q
from django.utils import timezone

from studio.access import Access
from studio.headers import Mail
from studio.models import OutgoingMail
from studio.tokens import PLACE, derive

LINK = "[the link]"
LEASE = timedelta(minutes=10)  # a claim older than this belongs to a worker that died
BACK_OFF = tuple(timedelta(minutes=m) for m in (1, 5, 15, 60, 240, 480, 960))  # between tries
MARK_AGAIN_S = (1, 2, 4, 8, 16, 32, 64, 128)  # within the lease
LATE = timedelta(hours=1)  # a letter that waits longer is told about
SUBJECT = 200  # characters
State = OutgoingMail.State


def queue_mail(
    access: Access,
    *,
    kind: str,
    once_key: str,
    to: str,
    subject: str,
    body: str,
    link: tuple[str, str] = ("", ""),
    attachment: tuple[str, bytes] | None = None,
    stop: str = "",
) -> OutgoingMail:
    """One row for each kind, `once_key` (what it is for) and recipient; asking twice keeps the first.

    `link` is the shape of an address and the salt of its token; it stands for LINK in the body.
    `attachment` is the name and content of a PDF. `stop` is an address where one press ends such letters.
    A subject is made of names that people typed, and becomes one line of at most 200 characters.
    ValueError for an address with a line break (header injection).
    """
    if re.search(r"[\r\n]", to):
        raise ValueError("to: expected one line, got a line break.")
    subject = one_line(subject)[:SUBJECT]
    digest = hashlib.sha256(f"{access.studio.pk}|{kind}|{once_key}|{to}".encode()).hexdigest()[:32]
    outgoing, _ = OutgoingMail.objects.get_or_create(
        studio=access.studio, kind=kind, once_key=once_key, to=to,
        defaults={
            "subject": subject, "body": body, "stop_link": stop, "link_shape": link[0], "link_salt": link[1],
            "message_id": f"<{digest}@archwright.invalid>",
            "attachment_name": attachment[0] if attachment else "",
            "attachment": attachment[1] if attachment else None,
        },
    )  # fmt: skip
    return outgoing


def one_line(text: str) -> str:
    """Text without line breaks and other control characters, which no header may hold.

    >>> one_line("Quill\\r\\nBcc: all@example.com")
    'Quill Bcc: all@example.com'
    """
    return " ".join(re.sub(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]", " ", text).split())


def send_waiting(*, at: datetime | None = None) -> tuple[int, int]:
    """Send every letter whose time has come; returns how many were sent and how many were not.

    A letter is claimed by a conditional update, so two workers never send the same. One whose worker died
    before its mark becomes `unknown` for a person to decide: never sent again blindly.
    """
    at = at or timezone.now()
    stale = Q(state=State.CLAIMED, claimed_at__lt=at - LEASE)
    OutgoingMail.objects.filter(stale).update(
        state=State.UNKNOWN, error="The worker stopped while sending it."
    )
    sent = failed = 0
    due = OutgoingMail.objects.filter(Q(try_after=None) | Q(try_after__lte=at), state=State.WAITING)
    for pk in list(due.order_by("pk").values_list("pk", flat=True)):
        claim = OutgoingMail.objects.filter(pk=pk, state=State.WAITING)
        now = timezone.now()  # of this claim: a long round must not look like a worker that died
        if not claim.update(state=State.CLAIMED, claimed_at=now, attempts=F("attempts") + 1):
            continue
        outgoing = OutgoingMail.objects.select_related("studio").get(pk=pk)
        outcome, reason = deliver(outgoing)
        _mark_in_the_end(outgoing, outcome, reason, at)
        sent += outcome == State.SENT
        failed += outcome != State.SENT
    return sent, failed


def deliver(outgoing: OutgoingMail) -> tuple[str, str]:
    """Hand one letter to the server: what became of it, and why when it was not sent.

    A server that cannot be reached, or says "later" (4xx), is tried again; "no" (5xx) is refused, and so is what
    cannot be made into a letter. A line that breaks while the letter is under way leaves its fate unknown.
    """
    try:
        made = mime_message(outgoing)
        made.message()
    except Exception as error:  # one that cannot be made must not keep the others
        return State.REFUSED, f"It could not be made into a letter: {error}"[:500]
    mailer = mailers["default"]
    try:
        mailer.open()
    except Exception as error:  # nothing has gone yet, whatever it was
        return State.WAITING, str(error)[:500]
    return _hand_over(mailer, made)


def _hand_over(mailer: Any, made: EmailMessage) -> tuple[str, str]:
    try:
        mailer.send_messages([made])
    except (ValueError, smtplib.SMTPNotSupportedError) as error:  # said before anything was sent
        return State.REFUSED, f"It could not be made into a letter: {error}"[:500]
    except smtplib.SMTPRecipientsRefused as error:
        codes = [code for code, _ in error.recipients.values()]
        return (State.REFUSED if min(codes) >= 500 else State.WAITING), str(error)[:500]
    except smtplib.SMTPResponseException as error:
        return (State.REFUSED if error.smtp_code >= 500 else State.WAITING), str(error)[:500]
    except OSError as error:
        return State.UNKNOWN, str(error)[:500]
    finally:
        with suppress(OSError):
            mailer.close()
    return State.SENT, ""


def _mark(outgoing: OutgoingMail, outcome: str, reason: str, at: datetime) -> None:
    facts: dict[str, object] = {"state": outcome, "error": reason}
    if outcome == State.SENT:
        facts["sent_at"] = timezone.now()
    elif outcome == State.WAITING:
        if outgoing.attempts > len(BACK_OFF):
            facts["state"] = State.REFUSED
        else:
            facts["try_after"] = at + BACK_OFF[outgoing.attempts - 1]
    OutgoingMail.objects.filter(pk=outgoing.pk, state=State.CLAIMED).update(**facts)


def _mark_in_the_end(outgoing: OutgoingMail, outcome: str, reason: str, at: datetime) -> None:
    """What became of a letter is known here alone: a database that is away for a while must learn it."""
    for pause_s in MARK_AGAIN_S:
        try:
            return _mark(outgoing, outcome, reason, at)
        except (OperationalError, InterfaceError):
            time.sleep(pause_s)
            close_old_connections()
    return _mark(outgoing, outcome, reason, at)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldMail:
    """Letters that did not go."""

    to_decide: int  # refused, or nobody knows whether they arrived
    late: int  # wait for longer than LATE
    since: datetime | None  # when the oldest of these was written


def held_mail(access: Access, *, at: datetime) -> HeldMail:
    """What the office must look after: letters for a person to decide, and letters that nobody sends."""
    decide = Q(state__in=(State.UNKNOWN, State.REFUSED))
    late = Q(state__in=(State.WAITING, State.CLAIMED), queued_at__lt=at - LATE)
    found = access.rows(OutgoingMail).aggregate(
        to_decide=Count("pk", filter=decide), late=Count("pk", filter=late),
        since=Min("queued_at", filter=late),
    )  # fmt: skip
    return HeldMail(**found)


def decide_unknown(access: Access, outgoing: OutgoingMail, *, arrived: bool) -> bool:
    """A person says what became of an unknown or refused letter: it arrived, or it is to go again."""
    open_ = access.rows(OutgoingMail).filter(
        pk=outgoing.pk, state__in=(State.UNKNOWN, State.REFUSED)
    )
    if arrived:
        return bool(open_.update(state=State.SENT, sent_at=timezone.now(), error=""))
    return bool(open_.update(state=State.WAITING, attempts=0, try_after=None, error=""))


def mime_message(outgoing: OutgoingMail) -> EmailMessage:
    studio = outgoing.studio
    address = (
        outgoing.link_shape.replace(PLACE, derive(outgoing.link_salt)) if outgoing.link_salt else ""
    )
    made = Mail(
        subject=outgoing.subject,
        body=outgoing.body.replace(LINK, address) if address else outgoing.body,
        from_email=formataddr((one_line(studio.name), studio.mail)) if studio.mail else None,
        to=[outgoing.to],
        headers={"Message-ID": outgoing.message_id, **stop_headers(outgoing.stop_link)},
    )
    if outgoing.attachment:
        made.attach(outgoing.attachment_name, bytes(outgoing.attachment), "application/pdf")
    return made


def stop_headers(address: str) -> dict[str, str]:
    """What lets a mail program offer to stop such letters (RFC 2369, section 3.2; RFC 8058, section 3.1)."""
    if not address:
        return {}
    return {
        "List-Unsubscribe": f"<{address}>",
        "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
    }

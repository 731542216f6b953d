"""Letters: queued as rows in the same transaction as what they tell, sent by a worker afterwards."""

from __future__ import annotations

import hashlib
import re
from datetime import timedelta
from email.utils import formataddr

from django.core.mail import EmailMessage
from django.db.models import Q
from django.utils import timezone

from studio.door import SeatAt
from studio.models import Letter
from studio.tokens import PLACE, derive

LINK = "[the link]"
LEASE = timedelta(minutes=10)  # a claim older than this belongs to a worker that died


def queue(
    seat: SeatAt,
    *,
    kind: str,
    about: str,
    to: str,
    subject: str,
    body: str,
    link: tuple[str, str] = ("", ""),
    attachment: tuple[str, bytes] | None = None,
) -> Letter:
    """One row for each kind, object and recipient; asking twice keeps the first.

    `link` is the shape of an address and the salt of its token; it stands for LINK in the body.
    `attachment` is the name and content of a PDF.
    ValueError for a subject or address with a line break (header injection).
    """
    for name, text in (("to", to), ("subject", subject)):
        if re.search(r"[\r\n]", text):
            raise ValueError(f"{name}: expected one line, got a line break.")
    digest = hashlib.sha256(f"{seat.studio.pk}|{kind}|{about}|{to}".encode()).hexdigest()[:32]
    letter, _ = Letter.objects.get_or_create(
        studio=seat.studio, kind=kind, about=about, to=to,
        defaults={
            "subject": subject, "body": body, "link_shape": link[0], "link_salt": link[1],
            "message_id": f"<{digest}@archwright.invalid>",
            "attachment_name": attachment[0] if attachment else "",
            "attachment": attachment[1] if attachment else None,
        },
    )  # fmt: skip
    return letter


def send_waiting() -> tuple[int, int]:
    """Send every waiting letter; returns how many were sent and how many failed.

    A letter is claimed by a conditional update, so two workers never send the same. One whose worker died
    between the server's answer and the mark becomes `unknown` for a person to decide.
    """
    stale = Q(state=Letter.State.CLAIMED, claimed_at__lt=timezone.now() - LEASE)
    Letter.objects.filter(stale).update(state=Letter.State.UNKNOWN)
    sent = failed = 0
    for letter in Letter.objects.filter(state=Letter.State.WAITING).select_related("studio"):
        claim = Letter.objects.filter(pk=letter.pk, state=Letter.State.WAITING)
        if not claim.update(state=Letter.State.CLAIMED, claimed_at=timezone.now()):
            continue
        try:
            message(letter).send()
        except OSError as error:
            Letter.objects.filter(pk=letter.pk).update(
                state=Letter.State.WAITING, error=str(error)[:500]
            )
            failed += 1
            continue
        Letter.objects.filter(pk=letter.pk).update(
            state=Letter.State.SENT, sent_at=timezone.now(), error=""
        )
        sent += 1
    return sent, failed


def message(letter: Letter) -> EmailMessage:
    studio = letter.studio
    address = letter.link_shape.replace(PLACE, derive(letter.link_salt)) if letter.link_salt else ""
    made = EmailMessage(
        subject=letter.subject,
        body=letter.body.replace(LINK, address) if address else letter.body,
        from_email=formataddr((studio.name, studio.mail)) if studio.mail else None,
        to=[letter.to],
        headers={"Message-ID": letter.message_id},
    )
    if letter.attachment:
        made.attach(letter.attachment_name, bytes(letter.attachment), "application/pdf")
    return made

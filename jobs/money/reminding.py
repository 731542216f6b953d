"""Reminders: a polite letter some days before or after an instalment is due, never twice, stopped by one press."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from babel.dates import format_date
from django.conf import settings
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from jobs.log import write_log
from jobs.models import Client, Job, Offer
from jobs.money.ledger import accepted_offer, cancellation_of, standing_of
from jobs.proposal.links import live_link, stop_token
from jobs.rows import jobs_of
from pricing.core.instalments import Due
from pricing.core.money import write_money
from studio.access import system_access
from studio.mail import LINK, queue_mail
from studio.models import OutgoingMail, Studio
from studio.tokens import PLACE

if TYPE_CHECKING:
    from studio.access import Access

CATCH_UP = timedelta(days=3)  # a reminder later than this is left out: it would only puzzle
NOT_BEFORE = time(9)  # in the studio's zone (common courtesy, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reminder:
    """That an instalment is reminded of on a day."""

    due: Due
    days: int  # from the due date; below zero: before it


def reminders_on(
    due: Sequence[Due], days: Sequence[int], *, on: date, after: date
) -> Iterator[Reminder]:
    """One for each open instalment whose day is today, or was since `CATCH_UP` and `after`; of several the last.

    `after` is the day of the yes, or that after a call-off: what lies before it was never due to be written.
    """
    for one in due:
        come = [n for n in days if max(on - CATCH_UP, after) <= one.on + timedelta(days=n) <= on]
        if come:
            yield Reminder(due=one, days=max(come))


def write_reminders(access: Access, *, on: date) -> int:
    """Queue what is to be reminded of on a day; answers how many letters were new."""
    zone = ZoneInfo(access.studio.timezone)
    written = 0
    for job in jobs_of(access).wanting().accepted().with_people().with_money():
        offer, now = accepted_offer(job), standing_of(job, on=on, currency=access.studio.currency)
        if offer is None or now is None or not job.client.mail or job.client.reminders_stopped_at:
            continue
        settled = offer.acceptance.at.astimezone(zone).date()
        if off := cancellation_of(job):  # whose own letter said on its day what is kept
            settled = off.at.astimezone(zone).date() + timedelta(days=1)
        for reminder in reminders_on(now.due, access.studio.reminders, on=on, after=settled):
            written += _write(access, job, offer, reminder, on)
    return written


@transaction.atomic
def _write(access: Access, job: Job, offer: Offer, reminder: Reminder, on: date) -> bool:
    due = (
        reminder.due
    )  # its day is part of the key: one that moved with the event is reminded of anew
    once_key = f"due:{offer.pk}:{due.on.isoformat()}:{reminder.days}:{due.what}"[:80]
    if access.rows(OutgoingMail).filter(kind="reminder", once_key=once_key).exists():
        return False
    link = live_link(access, offer)
    stop = settings.SITE + reverse("jobs:stop", args=[stop_token(job.client)])
    queue_mail(
        access, kind="reminder", once_key=once_key, to=job.client.mail,
        subject=f"{access.studio.name}: {reminder.due.what} for {job.title}",
        body=reminder_mail(access.studio, job, reminder.due, on, linked=link is not None, stop=stop),
        link=(settings.SITE + reverse("jobs:offer-page", args=[PLACE]), link.salt) if link else ("", ""),
        stop=stop,
    )  # fmt: skip
    write_log(access, job, f"Reminder of the {reminder.due.what} written")
    return True


def reminder_mail(studio: Studio, job: Job, due: Due, on: date, *, linked: bool, stop: str) -> str:
    """Amount, day and where to pay; no reproach, since letters and payments cross."""
    day = format_date(due.on, "long", locale=studio.language.replace("-", "_"))
    was = "falls due today" if due.on == on else "falls due on" if due.on > on else "was due on"
    when = was if due.on == on else f"{was} {day}"
    account = f"IBAN {studio.iban}" + (f", BIC {studio.bic}" if studio.bic else "")
    pay = "\n".join(filter(None, [account if studio.iban else "", studio.bank_details.strip()]))
    parts = [
        f"Dear {job.client.name},",
        f"the {due.what} for {job.title} {when}; "
        f"{write_money(due.amount, studio.language)} of it {'is' if due.on >= on else 'is still'} open.",
        f"To be paid to:\n{pay}\nPlease write J{job.number:04d} beside it." if pay else "",
        f"The proposal and its payments:\n{LINK}" if linked else "",
        "If it is on its way already, please take no notice of this.",
        studio.name,
        f"No more reminders like this one:\n{stop}",
    ]
    return "\n\n".join(filter(None, parts)) + "\n"


@transaction.atomic
def stop_reminders(access: Access, client: Client) -> None:
    """The client wants no more of them; said again, it stays as it was."""
    rows = access.rows(Client).filter(pk=client.pk, reminders_stopped_at=None)
    if rows.update(reminders_stopped_at=timezone.now()):
        _note_on_jobs(access, client, "Reminders stopped by the client")


@transaction.atomic
def allow_reminders(access: Access, client: Client) -> None:
    """The client said to the studio that they may come again."""
    rows = access.rows(Client).filter(pk=client.pk, reminders_stopped_at__isnull=False)
    if rows.update(reminders_stopped_at=None):
        _note_on_jobs(access, client, "Reminders allowed again")


def _note_on_jobs(access: Access, client: Client, what: str) -> None:
    for job in jobs_of(access).wanting().filter(client=client).order_by("pk"):
        write_log(access, job, what)


_done: dict[int, date] = {}  # by studio: the day that this worker has seen to


def remind_daily(*, at: datetime | None = None) -> None:
    """Once a day and studio, from nine in its own zone; asked every few seconds by the mail worker."""
    for studio in Studio.objects.order_by("pk"):
        local = (at or timezone.now()).astimezone(ZoneInfo(studio.timezone))
        if local.time() < NOT_BEFORE or _done.get(studio.pk) == local.date():
            continue
        with timezone.override(studio.timezone):
            write_reminders(system_access(studio), on=local.date())
        _done[studio.pk] = local.date()

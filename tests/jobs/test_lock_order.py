"""Whoever changes what a studio has promised locks the studio first, so that no two can wait for each other."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from jobs.day.postponing import postpone
from jobs.models import Job, Offer
from jobs.money import calling_off
from jobs.money.invoicing import issue
from jobs.stages import S, move
from studio.door import SeatAt
from tests.factories import a_designed_job
from tests.happenings import pay, said_yes, sent

LOCKS = re.compile(r'^(?:INSERT INTO|UPDATE|DELETE FROM) "(\w+)"|FROM "(\w+)".* FOR UPDATE', re.S)


def accepted(seat: SeatAt) -> Job:
    return said_yes(seat, sent(seat, a_designed_job(seat)))


def called_off(seat: SeatAt, job: Job) -> None:
    on = timezone.localdate()
    seen = calling_off.look(seat, job, on=on).seen
    calling_off.call_off(seat, job, on=on, percent=None, why="", seen=seen)


DEEDS: dict[str, tuple[Callable[[SeatAt], Job], Callable[[SeatAt, Job], object]]] = {
    "proposal": (a_designed_job, sent),
    "yes": (lambda seat: sent(seat, a_designed_job(seat)).job, lambda seat, job: said_yes(seat, Offer.objects.get(job=job))),
    "payment": (accepted, lambda seat, job: pay(seat, job, Decimal(500))),
    "stage": (accepted, lambda seat, job: move(seat, job, S.BOOKED)),
    "invoice": (accepted, lambda seat, job: issue(seat, job, on=timezone.localdate())),
    "move": (accepted, lambda seat, job: postpone(seat, job, job.event_start + timedelta(days=2), why="")),
    "cancellation": (accepted, called_off),
}  # fmt: skip


@pytest.mark.parametrize("deed", DEEDS)
def test_the_studio_is_locked_before_any_row_of_it(seat: SeatAt, deed: str) -> None:
    make, act = DEEDS[deed]
    seat.studio.tax_number = "GB 980 7806 84"
    seat.studio.save()
    job = make(seat)
    with CaptureQueriesContext(connection) as asked:
        act(seat, job)
    texts = [query["sql"] for query in asked]
    studio = next(
        n
        for n, sql in enumerate(texts)
        if re.search(r'FROM "studio_studio" WHERE "studio_studio"."id"', sql)
    )
    others = [
        n
        for n, sql in enumerate(texts)
        if (found := LOCKS.search(sql)) and "studio_studio" not in found.groups()
    ]
    assert others, "expected the deed to write something"
    assert studio < others[0], texts[: others[0] + 1]

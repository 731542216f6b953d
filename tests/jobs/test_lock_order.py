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

from jobs.day.moving_event import move_event
from jobs.models import Job, Offer
from jobs.money import cancelling
from jobs.money.invoicing import issue_invoice
from jobs.stages import S, move_to_stage
from studio.access import Access
from tests.factories import a_designed_job
from tests.happenings import pay, said_yes, sent

LOCKS = re.compile(r'^(?:INSERT INTO|UPDATE|DELETE FROM) "(\w+)"|FROM "(\w+)".* FOR UPDATE', re.S)


def accepted(access: Access) -> Job:
    return said_yes(access, sent(access, a_designed_job(access)))


def cancellation_of(access: Access, job: Job) -> None:
    on = timezone.localdate()
    seen = cancelling.preview_cancellation(access, job, on=on).seen
    cancelling.cancel_job(access, job, on=on, percent=None, why="", seen=seen)


DEEDS: dict[str, tuple[Callable[[Access], Job], Callable[[Access, Job], object]]] = {
    "proposal": (a_designed_job, sent),
    "yes": (lambda access: sent(access, a_designed_job(access)).job, lambda access, job: said_yes(access, Offer.objects.get(job=job))),
    "payment": (accepted, lambda access, job: pay(access, job, Decimal(500))),
    "stage": (accepted, lambda access, job: move_to_stage(access, job, S.BOOKED)),
    "invoice": (accepted, lambda access, job: issue_invoice(access, job, on=timezone.localdate())),
    "move": (accepted, lambda access, job: move_event(access, job, job.event_start + timedelta(days=2), why="")),
    "cancellation": (accepted, cancellation_of),
}  # fmt: skip


@pytest.mark.parametrize("deed", DEEDS)
def test_the_studio_is_locked_before_any_row_of_it(access: Access, deed: str) -> None:
    make, act = DEEDS[deed]
    access.studio.tax_number = "GB 980 7806 84"
    access.studio.save()
    job = make(access)
    with CaptureQueriesContext(connection) as asked:
        act(access, job)
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

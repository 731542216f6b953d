"""Rows that are written once."""

from __future__ import annotations

import pytest
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from jobs.models import LogEntry
from studio.access import Access
from studio.append_only import WrittenOnce, guarded_tables
from tests.factories import JobFactory


@pytest.fixture
def line(access: Access) -> LogEntry:
    job = JobFactory.create(studio=access.studio)
    return access.add(LogEntry, job=job, at=timezone.now(), what="Something happened")


def test_what_is_sent_accepted_and_paid_is_written_once() -> None:
    assert {"jobs_offer", "jobs_acceptance", "jobs_payment", "jobs_logentry"} <= set(
        guarded_tables()
    )


def test_python_refuses_a_change(line: LogEntry) -> None:
    line.what = "Something else"
    with pytest.raises(WrittenOnce):
        line.save()
    with pytest.raises(WrittenOnce):
        line.delete()


@pytest.mark.parametrize(
    "sql", ["UPDATE jobs_logentry SET what = 'else'", "DELETE FROM jobs_logentry"]
)
def test_the_database_refuses_a_change_too(line: LogEntry, sql: str) -> None:
    with (
        pytest.raises(DatabaseError, match="append-only"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(sql)
    assert LogEntry.objects.get().what == "Something happened"


def test_a_queryset_is_refused_as_well(line: LogEntry) -> None:
    with pytest.raises(DatabaseError), transaction.atomic():
        LogEntry.objects.update(what="else")

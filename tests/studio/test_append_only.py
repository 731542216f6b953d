"""Rows that are written once."""

from __future__ import annotations

import pytest
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from jobs.models import Happening
from studio.append_only import WrittenOnce, guarded_tables
from studio.door import SeatAt
from tests.factories import JobFactory


@pytest.fixture
def line(seat: SeatAt) -> Happening:
    job = JobFactory.create(studio=seat.studio)
    return seat.add(Happening, job=job, at=timezone.now(), what="Something happened")


def test_what_is_sent_accepted_and_paid_is_written_once() -> None:
    assert {"jobs_offer", "jobs_acceptance", "jobs_payment", "jobs_happening"} <= set(
        guarded_tables()
    )


def test_python_refuses_a_change(line: Happening) -> None:
    line.what = "Something else"
    with pytest.raises(WrittenOnce):
        line.save()
    with pytest.raises(WrittenOnce):
        line.delete()


@pytest.mark.parametrize(
    "sql", ["UPDATE jobs_happening SET what = 'else'", "DELETE FROM jobs_happening"]
)
def test_the_database_refuses_a_change_too(line: Happening, sql: str) -> None:
    with (
        pytest.raises(DatabaseError, match="append-only"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(sql)
    assert Happening.objects.get().what == "Something happened"


def test_a_queryset_is_refused_as_well(line: Happening) -> None:
    with pytest.raises(DatabaseError), transaction.atomic():
        Happening.objects.update(what="else")

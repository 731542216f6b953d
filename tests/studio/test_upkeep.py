"""SQLite knows its own tables."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection

from pricing.models import KitItem, KitNote
from studio import upkeep
from studio.access import Access
from studio.signals import before_sending

only_sqlite = pytest.mark.skipif(
    connection.vendor != "sqlite", reason="PostgreSQL counts by itself"
)


def plan(access: Access, item: KitItem) -> str:
    return str(access.rows(KitNote).filter(item=item).explain())


@pytest.fixture
def notes(access: Access) -> KitItem:
    """A studio with many notes on its kit; the item is one of many."""
    kit = [access.add(KitItem, name=f"Ring {n}") for n in range(20)]
    KitNote.objects.bulk_create(
        KitNote(studio=access.studio, item=item, what="A scratch")
        for item in kit
        for _ in range(50)
    )
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM sqlite_stat1")
        cursor.execute("ANALYZE sqlite_schema")  # what was known is forgotten
    return kit[0]


@only_sqlite
def test_rows_are_found_by_the_index_that_fits_once_they_are_counted(
    access: Access, notes: KitItem
) -> None:
    before = plan(access, notes)
    upkeep.keep_statistics()
    assert "(item_id=?)" in plan(access, notes)
    assert "(studio_id=?)" in before  # otherwise nothing need be counted


@only_sqlite
def test_a_migration_counts(access: Access, notes: KitItem) -> None:
    call_command("migrate", verbosity=0, stdout=StringIO())
    with connection.cursor() as cursor:
        cursor.execute("SELECT COUNT(*) FROM sqlite_stat1 WHERE tbl = 'pricing_kitnote'")
        assert cursor.fetchone()[0] > 0


def test_the_mail_worker_counts_once_a_day(access: Access, monkeypatch: Any) -> None:
    counted: list[str] = []
    monkeypatch.setattr(upkeep, "_done", {})
    monkeypatch.setattr(upkeep, "keep_statistics", lambda: counted.append("counted"))
    noon = datetime(2026, 5, 4, 12, tzinfo=UTC)
    for hours, many in ((0, 1), (1, 1), (11, 1), (12, 2), (13, 2)):
        upkeep.keep_statistics_daily(at=noon + timedelta(hours=hours))
        assert len(counted) == many
    before_sending.send(sender=None)
    assert len(counted) == 3


def test_a_day_whose_counting_failed_is_tried_again(monkeypatch: Any) -> None:
    monkeypatch.setattr(upkeep, "_done", {})
    monkeypatch.setattr(upkeep, "keep_statistics", lambda: 1 / 0)
    for _ in range(2):
        with pytest.raises(ZeroDivisionError):
            upkeep.keep_statistics_daily()

"""What the database is told about itself, so that it finds rows by the index that fits."""

from __future__ import annotations

from datetime import UTC, date, datetime

from django.db import connections

ROWS = 1000  # looked at in each index: a second at most, however much there is (sqlite.org/lang_analyze.html)
_done: dict[str, date] = {}


def keep_statistics(using: str = "default", **_: object) -> None:
    """Count anew how many rows share a value of each index; PostgreSQL does so by itself (autovacuum).

    Without counts SQLite takes the index over the studio alone, which holds every row. `PRAGMA optimize` decides
    by what its own connection asked before, and this one has asked nothing: so all indexes are counted.
    """
    connection = connections[using]
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA analysis_limit={ROWS}")
        cursor.execute("ANALYZE")


def keep_statistics_daily(*, at: datetime | None = None, **_: object) -> None:
    """The mail worker asks every few seconds; done once a day (UTC) and after each start."""
    today = (at or datetime.now(UTC)).date()
    if _done.get("statistics") != today:
        keep_statistics()
        _done["statistics"] = today

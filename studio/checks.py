"""Start-up checks that say what the data stands on."""

from __future__ import annotations

import sqlite3
from typing import Any

from django.core.checks import CheckMessage, Error, Info, Warning, register
from django.db import connection

from studio.required_settings import lacking

# The WAL-reset bug of SQLite is mended in these and later (sqlite.org/wal.html).
MENDED = ((3, 51, 3), (3, 50, 7), (3, 44, 6))


def wal_is_sound(version: tuple[int, ...]) -> bool:
    """Whether this SQLite's write-ahead log is free of the reset bug."""
    return version >= MENDED[0] or any(v[:2] == version[:2] and version >= v for v in MENDED[1:])


@register(deploy=True)
def check_required_settings(app_configs: object, **_: Any) -> list[CheckMessage]:
    return [Error(sentence, id="studio.E001") for sentence in lacking()]


@register("database")
def check_journal(app_configs: object, **_: Any) -> list[CheckMessage]:
    if connection.vendor == "sqlite":
        version = sqlite3.sqlite_version
        why = "its write-ahead log would be sound too" if wal_is_sound(sqlite3.sqlite_version_info) else (
            "its write-ahead log has a known reset bug"
        )  # fmt: skip
        return [Info(f"SQLite {version} uses the rollback journal: {why}.", id="studio.I001")]
    if connection.vendor == "postgresql" and connection.pg_version < 150000:  # type: ignore[attr-defined]
        return [Warning("PostgreSQL: expected 15 or newer.", id="studio.W001")]
    return []

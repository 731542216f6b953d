"""Rows that are written once: refused in Python, and by the database itself through triggers."""

from __future__ import annotations

from typing import Any, NoReturn

from django.apps import apps
from django.db import connections, models
from django.db.backends.base.base import BaseDatabaseWrapper

SQLITE = """CREATE TRIGGER IF NOT EXISTS "{table}_no_{verb}" BEFORE {verb} ON "{table}"
BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"""

POSTGRES_FUNCTION = """CREATE OR REPLACE FUNCTION archwright_append_only() RETURNS trigger AS $$
BEGIN RAISE EXCEPTION '% is append-only', TG_TABLE_NAME USING ERRCODE = 'check_violation'; END;
$$ LANGUAGE plpgsql"""
POSTGRES = """CREATE OR REPLACE TRIGGER "{table}_no_{verb}" BEFORE {verb} ON "{table}"
FOR EACH ROW EXECUTE FUNCTION archwright_append_only()"""


class WrittenOnce(TypeError):
    """An attempt to change or delete a row that is written once."""


class AppendOnly(models.Model):
    """Mixin: a row can be added and read, nothing else."""

    class Meta:
        abstract = True

    def save(self, *args: Any, **options: Any) -> None:
        if not self._state.adding:
            raise WrittenOnce(
                f"{self._meta.verbose_name}: expected a new row, got a change of an old one."
            )
        super().save(*args, **options)

    def delete(self, *args: Any, **options: Any) -> NoReturn:
        raise WrittenOnce(f"{self._meta.verbose_name}: rows are never deleted.")


def guarded_tables() -> list[str]:
    return [m._meta.db_table for m in apps.get_models() if issubclass(m, AppendOnly)]


def raise_guards(using: str = "default", **_: object) -> None:
    """Put the triggers on every append-only table; run after each migrate, harmless when repeated."""
    connection = connections[using]
    present = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(POSTGRES_FUNCTION)
        for table in guarded_tables():
            if table in present:
                for statement in _statements(connection, table):
                    cursor.execute(statement)


def _statements(connection: BaseDatabaseWrapper, table: str) -> list[str]:
    shape = POSTGRES if connection.vendor == "postgresql" else SQLITE
    return [shape.format(table=table, verb=verb) for verb in ("UPDATE", "DELETE")]


def lower_guards(using: str = "default") -> None:
    """Take the triggers off, so that a test database can be emptied."""
    connection = connections[using]
    on = ' ON "{table}"' if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        for table in guarded_tables():
            for verb in ("UPDATE", "DELETE"):
                cursor.execute(
                    f'DROP TRIGGER IF EXISTS "{table}_no_{verb}"' + on.format(table=table)
                )

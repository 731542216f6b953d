"""The database itself refuses to promise one thing twice.

PostgreSQL: an exclusion constraint over item and time. SQLite has none: triggers do the same, under its one
writer at a time. Installed after every migrate; harmless when repeated.
"""

from __future__ import annotations

from django.db import IntegrityError, connections

TABLE = "pricing_kitbooking"
NAME = "kit_never_twice"

POSTGRES = """DO $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM pg_constraint WHERE conname = 'kit_never_twice') THEN
ALTER TABLE pricing_kitbooking ADD CONSTRAINT kit_never_twice EXCLUDE USING gist (
  int8range(item_id, item_id, '[]') WITH &&, tstzrange(out_from, back_until) WITH &&
) WHERE (returned_at IS NULL); END IF; END $$"""

SQLITE = """CREATE TRIGGER IF NOT EXISTS {name}_{verb} BEFORE {verb} ON {table}
WHEN NEW.returned_at IS NULL BEGIN
SELECT RAISE(ABORT, '{name}') WHERE EXISTS (
  SELECT 1 FROM {table} WHERE item_id = NEW.item_id AND id IS NOT NEW.id AND returned_at IS NULL
  AND out_from < NEW.back_until AND back_until > NEW.out_from); END"""


def stand_guard(using: str = "default", **_: object) -> None:
    connection = connections[using]
    if TABLE not in connection.introspection.table_names():
        return
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(POSTGRES)
        else:
            for verb in ("INSERT", "UPDATE"):
                cursor.execute(SQLITE.format(name=NAME, verb=verb, table=TABLE))


def is_clash(error: IntegrityError) -> bool:
    """Whether the database refused for this reason."""
    return NAME in str(error)

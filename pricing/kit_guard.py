"""The database itself refuses to promise one thing twice, or what has not come back when it should.

PostgreSQL: an exclusion constraint over item and time. SQLite has none: triggers do the same, under its one
writer at a time. What should be back and is not holds its item until it is checked in, against all that is not
over yet: that needs a clock, so a trigger holds it on both. Installed after every migrate; harmless when repeated.
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

# Both compare what is written with the clock of the database. Where two write at once, they wait at the item.
POSTGRES_LATE = """CREATE OR REPLACE FUNCTION archwright_kit_late() RETURNS trigger AS $$ BEGIN
IF NEW.returned_at IS NULL AND NEW.back_until > clock_timestamp() THEN
  PERFORM 1 FROM pricing_kititem WHERE id = NEW.item_id FOR NO KEY UPDATE;
  IF EXISTS (
    SELECT 1 FROM pricing_kitbooking WHERE item_id = NEW.item_id AND id IS DISTINCT FROM NEW.id
    AND returned_at IS NULL AND back_until <= clock_timestamp() AND out_from < NEW.back_until
  ) THEN RAISE EXCEPTION 'kit_never_twice: late' USING ERRCODE = 'exclusion_violation'; END IF;
END IF; RETURN NEW; END; $$ LANGUAGE plpgsql;
CREATE OR REPLACE TRIGGER kit_late BEFORE INSERT OR UPDATE OF item_id, out_from, back_until, returned_at
ON pricing_kitbooking FOR EACH ROW EXECUTE FUNCTION archwright_kit_late()"""

SQLITE_NOW = "strftime('%Y-%m-%d %H:%M:%f', 'now')"  # as Django writes a moment there: UTC, as text
SQLITE_LATE = """CREATE TRIGGER IF NOT EXISTS kit_late_{name} BEFORE {verb} ON {table}
WHEN NEW.returned_at IS NULL AND NEW.back_until > {now} BEGIN
SELECT RAISE(ABORT, 'kit_never_twice') WHERE EXISTS (
  SELECT 1 FROM {table} WHERE item_id = NEW.item_id AND id IS NOT NEW.id AND returned_at IS NULL
  AND back_until <= {now} AND out_from < NEW.back_until); END"""
MOVED = "UPDATE OF item_id, out_from, back_until, returned_at"


def stand_guard(using: str = "default", **_: object) -> None:
    connection = connections[using]
    if TABLE not in connection.introspection.table_names():
        return
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(POSTGRES)
            cursor.execute(POSTGRES_LATE)
        else:
            for verb in ("INSERT", "UPDATE"):
                cursor.execute(SQLITE.format(name=NAME, verb=verb, table=TABLE))
            for name, verb in (("insert", "INSERT"), ("update", MOVED)):
                cursor.execute(
                    SQLITE_LATE.format(name=name, verb=verb, table=TABLE, now=SQLITE_NOW)
                )


def is_clash(error: IntegrityError) -> bool:
    """Whether the database refused for this reason."""
    return NAME in str(error)

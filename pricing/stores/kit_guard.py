"""The database itself refuses to promise one thing twice, or what has not come back when it should.

PostgreSQL: an exclusion constraint over item and time. SQLite has none: triggers do the same, under its one
writer at a time. What should be back and is not holds its item until it is checked in, against all that begins
within the days that a booking carries (`late_days`) and is not over yet: that needs a clock, so a trigger holds it
on both. Put in anew after every migrate, so that a database of an earlier landing gets today's.
"""

from __future__ import annotations

from typing import Any

from django.db import IntegrityError, connections, transaction

TABLE = "pricing_kitbooking"
NAME = "kit_never_twice"

POSTGRES = """DO $$ BEGIN
IF NOT EXISTS (SELECT 1 FROM pg_constraint WHERE conname = 'kit_never_twice') THEN
ALTER TABLE pricing_kitbooking ADD CONSTRAINT kit_never_twice EXCLUDE USING gist (
  int8range(item_id, item_id, '[]') WITH &&, tstzrange(out_from, back_until) WITH &&
) WHERE (returned_at IS NULL); END IF; END $$"""

SQLITE = """CREATE TRIGGER {name}_{verb} BEFORE {verb} ON {table}
WHEN NEW.returned_at IS NULL BEGIN
SELECT RAISE(ABORT, '{name}') WHERE EXISTS (
  SELECT 1 FROM {table} WHERE item_id = NEW.item_id AND id IS NOT NEW.id AND returned_at IS NULL
  AND out_from < NEW.back_until AND back_until > NEW.out_from); END"""

# Both compare what is written with the clock of the database. Where two write at once, they wait at the item.
POSTGRES_LATE = """CREATE OR REPLACE FUNCTION archwright_kit_late() RETURNS trigger AS $$ BEGIN
IF NEW.returned_at IS NULL AND NEW.back_until > clock_timestamp()
  AND NEW.out_from <= clock_timestamp() + NEW.late_days * interval '1 day' THEN
  PERFORM 1 FROM pricing_kititem WHERE id = NEW.item_id FOR NO KEY UPDATE;
  IF EXISTS (
    SELECT 1 FROM pricing_kitbooking WHERE item_id = NEW.item_id AND id IS DISTINCT FROM NEW.id
    AND returned_at IS NULL AND back_until <= clock_timestamp() AND out_from < NEW.back_until
  ) THEN RAISE EXCEPTION 'kit_never_twice: late' USING ERRCODE = 'exclusion_violation'; END IF;
END IF; RETURN NEW; END; $$ LANGUAGE plpgsql;
CREATE OR REPLACE TRIGGER kit_late BEFORE INSERT OR UPDATE OF item_id, out_from, back_until, returned_at
ON pricing_kitbooking FOR EACH ROW EXECUTE FUNCTION archwright_kit_late()"""

SQLITE_NOW = "strftime('%Y-%m-%d %H:%M:%f', 'now')"  # as Django writes a moment there: UTC, as text
SQLITE_SOON = "strftime('%Y-%m-%d %H:%M:%f', 'now', '+' || NEW.late_days || ' days')"
SQLITE_LATE = """CREATE TRIGGER kit_late_{name} BEFORE {verb} ON {table}
WHEN NEW.returned_at IS NULL AND NEW.back_until > {now} AND NEW.out_from <= {soon} BEGIN
SELECT RAISE(ABORT, 'kit_never_twice') WHERE EXISTS (
  SELECT 1 FROM {table} WHERE item_id = NEW.item_id AND id IS NOT NEW.id AND returned_at IS NULL
  AND back_until <= {now} AND out_from < NEW.back_until); END"""
MOVED = "UPDATE OF item_id, out_from, back_until, returned_at"


def is_ready(connection: Any, cursor: Any) -> bool:
    """Whether the table has what the guard reads: migrating part of the way leaves it as it was."""
    if TABLE not in connection.introspection.table_names(cursor):
        return False
    found = connection.introspection.get_table_description(cursor, TABLE)
    return "late_days" in {column.name for column in found}


def stand_guard(using: str = "default", **_: object) -> None:
    connection = connections[using]
    with transaction.atomic(using=using), connection.cursor() as cursor:
        if not is_ready(connection, cursor):
            return
        if connection.vendor == "postgresql":
            cursor.execute(POSTGRES)
            cursor.execute(POSTGRES_LATE)
        else:
            for name, trigger in sqlite_triggers().items():
                cursor.execute(f"DROP TRIGGER IF EXISTS {name}")
                cursor.execute(trigger)


def sqlite_triggers() -> dict[str, str]:
    """What makes each trigger, by its name."""
    made = {
        f"{NAME}_{verb}": SQLITE.format(name=NAME, verb=verb, table=TABLE)
        for verb in ("INSERT", "UPDATE")
    }
    clock = {"table": TABLE, "now": SQLITE_NOW, "soon": SQLITE_SOON}
    for name, verb in (("insert", "INSERT"), ("update", MOVED)):
        made[f"kit_late_{name}"] = SQLITE_LATE.format(name=name, verb=verb, **clock)
    return made


def is_clash(error: IntegrityError) -> bool:
    """Whether the database refused for this reason."""
    return NAME in str(error)

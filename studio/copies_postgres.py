"""Copies of a PostgreSQL database, and the places where they are proved: databases beside it."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

import psycopg
from django.db import connection
from psycopg.sql import SQL, Composed, Identifier

from studio.copies_tools import MayNot, NoCopy, bring_up, records_of, run, stamp, tool


def live() -> str:
    return str(connection.settings_dict["NAME"])


def where(name: str) -> dict[str, str]:
    """As libpq reads it: no password stands among the words of a command."""
    facts = connection.settings_dict
    told = {
        "PGHOST": facts["HOST"], "PGPORT": str(facts["PORT"]), "PGUSER": facts["USER"],
        "PGPASSWORD": facts["PASSWORD"], "PGDATABASE": name,
    }  # fmt: skip
    return {key: value for key, value in told.items() if value}


def url_of(name: str) -> str:
    facts = connection.settings_dict
    user, password = (quote(str(facts[key]), safe="") for key in ("USER", "PASSWORD"))
    at = f"{facts['HOST']}:{facts['PORT']}" if facts["PORT"] else facts["HOST"]
    return f"postgres://{user}{':' + password if password else ''}@{at}/{quote(name, safe='')}"


def do(*statements: Composed) -> None:
    """Run statements about databases from one that they are not about."""
    beside = next(name for name in ("postgres", "template1") if name != live())
    with psycopg.connect(url_of(beside), autocommit=True) as server:
        for statement in statements:
            server.execute(statement)


@contextmanager
def scratch() -> Iterator[str]:
    """A new database beside this one, dropped at the end if it is still there. Raises MayNot."""
    name = f"{live()[:40]}_copy_{secrets.token_hex(4)}"
    try:
        do(SQL("CREATE DATABASE {} TEMPLATE template0").format(Identifier(name)))
    except psycopg.errors.InsufficientPrivilege:
        raise MayNot(
            "A copy is proved in a database beside this one: expected a role that may create databases "
            "(ALTER ROLE … CREATEDB), got one that may not."
        ) from None
    try:
        yield name
    finally:
        do(SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(Identifier(name)))


def fill(name: str, source: Path) -> None:
    words = ["--no-owner", "--no-privileges", "--exit-on-error", f"--dbname={name}", str(source)]
    run([tool("pg_restore"), *words], where(name))


def backup(part: Path) -> list[str]:
    connection.close()
    words = ["--format=custom", "--no-owner", "--no-privileges", f"--file={part}"]
    run([tool("pg_dump"), *words], where(live()))
    try:
        with scratch() as name:
            fill(name, part)
            return records_of(url_of(name))
    except MayNot as reason:  # read through to its end, and the records walked where they stand
        run([tool("pg_restore"), f"--file={os.devnull}", str(part)], {})
        return [f"{reason} The copy was read, not tried.", *records_of(url_of(live()))]


def holds_something() -> bool:
    if "studio_studio" not in connection.introspection.table_names():
        return False
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM studio_studio LIMIT 1")
        return cursor.fetchone() is not None


def restore(source: Path) -> tuple[str, list[str]]:
    """The copy fills a database beside the old one, is migrated and walked there; then they change names."""
    with scratch() as name:
        fill(name, source)
        bring_up(url_of(name))
        told = records_of(url_of(name))
        return change_names(name), told


def change_names(name: str) -> str:
    """What the old database is called now. Nobody is connected to either meanwhile."""
    connection.close()
    if pool := getattr(connection, "close_pool", None):
        pool()
    now, aside = Identifier(live()), f"{live()[:40]}_before_{stamp()}"
    do(SQL("ALTER DATABASE {} ALLOW_CONNECTIONS false").format(now))
    try:
        do(
            SQL("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = {}").format(live()),
            SQL("ALTER DATABASE {} RENAME TO {}").format(now, Identifier(aside)),
        )  # fmt: skip
    except psycopg.Error as error:
        do(SQL("ALTER DATABASE {} ALLOW_CONNECTIONS true").format(now))
        raise NoCopy(f"The old database could not be put aside: {error}") from None
    do(
        SQL("ALTER DATABASE {} RENAME TO {}").format(Identifier(name), now),
        SQL("ALTER DATABASE {} ALLOW_CONNECTIONS true").format(Identifier(aside)),
    )
    return aside

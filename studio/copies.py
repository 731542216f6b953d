"""Copies of the whole database: made while it is in use, proved before they are called copies, put back.

SQLite by its own backup interface, which reads one state of the file whoever writes meanwhile (copying the file
does not); PostgreSQL by pg_dump and pg_restore, found on PATH.
"""

from __future__ import annotations

import os
from pathlib import Path

from django.db import connection

from studio.copies_tools import NoCopy

HEADS = {"sqlite": b"SQLite format 3\0", "postgresql": b"PGDMP"}  # how a copy of each begins


def backup(target: Path) -> list[str]:
    """Write a proved copy; sentences about what its records tell. Raises NoCopy, and leaves no half of a copy."""
    from studio import copies_postgres, copies_sqlite

    if target.exists():
        raise NoCopy(f"{target}: expected a new file, got one that is there.")
    part = target.with_name(target.name + ".part")
    try:
        os.close(os.open(part, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600))  # clients' data
        engine = copies_sqlite if connection.vendor == "sqlite" else copies_postgres
        told: list[str] = engine.backup(part)
        with part.open("rb") as copy:
            os.fsync(copy.fileno())
        part.rename(target)
    except OSError as error:
        raise NoCopy(f"{target}: expected a place to write to, got “{error}”.") from None
    finally:
        for left in (part, part.with_name(part.name + "-journal")):
            left.unlink(missing_ok=True)
    return told


def restore(source: Path, *, replace: bool) -> tuple[str, list[str]]:
    """Put a copy in the place of the database: where the old one is now, and what the records tell.

    Raises NoCopy before anything is replaced: a file that is no copy or not whole, a database that holds
    something already where `replace` was not said.
    """
    from studio import copies_postgres, copies_sqlite

    check_head(source)
    engine = copies_sqlite if connection.vendor == "sqlite" else copies_postgres
    if engine.holds_something() and not replace:
        raise NoCopy(
            "The database holds a studio already. Say --replace: the copy takes its place, and it is put aside."
        )
    before, told = engine.restore(source)
    return before, told


def check_head(source: Path) -> None:
    wanted = HEADS[connection.vendor]
    try:
        with source.open("rb") as copy:
            head = copy.read(len(wanted))
    except OSError as error:
        raise NoCopy(f"{source}: expected a copy, got “{error.strerror}”.") from None
    if head != wanted:
        raise NoCopy(
            f"{source}: expected a copy that `backup` made of this kind of database, got another file."
        )

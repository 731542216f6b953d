"""Copies of the whole database: made while it is in use, proved before they are called copies, put back.

SQLite by its own backup interface, which reads one state of the file whoever writes meanwhile (copying the file
does not); PostgreSQL by pg_dump and pg_restore, found on PATH.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings
from django.db import connection

HEADS = {"sqlite": b"SQLite format 3\0", "postgresql": b"PGDMP"}  # how a copy of each begins


class NoCopy(Exception):
    """Why there is no copy, or why it was not put back."""


class MayNot(NoCopy):
    """The role may not make databases."""


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


def manage(url: str, *words: str) -> tuple[int, list[str]]:
    """Run one of the site's commands on another database: its exit, and what it said."""
    done = subprocess.run(  # noqa: S603  our own command
        [sys.executable, str(settings.HOME / "manage.py"), *words],
        env={**os.environ, "DATABASE_URL": url}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    return done.returncode, (done.stdout if done.stdout.strip() else done.stderr).splitlines()


def records_of(url: str) -> list[str]:
    """What is not as it was written; nothing when all is well."""
    failed, said = manage(url, "verify_records")
    return said if failed else []


def bring_up(url: str) -> None:
    """Tables of an older copy as this version needs them. Raises NoCopy."""
    failed, said = manage(url, "migrate", "-v0")
    if failed:
        raise NoCopy("The copy cannot be brought up to this version: " + " ".join(said[-3:]))


def stamp() -> str:
    return datetime.now(UTC).strftime("%Y%m%d_%H%M%S")


def tool(name: str) -> str:
    found = shutil.which(name)
    if not found:
        raise NoCopy(
            f"{name}: expected it on PATH, got none. Debian has it in postgresql-client; it must not be older "
            "than the server."
        )
    return found


def run(words: list[str], env: dict[str, str]) -> None:
    done = subprocess.run(words, env={**os.environ, **env}, capture_output=True, text=True, check=False)  # noqa: S603  # fmt: skip
    if done.returncode:
        raise NoCopy(f"{Path(words[0]).name}: {done.stderr.strip() or 'failed'}")

"""Copies of a SQLite file."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing, suppress
from pathlib import Path
from urllib.parse import quote

from django.db import connection

from studio.copies_tools import NoCopy, bring_up, records_of, stamp

PATIENCE_S = 60.0  # for a moment without a writer
HOLD_S = 10.0


def live() -> Path:
    return Path(connection.settings_dict["NAME"])


def url_of(file: Path) -> str:
    return f"sqlite://{quote(str(file.absolute()))}"


def copy(source: Path, target: Path, *, patience_s: float = PATIENCE_S) -> None:
    """One state of a file, whoever writes to it meanwhile (sqlite.org/backup.html). Raises NoCopy.

    In one step: a copy in several begins anew whenever another process has written.
    """
    until = time.monotonic() + patience_s

    def look(*_: int) -> None:
        if time.monotonic() > until:
            raise NoCopy(f"{source}: expected a moment without a writer, got none in {patience_s:g} s.")  # fmt: skip

    try:
        with closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=rw", uri=True)) as read, \
                closing(sqlite3.connect(target)) as written:  # fmt: skip
            read.backup(written, pages=-1, progress=look, sleep=0.05)
    except sqlite3.DatabaseError as error:
        raise NoCopy(f"{source}: expected a database that can be read, got “{error}”.") from None


def check(file: Path) -> None:
    """Raises NoCopy where a page, an index or a reference is broken."""
    try:
        with closing(sqlite3.connect(file)) as read:
            told = [row[0] for row in read.execute("PRAGMA integrity_check(5)")]
            loose = read.execute("PRAGMA foreign_key_check").fetchmany(5)
    except sqlite3.DatabaseError as error:
        told, loose = [str(error)], []
    if told != ["ok"] or loose:
        raise NoCopy(f"The copy is not whole: {'; '.join(map(str, told + loose))}.")


def backup(part: Path) -> list[str]:
    copy(live(), part)
    check(part)
    return records_of(url_of(part))


def holds_something() -> bool:
    """Whether the file has a studio in it; one that cannot be read may have."""
    if not live().exists() or not live().stat().st_size:
        return False
    try:
        with closing(sqlite3.connect(live(), timeout=HOLD_S)) as read:
            if not read.execute(
                "SELECT 1 FROM sqlite_schema WHERE name = 'studio_studio'"
            ).fetchone():
                return False
            return bool(read.execute("SELECT 1 FROM studio_studio LIMIT 1").fetchone())
    except sqlite3.DatabaseError:
        return True


def restore(source: Path) -> tuple[str, list[str]]:
    """The copy is copied, checked, migrated and walked beside the old file; then they change places."""
    now = live()
    part = now.with_name(f"{now.name}.{stamp()}.part")
    try:
        check(source)
        copy(source, part)
        part.chmod(0o600)
        bring_up(url_of(part))
        check(part)
        told = records_of(url_of(part))
        return change_places(part, now), told
    finally:
        for left in (part, journal(part)):
            left.unlink(missing_ok=True)


def change_places(part: Path, now: Path) -> str:
    """Where the old file is; "" where there was none."""
    connection.close()
    aside = now.with_name(f"{now.stem}.before_{stamp()}{now.suffix}")
    let_finish(now)
    was = now.exists()
    for old, new in ((now, aside), (journal(now), journal(aside))):
        with suppress(FileNotFoundError):
            old.rename(new)
    part.rename(now)
    return str(aside) if was else ""


def let_finish(file: Path) -> None:
    """Wait until nobody is in the middle of writing. Raises NoCopy; a file that is broken cannot say."""
    if not file.exists():
        return
    try:
        with closing(sqlite3.connect(file, timeout=HOLD_S, isolation_level=None)) as held:
            held.execute("BEGIN EXCLUSIVE")
            held.execute("ROLLBACK")
    except sqlite3.OperationalError as error:
        if "locked" in str(error):
            raise NoCopy(f"{file}: somebody is writing to it. Stop the site first.") from None
    except sqlite3.DatabaseError:
        pass


def journal(file: Path) -> Path:
    return file.with_name(file.name + "-journal")

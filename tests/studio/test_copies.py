"""`manage.py backup` and `restore`: a filled database is copied while it is written to, and comes back."""

from __future__ import annotations

import lzma
import os
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from urllib.parse import urlparse
from uuid import uuid4

import psycopg
import pytest
from django.db import connection

from studio import copies, copies_sqlite
from studio.copies_tools import NoCopy
from tests.keep_database import HOME, KEPT

only_sqlite = pytest.mark.skipif(connection.vendor != "sqlite", reason="of a file")
only_postgres = pytest.mark.skipif(connection.vendor != "postgresql", reason="of a server")
FILLED = "ce30f1e"  # of the kept databases


class Site:
    """A database of its own, for commands in processes of their own."""

    def __init__(self, url: str) -> None:
        self.url = url

    def manage(self, *words: str, **env: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "manage.py", *words], cwd=HOME, env={**os.environ, "DATABASE_URL": self.url, **env},
            capture_output=True, text=True, timeout=300, check=False,
        )  # fmt: skip

    def ask(self, sql: str) -> list[tuple[object, ...]]:
        if self.url.startswith("sqlite"):
            with closing(sqlite3.connect(urlparse(self.url).path)) as at:
                found = at.execute(sql).fetchall()
                at.commit()
                return found
        with psycopg.connect(self.url, autocommit=True) as server:
            done = server.execute(sql)  # type: ignore[arg-type]
            return done.fetchall() if done.description else []

    def name(self) -> object:
        return self.ask("SELECT name FROM studio_studio")[0][0]


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    """The demo's studio, as an earlier landing left it and today's tables hold it."""
    if connection.vendor == "sqlite":
        file = tmp_path / "archwright.sqlite3"
        file.write_bytes(lzma.decompress((KEPT / f"{FILLED}.sqlite3.xz").read_bytes()))
        made = Site(f"sqlite://{file}")
        assert made.manage("migrate", "-v0").returncode == 0
        yield made
        return
    url, name = os.environ["DATABASE_URL"], f"site_{uuid4().hex[:8]}"
    script = lzma.decompress((KEPT / f"{FILLED}.sql.xz").read_bytes()).decode()
    lines = [s for s in script.split("\n") if not s.startswith(("\\restrict ", "\\unrestrict "))]
    with psycopg.connect(url, autocommit=True) as server:
        server.execute(f'CREATE DATABASE "{name}"')  # type: ignore[arg-type]
    made = Site(urlparse(url)._replace(path=f"/{name}").geturl())
    made.ask("\n".join(lines))
    assert made.manage("migrate", "-v0").returncode == 0
    yield made
    with psycopg.connect(url, autocommit=True) as server:
        like = server.execute("SELECT datname FROM pg_database WHERE datname LIKE %s", [f"{name}%"])
        for (one,) in like.fetchall():
            server.execute(f'DROP DATABASE "{one}" WITH (FORCE)')  # type: ignore[arg-type]


def test_a_copy_comes_back_and_what_was_there_is_put_aside(site: Site, tmp_path: Path) -> None:
    was, copy = site.name(), tmp_path / "monday.copy"
    made = site.manage("backup", str(copy))
    assert (made.returncode, made.stderr) == (0, "")
    assert "The records in it are as they were written." in made.stdout
    assert "ARCHWRIGHT_SECRET" in made.stdout
    assert copy.stat().st_mode & 0o077 == 0  # clients' data are for nobody else
    assert [path.name for path in tmp_path.glob("*.part*")] == []

    again = site.manage("backup", str(copy))
    assert (again.returncode, "got one that is there" in again.stderr) == (1, True)

    site.ask("UPDATE studio_studio SET name = 'Another name'")
    refused = site.manage("restore", str(copy))
    assert (refused.returncode, "Say --replace" in refused.stderr) == (1, True)
    assert site.name() == "Another name"

    done = site.manage("restore", str(copy), "--replace")
    assert (done.returncode, done.stderr) == (0, "")
    assert "Its records are as they were written." in done.stdout
    assert site.name() == was
    assert aside(site, done.stdout).name() == "Another name"
    assert "is append-only" in refusal(site)  # the guards came back with it


def aside(site: Site, told: str) -> Site:
    at = told.partition("kept as ")[2].splitlines()[0].rstrip(".")
    parts = urlparse(site.url)
    return Site(
        f"sqlite://{at}" if parts.scheme == "sqlite" else parts._replace(path=f"/{at}").geturl()
    )


def refusal(site: Site) -> str:
    try:
        site.ask("DELETE FROM jobs_logentry")
    except (sqlite3.DatabaseError, psycopg.Error) as error:
        return str(error)
    return ""


@only_sqlite
def test_an_address_with_four_slashes_is_copied_and_put_back_too(
    site: Site, tmp_path: Path
) -> None:
    """sqlite:////a/file is how several libraries write a path from the root."""
    four, copy = Site(site.url.replace("sqlite:///", "sqlite:////")), tmp_path / "four.copy"
    assert four.url.startswith("sqlite:////")
    assert four.manage("backup", str(copy)).returncode == 0
    assert four.manage("restore", str(copy), "--replace").returncode == 0
    assert four.name() == site.name()


@only_sqlite
def test_a_file_with_odd_signs_in_its_name_is_copied(tmp_path: Path) -> None:
    odd = tmp_path / "100 % of #1?.sqlite3"
    with closing(sqlite3.connect(odd)) as at:
        at.executescript("CREATE TABLE a (n INTEGER); INSERT INTO a VALUES (7)")
    copies_sqlite.copy(odd, tmp_path / "odd.copy")
    with closing(sqlite3.connect(tmp_path / "odd.copy")) as at:
        assert at.execute("SELECT n FROM a").fetchall() == [(7,)]


def test_what_was_changed_behind_the_records_is_told_and_the_copy_kept(
    site: Site, tmp_path: Path
) -> None:
    on = " ON jobs_payment" if connection.vendor == "postgresql" else ""
    site.ask(f'DROP TRIGGER "jobs_payment_no_UPDATE"{on}')
    site.ask("UPDATE jobs_payment SET amount = amount + 1")
    made = site.manage("backup", str(tmp_path / "monday.copy"))
    assert made.returncode == 1
    assert "a payment of" in made.stderr
    assert "is missing or was changed" in made.stderr
    assert (tmp_path / "monday.copy").exists()


@pytest.mark.parametrize(
    "content", [b"", b"no copy at all", b"SQLite format 3\0cut off", b"PGDMPcut off"]
)
def test_a_file_that_is_no_copy_replaces_nothing(
    site: Site, tmp_path: Path, content: bytes
) -> None:
    (tmp_path / "broken.copy").write_bytes(content)
    was = site.name()
    refused = site.manage("restore", str(tmp_path / "broken.copy"), "--replace")
    assert refused.returncode == 1
    assert refused.stderr.startswith("CommandError: ")
    assert site.name() == was


@only_postgres
def test_without_the_tools_a_sentence_says_what_to_install(site: Site, tmp_path: Path) -> None:
    told = site.manage("backup", str(tmp_path / "monday.copy"), PATH="/nowhere")
    assert told.returncode == 1
    assert "pg_dump: expected it on PATH, got none." in told.stderr
    assert list(tmp_path.glob("monday*")) == []


# --- a file under write ---


@pytest.fixture
def written_to(tmp_path: Path) -> Iterator[Path]:
    """A file of some size in which every transaction writes one row into each of two tables, without a pause."""
    file = tmp_path / "live.sqlite3"
    with closing(sqlite3.connect(file)) as at:
        at.executescript(
            "PRAGMA journal_mode=TRUNCATE; CREATE TABLE a (n INTEGER, t TEXT); CREATE TABLE b (n INTEGER, t TEXT); CREATE INDEX by_n ON a (n)"
        )
        at.executemany("INSERT INTO a VALUES (?, ?)", [(n, "x" * 900) for n in range(5000)])
        at.executemany("INSERT INTO b VALUES (?, ?)", [(n, "x" * 900) for n in range(5000)])
        at.commit()
    stop = threading.Event()

    def write() -> None:
        with closing(sqlite3.connect(file, timeout=20, isolation_level=None)) as at:
            n = 5000
            while not stop.is_set():
                at.execute("BEGIN IMMEDIATE")
                at.execute("INSERT INTO a VALUES (?, ?)", (n, "y" * 900))
                at.execute("INSERT INTO b VALUES (?, ?)", (n, "y" * 900))
                at.execute("COMMIT")
                n += 1

    thread = threading.Thread(target=write)
    thread.start()
    yield file
    stop.set()
    thread.join()


def test_every_copy_of_a_file_under_write_is_whole_and_of_one_moment(
    written_to: Path, tmp_path: Path
) -> None:
    counts = []
    for n in range(8):
        target = tmp_path / f"{n}.copy"
        copies_sqlite.copy(written_to, target)
        copies_sqlite.check(target)
        with closing(sqlite3.connect(target)) as at:
            (a,), (b,) = (at.execute(f"SELECT COUNT(*) FROM {t}").fetchone() for t in "ab")
        assert a == b
        counts.append(a)
    assert counts == sorted(counts)
    assert counts[-1] > counts[0]  # it was written to meanwhile


def test_a_file_that_is_held_is_given_up_in_the_end(tmp_path: Path) -> None:
    file = tmp_path / "live.sqlite3"
    with closing(sqlite3.connect(file, isolation_level=None)) as held:
        held.execute("CREATE TABLE a (n INTEGER)")
        held.execute("BEGIN EXCLUSIVE")
        with pytest.raises(NoCopy, match="expected a moment without a writer"):
            copies_sqlite.copy(file, tmp_path / "copy", patience_s=0.5)


def test_a_copy_with_a_broken_page_is_none(tmp_path: Path, written_to: Path) -> None:
    target = tmp_path / "copy"
    copies_sqlite.copy(written_to, target)
    content = bytearray(target.read_bytes())
    content[40960:45056] = b"\xff" * 4096
    target.write_bytes(content)
    with pytest.raises(NoCopy, match="The copy is not whole"):
        copies_sqlite.check(target)


@only_sqlite
def test_a_place_that_cannot_be_written_to_is_named(tmp_path: Path) -> None:
    with pytest.raises(NoCopy, match="expected a place to write to"):
        copies.backup(tmp_path / "no such folder" / "monday.copy")


@only_sqlite
def test_an_empty_database_is_filled_without_being_asked(site: Site, tmp_path: Path) -> None:
    copy, was = tmp_path / "monday.copy", site.name()
    assert site.manage("backup", str(copy)).returncode == 0
    new = Site(f"sqlite://{tmp_path / 'new.sqlite3'}")
    done = new.manage("restore", str(copy))
    assert (done.returncode, new.name()) == (0, was)
    assert "kept as" not in done.stdout

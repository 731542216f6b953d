"""A studio's database of any landing comes up to today, whole; what landed is never edited."""

from __future__ import annotations

import hashlib
import json
import lzma
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlparse
from uuid import uuid4

import pytest
from django.db import connection

from tests.keep_database import HOME, KEPT, LANDED, landed

BEFORE_KEEPING = ("ae4a3d1", "ce30f1e")  # made afterwards, by the code of those commits


def kept(ending: str) -> list[Path]:
    return sorted(KEPT.glob(f"*.{ending}.xz"))


def test_what_landed_is_not_edited() -> None:
    edited = [
        path
        for path, sha256 in landed().items()
        if not (HOME / path).exists()
        or hashlib.sha256((HOME / path).read_bytes()).hexdigest() != sha256
    ]
    assert edited == [], f"{LANDED.name} has them as they landed: write a new migration instead"


def test_every_room_is_on_the_list_and_every_landing_is_kept_on_both_engines() -> None:
    assert {path.split("/")[0] for path in landed()} >= {"studio", "pricing", "jobs"}
    names = [{path.name.split(".")[0] for path in kept(e)} for e in ("sqlite3", "sql")]
    assert names[0] == names[1] >= set(BEFORE_KEEPING)


@pytest.fixture
def sqlite(tmp_path: Path, request: Any) -> dict[str, str]:
    (tmp_path / "archwright.sqlite3").write_bytes(lzma.decompress(request.param.read_bytes()))
    return {"ARCHWRIGHT_VAR": str(tmp_path), "DATABASE_URL": ""}


@pytest.fixture
def postgres(db: None, request: Any, tmp_path: Path) -> Iterator[dict[str, str]]:
    import psycopg

    url, name = os.environ["DATABASE_URL"], f"kept_{uuid4().hex[:8]}"
    with psycopg.connect(url, autocommit=True) as server:
        server.execute(f'CREATE DATABASE "{name}"')
    there = urlparse(url)._replace(path=f"/{name}").geturl()
    script = lzma.decompress(request.param.read_bytes()).decode()
    # psql's own words begin with a backslash; all else is SQL.
    lines = [s for s in script.split("\n") if not s.startswith(("\\restrict ", "\\unrestrict "))]
    with psycopg.connect(there, autocommit=True) as made:
        made.execute("\n".join(lines))  # type: ignore[arg-type]
    yield {"DATABASE_URL": there, "ARCHWRIGHT_VAR": str(tmp_path)}
    with psycopg.connect(url, autocommit=True) as server:
        server.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def upgraded(env: dict[str, str]) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-m", "tests.upgraded"],
        cwd=HOME,
        env={**os.environ, "ARCHWRIGHT_DEBUG": "1", "ARCHWRIGHT_SECRET": "", **env},
        capture_output=True,
        text=True,
        timeout=180,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout)


def holds(report: dict[str, Any]) -> None:
    """Nothing lost, nothing that was written once changed, jobs hold what they held, no fault, every page there."""
    assert {name: report[name] for name in ("lost", "changed", "faults", "held")} == {
        "lost": [], "changed": [], "faults": [], "held": [],
    }  # fmt: skip
    assert report["written once"] > 30
    assert report["holds"] is None or report["holds"] > 20
    for kind, least in (("pages", 70), ("papers", 15)):
        assert len(report[kind]) > least
        assert {path: got for path, got in report[kind].items() if got != 200} == {}
    assert {path: got for path, got in report["addresses"].items() if got >= 500} == {}


@pytest.mark.parametrize("sqlite", kept("sqlite3"), ids=lambda path: path.name, indirect=True)
@pytest.mark.skipif(connection.vendor != "sqlite", reason="in the run on SQLite")
def test_a_kept_file_of_sqlite_comes_up_to_today(sqlite: dict[str, str]) -> None:
    holds(upgraded(sqlite))


@pytest.mark.parametrize("postgres", kept("sql"), ids=lambda path: path.name, indirect=True)
@pytest.mark.skipif(connection.vendor != "postgresql", reason="in the run on PostgreSQL")
def test_a_kept_dump_of_postgresql_comes_up_to_today(postgres: dict[str, str]) -> None:
    holds(upgraded(postgres))

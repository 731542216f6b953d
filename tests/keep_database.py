"""Keeps the demo's database as this commit makes it, for tests/test_upgrades.py: `make keep`, before a landing.

Writes tests/data/databases/COMMIT.sqlite3.xz, or COMMIT.sql.xz where DATABASE_URL names an empty PostgreSQL, and
adds the migrations of today to tests/data/migrations.txt: from then on they are never edited.
"""

from __future__ import annotations

import hashlib
import lzma
import os
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

HOME = Path(__file__).parent.parent
DATA = HOME / "tests" / "data"
KEPT = DATA / "databases"
LANDED = DATA / "migrations.txt"


def landed() -> dict[str, str]:
    """Path and SHA-256 of every migration that landed."""
    pairs = (line.split() for line in LANDED.read_text().splitlines() if line)
    return {path: sha256 for sha256, path in pairs}


def add_landed() -> list[str]:
    """Put what is new on the list; what stands there stays, so that an edit is found."""
    known = landed()
    new = [
        path
        for room in ("jobs", "pricing", "studio")
        for path in sorted((HOME / room / "migrations").glob("[0-9]*.py"))
        if path.relative_to(HOME).as_posix() not in known
    ]
    with LANDED.open("a") as kept:
        for path in new:
            digest = hashlib.sha256(path.read_bytes()).hexdigest()
            kept.write(f"{digest}  {path.relative_to(HOME).as_posix()}\n")
    return [path.name for path in new]


def manage(*words: str, env: dict[str, str]) -> None:
    subprocess.run([sys.executable, "manage.py", *words, "--skip-checks"], cwd=HOME, env=env, check=True)  # fmt: skip


def sqlite_file(folder: Path) -> bytes:
    """The file, without free pages."""
    small = folder / "small.sqlite3"
    made = sqlite3.connect(folder / "archwright.sqlite3")
    made.execute("VACUUM INTO ?", (str(small),))
    made.close()
    return small.read_bytes()


def postgres_dump(url: str) -> bytes:
    """A plain dump in SQL alone: INSERT instead of psql's COPY; triggers come after the rows."""
    words = ["pg_dump", "--no-owner", "--no-privileges", "--inserts", "--rows-per-insert=50", url]
    return subprocess.run(words, capture_output=True, check=True).stdout


def main() -> None:
    words = ["git", "rev-parse", "--short=7", "HEAD"]
    commit = subprocess.run(words, cwd=HOME, capture_output=True, text=True, check=True).stdout
    url = os.environ.get("DATABASE_URL", "")
    with tempfile.TemporaryDirectory() as folder:
        env = {**os.environ, "ARCHWRIGHT_DEBUG": "1", "ARCHWRIGHT_SECRET": "", "ARCHWRIGHT_VAR": folder}  # fmt: skip
        manage("migrate", "-v0", env=env)
        manage("demo", env=env)
        content = postgres_dump(url) if url else sqlite_file(Path(folder))
    kept = KEPT / f"{commit.strip()}.{'sql' if url else 'sqlite3'}.xz"
    kept.write_bytes(lzma.compress(content, preset=9 | lzma.PRESET_EXTREME))
    print(f"{kept.relative_to(HOME)}: {kept.stat().st_size // 1000} kB. New on the list: {add_landed()}.")  # fmt: skip


if __name__ == "__main__":
    main()

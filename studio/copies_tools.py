"""What copies of both engines need: why there is none, the site's commands on another database, tools on PATH."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings


class NoCopy(Exception):
    """Why there is no copy, or why it was not put back."""


class MayNot(NoCopy):
    """The role may not make databases."""


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

"""What runs in a clean clone, with nothing set; and what stops without a secret, by name."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

HOME = Path(__file__).parent.parent.parent
MISSING = "ARCHWRIGHT_SECRET: expected a value outside debug, got nothing."


def bare(tmp_path: Path, *words: str, **more: str) -> subprocess.CompletedProcess[str]:
    """A command as a newcomer types it: an empty data folder, and none of our settings."""
    ours = ("ARCHWRIGHT_", "DATABASE_URL", "DJANGO_")
    env = {k: v for k, v in os.environ.items() if not k.startswith(ours)}
    env |= {"ARCHWRIGHT_VAR": str(tmp_path), **more}
    return subprocess.run(
        [sys.executable, *words], cwd=HOME, env=env, capture_output=True, text=True, check=False, timeout=120
    )  # fmt: skip


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["takeoff", "tests/data/lakeside.json"], 0, '"balls":'),
        (["quote", "tests/data/lakeside.json"], 2, "studio: expected one, got none."),
        (["verify_records"], 0, "There is no studio here yet"),
    ],
)
def test_commands_that_read_and_count_run_with_nothing_set(
    tmp_path: Path, words: list[str], code: int, says: str
) -> None:
    told = bare(tmp_path, "manage.py", *words)
    assert (told.returncode, says in told.stdout + told.stderr) == (code, True), told.stderr


def test_a_bare_run_of_the_suite_finds_its_settings(tmp_path: Path) -> None:
    told = bare(
        tmp_path, "-m", "pytest", "-q", "tests/studio/test_access.py", "-k", "reaches_their_studio"
    )
    assert told.returncode == 0, told.stdout + told.stderr


def test_bare_types_find_the_settings(tmp_path: Path) -> None:
    """What mypy's plugin asks for: the settings read, and the apps there."""
    told = bare(
        tmp_path, "-c", "import django; django.setup()", DJANGO_SETTINGS_MODULE="studio.settings"
    )
    assert told.returncode == 0, told.stderr


@pytest.mark.parametrize(
    "words",
    [
        ["manage.py", "serve"],
        ["manage.py", "send_letters"],
        ["manage.py", "write_reminders"],
        ["manage.py", "demo"],
        ["manage.py", "check", "--deploy"],
        ["-c", "import studio.wsgi"],
    ],
    ids=lambda words: words[-1],
)
def test_whatever_serves_signs_or_mails_stops_without_a_secret(
    tmp_path: Path, words: list[str]
) -> None:
    told = bare(tmp_path, *words)
    assert told.returncode != 0
    assert MISSING in told.stderr


def test_hosts_are_asked_for_too(tmp_path: Path) -> None:
    told = bare(tmp_path, "-c", "import studio.wsgi", ARCHWRIGHT_SECRET="x" * 60)
    assert told.returncode != 0
    assert "ARCHWRIGHT_HOSTS: expected a value outside debug" in told.stderr

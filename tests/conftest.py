"""What every test may lean on."""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from hypothesis import HealthCheck
from hypothesis import settings as laws

from studio.append_only import lower_guards
from studio.door import SeatAt
from tests.factories import a_seat, a_stocked_seat

# A shared machine is no judge of time; on CI the same change gives the same answer, at a desk it searches on.
laws.register_profile(
    "house",
    deadline=None,
    derandomize=bool(os.environ.get("CI")),
    suppress_health_check=[HealthCheck.too_slow],
)
laws.load_profile("house")


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """A database of this run and worker alone: two runs in one checkout never meet.

    SQLite's is a file, so that tests of several threads meet the locks that people meet; one whose tables stand
    already may be named (TEST_DATABASE_FILE, with --reuse-db).
    """
    test = settings.DATABASES["default"].setdefault("TEST", {})
    if ready := os.environ.get("TEST_DATABASE_FILE"):
        test["NAME"] = ready
        return
    if "sqlite" in settings.DATABASES["default"]["ENGINE"]:
        test["NAME"] = str(tmp_path_factory.mktemp("database") / "test.sqlite3")
    else:
        worker = os.environ.get("PYTEST_XDIST_WORKER", "alone")
        test["NAME"] = f"test_archwright_{os.getpid()}_{worker}"


@pytest.fixture(autouse=True)
def quick_passwords(settings: Any) -> None:
    """A slow hash is right for people and wrong for two hundred tests."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture(autouse=True)
def empty_cache() -> None:
    from django.core.cache import cache

    cache.clear()


@pytest.fixture
def seat(db: None) -> SeatAt:
    """The owner of a studio with a price book."""
    return a_stocked_seat()


@pytest.fixture
def crew(seat: SeatAt) -> SeatAt:
    return a_seat("crew", seat.studio)


@pytest.fixture
def stranger(db: None) -> SeatAt:
    """The owner of another studio."""
    return a_stocked_seat()


def signed_in(seat: SeatAt) -> Client:
    browser = Client()
    browser.force_login(seat.person)
    return browser


@pytest.fixture
def browser(seat: SeatAt) -> Client:
    """The test client of the owner."""
    return signed_in(seat)


@pytest.fixture
def committed(transactional_db: None) -> Iterator[None]:
    """A database that other threads and a real browser see; its guards come off before it is emptied."""
    yield
    lower_guards()

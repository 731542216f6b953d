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

from studio.access import Access
from studio.append_only import lower_guards
from tests.depth import examples
from tests.factories import a_stocked_access, an_access

# A shared machine is no judge of time; on CI the same change gives the same answer, at a desk it searches on.
laws.register_profile(
    "house",
    max_examples=examples(100),
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
def access(db: None) -> Access:
    """The owner of a studio with a price book."""
    return a_stocked_access()


@pytest.fixture
def crew(access: Access) -> Access:
    return an_access("crew", access.studio)


@pytest.fixture
def stranger(db: None) -> Access:
    """The owner of another studio."""
    return a_stocked_access()


def signed_in(access: Access) -> Client:
    browser = Client()
    browser.force_login(access.person)
    return browser


@pytest.fixture
def browser(access: Access) -> Client:
    """The test client of the owner."""
    return signed_in(access)


@pytest.fixture
def committed(transactional_db: None) -> Iterator[None]:
    """A database that other threads and a real browser see; its guards come off before it is emptied."""
    yield
    lower_guards()

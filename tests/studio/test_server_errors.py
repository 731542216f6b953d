"""The page of what broke, and the line about it."""

from __future__ import annotations

import io
import logging
import re
import sqlite3
from collections.abc import Iterator
from typing import Any

import psycopg
import pytest
from django.db import DatabaseError, InterfaceError, OperationalError, connection
from django.test import Client
from django.urls import reverse

from studio.access import Access
from studio.server_errors import is_away
from tests.conftest import signed_in


@pytest.fixture
def written() -> Iterator[io.StringIO]:
    """What goes to standard error."""
    told = io.StringIO()
    handlers = [
        h for name in ("", "studio.server_errors") for h in logging.getLogger(name).handlers
    ]
    streams = [h for h in handlers if type(h).__name__ in ("StreamHandler", "MustWrite")]
    before = [h.setStream(told) for h in streams]
    yield told
    for handler, stream in zip(streams, before, strict=True):
        if stream:
            handler.setStream(stream)


def breaking(monkeypatch: Any, error: Exception) -> None:
    def broken(*_: object, **__: object) -> None:
        raise error

    for page in ("today", "day.diary", "proposal.client"):
        monkeypatch.setattr(f"jobs.pages.{page}.render", broken)


def asking(access: Access) -> Client:
    browser = signed_in(access)
    browser.raise_request_exception = False
    return browser


def test_every_500_reaches_standard_error_once_under_the_number_on_the_page(
    access: Access, monkeypatch: Any, written: io.StringIO
) -> None:
    breaking(monkeypatch, RuntimeError("the ladder fell over"))
    numbers = set()
    for name in ("jobs:today", "jobs:diary"):
        answer = asking(access).get(reverse(name))
        assert answer.status_code == 500
        (number,) = re.findall(r"<strong>([2-9A-Z]{4}-[2-9A-Z]{4})</strong>", answer.text)
        numbers.add(number)
        assert written.getvalue().count(number) == 1
    assert len(numbers) == 2
    assert written.getvalue().count("RuntimeError: the ladder fell over") == 2
    assert "GET /diary/" in written.getvalue()


def test_nothing_is_said_to_be_noted_where_the_log_took_nothing(
    access: Access, monkeypatch: Any, written: io.StringIO
) -> None:
    breaking(monkeypatch, RuntimeError("the ladder fell over"))
    written.close()  # as a full disk or a closed pipe
    answer = asking(access).get(reverse("jobs:today"))
    assert answer.status_code == 500
    assert "written down" not in answer.text
    assert "number" not in answer.text


def test_the_page_asks_the_database_for_nothing_and_fetches_no_style(
    access: Access, monkeypatch: Any, written: io.StringIO
) -> None:
    asked: list[str] = []

    def broken(*_: object, **__: object) -> None:
        connection.execute_wrappers.append(lambda execute, sql, *rest: asked.append(sql))
        raise RuntimeError("no")

    monkeypatch.setattr("jobs.pages.today.render", broken)
    try:
        answer = asking(access).get(reverse("jobs:today"))
    finally:
        connection.execute_wrappers.clear()
    assert (asked, answer.status_code) == ([], 500)
    assert "/static/" not in answer.text


def test_a_clients_key_stands_in_no_log(
    access: Access, monkeypatch: Any, written: io.StringIO
) -> None:
    monkeypatch.setattr("jobs.pages.proposal.client.link_followed", lambda *_, **__: 1 / 0)
    Client(raise_request_exception=False).get(
        reverse("jobs:offer-page", args=["a-very-secret-key"])
    )
    assert "/o/<str:token>/" in written.getvalue()
    assert "a-very-secret-key" not in written.getvalue()


def caused(kind: type[DatabaseError], cause: Exception, code: int | None = None) -> Exception:
    if code is not None:
        cause.sqlite_errorcode = code  # type: ignore[attr-defined]
    error = kind(str(cause))
    error.__cause__ = cause
    return error


# Codes: sqlite.org/rescode.html; PostgreSQL 17, appendix A.
AWAY = [
    caused(OperationalError, sqlite3.OperationalError("database is locked"), 5),
    caused(OperationalError, sqlite3.OperationalError("database is locked"), 261),  # BUSY_RECOVERY
    caused(OperationalError, sqlite3.OperationalError("unable to open database file"), 14),
    caused(OperationalError, psycopg.OperationalError("connection refused")),
    caused(OperationalError, psycopg.errors.AdminShutdown("terminating")),
    caused(OperationalError, psycopg.errors.TooManyConnections("sorry")),
    caused(InterfaceError, psycopg.InterfaceError("the connection is closed")),
]
HERE = [
    caused(OperationalError, sqlite3.OperationalError("no such table: jobs_job"), 1),
    caused(OperationalError, psycopg.errors.DeadlockDetected("deadlock")),
    caused(DatabaseError, psycopg.errors.UndefinedTable("no table")),
    RuntimeError("something else"),
]


def test_away_is_what_waiting_may_mend() -> None:
    assert [is_away(error) for error in AWAY] == [True] * len(AWAY)
    assert [is_away(error) for error in (*HERE, None)] == [False] * (len(HERE) + 1)


def test_a_database_that_is_away_is_503_and_asks_to_come_back(
    access: Access, monkeypatch: Any, written: io.StringIO
) -> None:
    breaking(monkeypatch, AWAY[0])
    answer = asking(access).get(reverse("jobs:today"))
    assert (answer.status_code, answer["Retry-After"]) == (503, "30")
    assert "Wait a minute, then load this page again." in answer.text
    assert "database is locked" in written.getvalue()

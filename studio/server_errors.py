"""What a person sees when something broke, and the line on standard error that tells what it was.

Both pages are drawn without database, session or static files: any of them may be what broke.
"""

from __future__ import annotations

import logging
import secrets
import sqlite3
import sys
from typing import NoReturn, TextIO

from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.urls import Resolver404, resolve

log = logging.getLogger(__name__)
LETTERS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"  # none that is read as another over the telephone
RETRY_S = 30

# Primary result codes (sqlite.org/rescode.html): BUSY, LOCKED, IOERR, FULL, CANTOPEN.
SQLITE_AWAY = frozenset({5, 6, 10, 13, 14})
# Classes of SQLSTATE (PostgreSQL, appendix A): connection, resources, an operator's hand.
POSTGRES_AWAY = ("08", "53", "57P")


class MustWrite(logging.StreamHandler[TextIO]):
    """Raises where a line could not be written, so that nobody is told it was."""

    def handleError(self, record: logging.LogRecord) -> NoReturn:  # noqa: N802  their name
        raise


class NotYetNoted(logging.Filter):
    """Lets through what has no line yet; Django reports every broken request once more."""

    def filter(self, record: logging.LogRecord) -> bool:
        return not hasattr(getattr(record, "request", None), "broken_number")


def is_away(error: BaseException | None) -> bool:
    """Whether the database could not be reached, or was held by somebody for longer than a person waits."""
    if not isinstance(error, OperationalError | InterfaceError):
        return False
    cause = error.__cause__
    if isinstance(cause, sqlite3.Error):
        return getattr(cause, "sqlite_errorcode", 0) & 0xFF in SQLITE_AWAY
    state = getattr(cause, "sqlstate", None)
    return state is None or state.startswith(POSTGRES_AWAY)


def server_error(request: HttpRequest) -> HttpResponse:
    """The last page: 503 while the database is away, 500 for everything else."""
    error = sys.exc_info()[1]
    number = note_down(request, error)
    away = is_away(error)
    page = render_to_string("503.html" if away else "500.html", {"number": number})
    answer = HttpResponse(page, status=503 if away else 500)
    answer["Cache-Control"] = "no-store"
    if away:
        answer["Retry-After"] = str(RETRY_S)
    return answer


def note_down(request: HttpRequest, error: BaseException | None) -> str:
    """Write a line with the error; its number, or "" where standard error did not take it."""
    number = "".join(secrets.choice(LETTERS) for _ in range(8))
    number = f"{number[:4]}-{number[4:]}"
    try:
        log.error("%s: %s %s", number, request.method, address_shape(request), exc_info=error)
    except Exception:  # whatever a log can meet: a full disk, a closed pipe
        return ""
    request.broken_number = number  # type: ignore[attr-defined]
    return number


def address_shape(request: HttpRequest) -> str:
    """The shape of an address, not the address: a client's link is a key, and keys stand in no log."""
    try:
        return f"/{resolve(request.path_info).route}"
    except Resolver404:
        return "an address that leads nowhere"

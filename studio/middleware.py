"""What every request meets first: its method, its access in the studio's own time zone, what no text holds."""

from __future__ import annotations

import zoneinfo
from collections.abc import Callable

from django.core.exceptions import BadRequest, PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone

from studio.access import access_of
from studio.models import Studio

type Handler = Callable[[HttpRequest], HttpResponse]


def head_as_get(get_response: Handler) -> Handler:
    """HEAD is answered as GET is, without the content, on every page (RFC 9110 §9.1 and §9.3.2).

    Views meet GET alone: one that takes HEAD for a press would change something unasked, and past the check of
    where a form came from. The method is HEAD again outside, where whoever serves leaves the content away.
    """

    def middleware(request: HttpRequest) -> HttpResponse:
        if request.method != "HEAD":
            return get_response(request)
        request.method = "GET"
        response = get_response(request)
        request.method = "HEAD"
        return response

    return middleware


def find_access(get_response: Handler) -> Handler:
    def middleware(request: HttpRequest) -> HttpResponse:
        person = request.user
        if not person.is_authenticated:
            return get_response(request)
        access = access_of(person)
        if access is None:
            raise PermissionDenied("You do not work for a studio here yet: ask its owner.")
        request.access = access  # type: ignore[attr-defined]
        with timezone.override(zoneinfo.ZoneInfo(access.studio.timezone)):
            return get_response(request)

    return middleware


def no_nul(get_response: Handler) -> Handler:
    """NUL is in no text that a person types, and no database keeps it: it is refused once, here."""

    def middleware(request: HttpRequest) -> HttpResponse:
        for said in (request.GET, request.POST):
            if any("\0" in text for name, texts in said.lists() for text in (name, *texts)):
                raise BadRequest("It holds a character that no text has (NUL).")
        return get_response(request)

    return middleware


def first_start(get_response: Handler) -> Handler:
    """While there is no studio, every page leads to the set-up."""

    def middleware(request: HttpRequest) -> HttpResponse:
        if (
            not request.user.is_authenticated
            and not request.path.startswith(("/first/", "/static/"))
            and not Studio.objects.exists()
        ):
            return redirect("studio:first")
        return get_response(request)

    return middleware

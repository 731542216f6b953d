"""The pages of what was not found or could not be read, in our own words and never in a framework's."""

from __future__ import annotations

from django.core.exceptions import BadRequest
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render


def sentence_of(error: Exception, kind: type[Exception]) -> str:
    """What we said when we raised it; nothing of what others raise in its place."""
    said = error.args[0] if type(error) is kind and error.args else ""
    return said if isinstance(said, str) else ""


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    told = {"sentence": sentence_of(exception, Http404)}
    return render(request, "404.html", told, status=404)


def not_read(request: HttpRequest, exception: Exception) -> HttpResponse:
    told = {"sentence": sentence_of(exception, BadRequest)}
    return render(request, "400.html", told, status=400)

"""Addresses that take the press of a button and nothing else.

A browser asks for one plainly after somebody signed in again, on reloading, or from its history: the press is
lost then, and what comes is the page that has the button, with a sentence that nothing was done.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

NOT_DONE = "That was not done yet: press the button on this page again."


def post_only(
    page: str, *kept: str
) -> Callable[[Callable[..., HttpResponse]], Callable[..., HttpResponse]]:
    """A view for POST alone; a plain GET leads to `page`, named with those arguments of the address in `kept`."""

    def closed(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @require_http_methods(["GET", "HEAD", "POST"])
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if request.method == "POST":
                return view(request, *args, **kwargs)
            said = request.resolver_match.kwargs if request.resolver_match else {}
            messages.warning(request, NOT_DONE)
            return redirect(reverse(page, kwargs={name: said[name] for name in kept}))

        return guarded

    return closed

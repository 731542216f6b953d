"""Pages of the studio's own room."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from studio.door import prices_only
from studio.editing import Stale, save_if_fresh
from studio.forms import FactsForm, FirstForm, PersonForm
from studio.mail import decide
from studio.models import Letter, Seat, Studio
from studio.once import once, press_of
from studio.opening import open_studio, seat_somebody

if TYPE_CHECKING:
    from studio.door import SeatedRequest


@login_not_required
@require_http_methods(["GET", "POST"])
def first(request: HttpRequest) -> HttpResponse:
    if Studio.objects.exists():
        return redirect("jobs:today")
    form = FirstForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        login(request, open_studio(form).person)
        messages.success(
            request,
            "Your studio is open. Look through the price book first: its prices are examples.",
        )
        return redirect("pricing:stores")
    return render(request, "studio/first.html", {"form": form}, status=422 if form.errors else 200)


@prices_only
@require_http_methods(["GET", "POST"])
def facts(request: SeatedRequest) -> HttpResponse:
    form = FactsForm(request.POST or None, instance=request.seat.studio)
    context = {"form": form, "seats": seats(request), "person_form": PersonForm()}
    if request.method == "GET":
        return render(request, "studio/facts.html", context)
    if request.seat.role != Seat.Role.OWNER:
        raise PermissionDenied("The owner keeps the studio's facts.")
    if not form.is_valid():
        return render(request, "studio/facts.html", context, status=422)
    try:
        save_if_fresh(form)
    except Stale as stale:
        return render(request, "studio/facts.html", {**context, "stale": stale}, status=409)
    messages.success(request, "Saved.")
    return redirect("studio:facts")


@prices_only
@require_http_methods(["POST"])
def people(request: SeatedRequest) -> HttpResponse:
    """Seat somebody new."""
    form = PersonForm(request.POST)
    if not form.is_valid():
        context = {
            "form": FactsForm(instance=request.seat.studio),
            "seats": seats(request),
            "person_form": form,
        }
        return render(request, "studio/facts.html", context, status=422)

    def make() -> str:
        seat_somebody(request.seat, form)
        return reverse("studio:facts")

    return redirect(once(request.seat, press_of(request), make))


def seats(request: SeatedRequest) -> list[Seat]:
    own = Seat.objects.filter(studio=request.seat.studio)
    return list(own.select_related("person").order_by("person__name"))


@prices_only
@require_http_methods(["GET", "POST"])
def letters(request: SeatedRequest) -> HttpResponse:
    """What went out, what waits, and what a person must decide."""
    rows = request.seat.rows(Letter).defer("attachment", "body")
    if request.method == "POST":
        letter = request.seat.row(Letter, pk=request.POST.get("letter", "0"))
        if decide(request.seat, letter, arrived=request.POST.get("do") == "arrived"):
            messages.success(request, "Noted.")
        return redirect("studio:letters")
    open_ = (Letter.State.UNKNOWN, Letter.State.REFUSED)
    context = {
        "open": rows.filter(state__in=open_).order_by("pk"),
        "letters": rows.exclude(state__in=open_).order_by("-pk")[:100],
    }
    return render(request, "studio/letters.html", context)

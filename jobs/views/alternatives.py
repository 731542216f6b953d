"""Alternatives side by side, the studio's kept pieces, and what fits the room."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods

from jobs.alternatives import TooMany, alternatives, choose, drop, duplicate
from jobs.design.fitting import Fit, fit
from jobs.design.layouts import LAYOUTS
from jobs.design.picture import draw
from jobs.design.working import Worked
from jobs.forms.design import DesignSheet
from jobs.forms.fitting import FitForm, TrueMinutes
from jobs.gather import practice_of, quote_for
from jobs.kept import keep_pieces, let_go
from jobs.models import Job
from jobs.proposal.agreed import Locked, agreement_of
from jobs.views.brief import the_job
from jobs.views.design import show
from pricing.core.quote import BeyondPrice
from pricing.shelf import NoRates, book_for
from studio.asked import whole
from studio.door import prices_only
from studio.presses import press_only

if TYPE_CHECKING:
    from studio.door import SeatedRequest


@prices_only
@require_GET
def compare(request: SeatedRequest, number: int) -> HttpResponse:
    job = the_job(request, number)
    context = {
        "job": job,
        "alternatives": alternatives(request.seat, job, on=localdate()),
        "layouts": LAYOUTS,
        "agreed": agreement_of(request.seat, job),
    }
    return render(request, "jobs/alternatives.html", context)


@prices_only
@press_only("jobs:alternatives", "number")
def change(request: SeatedRequest, number: int, letter: str) -> HttpResponse:
    """Make one from another, choose one, drop one, keep its pieces."""
    job, seat = the_job(request, number), request.seat
    do, layout = request.POST.get("do", ""), request.POST.get("layout", "")
    if do == "choose":
        choose_it(request, job, letter)
    elif do == "drop":
        if not drop(seat, job, letter):
            messages.error(request, "Drop: expected an alternative that is not the chosen one.")
    elif do == "keep":
        keep_it(request, job, letter)
    elif layout in LAYOUTS:
        try:
            duplicate(seat, job, letter, layout)
        except TooMany as reason:
            messages.error(request, str(reason))
    else:
        messages.error(
            request, f"Layout: expected one of {', '.join(LAYOUTS)}, got “{layout[:20]}”."
        )
    return redirect("jobs:alternatives", number)


def choose_it(request: SeatedRequest, job: Job, letter: str) -> None:
    try:
        followed = choose(request.seat, job, letter, request.POST.get("why", "").strip())
    except Locked as locked:
        messages.error(request, str(locked))
    else:
        messages.success(request, f"Alternative {letter} is chosen. {followed}".strip())


def keep_it(request: SeatedRequest, job: Job, letter: str) -> None:
    form = TrueMinutes(request.POST)
    if not form.is_valid():
        messages.error(request, str(form.errors["true_minutes"][0]))
        return
    kept = keep_pieces(request.seat, job, letter, form.cleaned_data["true_minutes"])
    names = ", ".join(row.name for row in kept)
    messages.success(request, f"Kept to begin from: {names}.")


@prices_only
@press_only("jobs:design", "number")
def forget(request: SeatedRequest, number: int, pk: int) -> HttpResponse:
    """Take a kept piece off the list that a design begins from; whoever begins one sees it there."""
    the_job(request, number)
    messages.success(request, f"“{let_go(request.seat, pk)}” is taken off what you kept.")
    return redirect("jobs:design", number)


@prices_only
@require_http_methods(["GET", "POST"])
def fit_to_room(request: SeatedRequest, number: int) -> HttpResponse:
    """The best three for the room, and one of them laid out to go on with."""
    job = the_job(request, number)
    form = FitForm(request.POST or None, studio=request.seat.studio)
    found: tuple[Fit, ...] = ()
    if request.method == "POST" and form.is_valid():
        try:
            found = fitted(request, job, form)
        except (NoRates, BeyondPrice) as reason:
            form.add_error(None, str(reason))
        take = whole(request.POST.get("take", ""))
        if take is not None and take < len(found):
            sheet = DesignSheet(request.seat.studio, design=found[take].design)
            return show(request, job, "", sheet)
    shown = [
        (f, draw(f.worked, units=request.seat.units, prefix=f"f{i}")) for i, f in enumerate(found)
    ]
    context = {"job": job, "form": form, "found": shown, "asked": form.is_bound and form.is_valid()}
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "jobs/fit.html", context, status=status)


def fitted(request: SeatedRequest, job: Job, form: FitForm) -> tuple[Fit, ...]:
    book = book_for(request.seat, localdate())

    def price_of(worked: Worked) -> Decimal:
        quote = quote_for(request.seat, job, worked, on=localdate(), book=book)
        return quote.totals.total.amount

    return fit(
        job.venue.room(),
        span_m=form.cleaned_data["span_m"],
        budget=form.cleaned_data["budget"],
        price_of=price_of,
        units=request.seat.units,
        practice=practice_of(request.seat),
    )

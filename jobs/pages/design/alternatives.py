"""Alternatives side by side, the studio's kept pieces, and what fits the room."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods

from jobs.alternatives import (
    TooManyAlternatives,
    alternatives,
    choose_alternative,
    drop_alternative,
    duplicate_alternative,
)
from jobs.design.fitting import Fit, fit_to_room
from jobs.design.layouts import LAYOUTS
from jobs.design.picture import draw
from jobs.design.working import Worked
from jobs.inputs import practice_of, quote_for
from jobs.models import Job
from jobs.pages.common import job_of
from jobs.pages.design.design import show_design
from jobs.pages.design.design_form import DesignForm
from jobs.pages.design.fitting_form import FitForm, TrueMinutes
from jobs.proposal.agreed import Locked, agreement_of
from jobs.saved_pieces import delete_saved_piece, save_pieces
from pricing.book.price_book import NoRates, book_for
from pricing.core.quote import BeyondPrice
from studio.access import requires
from studio.permissions import Permission
from studio.post_only import post_only
from studio.query_values import whole_number_in

if TYPE_CHECKING:
    from studio.access import AccessRequest


@requires(Permission.SEE_PRICES)
@require_GET
def compare_alternatives(request: AccessRequest, number: int) -> HttpResponse:
    job = job_of(request, number)
    context = {
        "job": job,
        "alternatives": alternatives(request.access, job, on=localdate()),
        "layouts": LAYOUTS,
        "agreed": agreement_of(request.access, job),
    }
    return render(request, "jobs/design/alternatives.html", context)


@requires(Permission.EDIT_JOBS)
@post_only("jobs:alternatives", "number")
def change_alternative(request: AccessRequest, number: int, letter: str) -> HttpResponse:
    """Make one from another, choose one, drop one, keep its pieces."""
    job, access = job_of(request, number), request.access
    do, layout = request.POST.get("do", ""), request.POST.get("layout", "")
    if do == "choose":
        choose_for_job(request, job, letter)
    elif do == "drop":
        if not drop_alternative(access, job, letter):
            messages.error(request, "Drop: expected an alternative that is not the chosen one.")
    elif do == "keep":
        save_as_piece(request, job, letter)
    elif layout in LAYOUTS:
        try:
            duplicate_alternative(access, job, letter, layout)
        except TooManyAlternatives as reason:
            messages.error(request, str(reason))
    else:
        messages.error(
            request, f"Layout: expected one of {', '.join(LAYOUTS)}, got “{layout[:20]}”."
        )
    return redirect("jobs:alternatives", number)


def choose_for_job(request: AccessRequest, job: Job, letter: str) -> None:
    try:
        followed = choose_alternative(
            request.access, job, letter, request.POST.get("why", "").strip()
        )
    except Locked as locked:
        messages.error(request, str(locked))
    else:
        messages.success(request, f"Alternative {letter} is chosen. {followed}".strip())


def save_as_piece(request: AccessRequest, job: Job, letter: str) -> None:
    form = TrueMinutes(request.POST)
    if not form.is_valid():
        messages.error(request, str(form.errors["true_minutes"][0]))
        return
    kept = save_pieces(request.access, job, letter, form.cleaned_data["true_minutes"])
    names = ", ".join(row.name for row in kept)
    messages.success(request, f"Kept to begin from: {names}.")


@requires(Permission.EDIT_JOBS)
@post_only("jobs:design", "number")
def forget_saved_piece(request: AccessRequest, number: int, pk: int) -> HttpResponse:
    """Take a kept piece off the list that a design begins from; whoever begins one sees it there."""
    job_of(request, number)
    messages.success(
        request, f"“{delete_saved_piece(request.access, pk)}” is taken off what you kept."
    )
    return redirect("jobs:design", number)


@requires(Permission.SEE_PRICES)
@require_http_methods(["GET", "POST"])
def fit_page(request: AccessRequest, number: int) -> HttpResponse:
    """The best three for the room, and one of them laid out to go on with."""
    job = job_of(request, number)
    form = FitForm(request.POST or None, studio=request.access.studio)
    found: tuple[Fit, ...] = ()
    if request.method == "POST" and form.is_valid():
        try:
            found = fitted_pieces(request, job, form)
        except (NoRates, BeyondPrice) as reason:
            form.add_error(None, str(reason))
        take = whole_number_in(request.POST.get("take", ""))
        if take is not None and take < len(found):
            sheet = DesignForm(request.access.studio, design=found[take].design)
            return show_design(request, job, "", sheet)
    shown = [
        (f, draw(f.worked, units=request.access.units, prefix=f"f{i}")) for i, f in enumerate(found)
    ]
    context = {"job": job, "form": form, "found": shown, "asked": form.is_bound and form.is_valid()}
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "jobs/design/fit.html", context, status=status)


def fitted_pieces(request: AccessRequest, job: Job, form: FitForm) -> tuple[Fit, ...]:
    book = book_for(request.access, localdate())

    def price_of(worked: Worked) -> Decimal:
        quote = quote_for(request.access, job, worked, on=localdate(), book=book)
        return quote.totals.total.amount

    return fit_to_room(
        job.venue.room(),
        span_m=form.cleaned_data["span_m"],
        budget=form.cleaned_data["budget"],
        price_of=price_of,
        units=request.access.units,
        practice=practice_of(request.access),
    )

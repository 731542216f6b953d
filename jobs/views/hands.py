"""The studio's practice: what its hands know, corrected by what it built."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from jobs.after.minutes import put_right, shown_by
from jobs.after.taken import past_of
from jobs.forms.hands import FinishedRun, HandsForm, minutes_field
from jobs.gather import practice_of
from jobs.models import Hands
from studio.door import prices_only
from studio.editing import Stale, save_if_fresh

if TYPE_CHECKING:
    from studio.door import SeatedRequest


@prices_only
@require_http_methods(["GET", "POST"])
def hands(request: SeatedRequest) -> HttpResponse:
    row = request.seat.rows(Hands).first()
    if request.method == "GET":
        return show(request, HandsForm(instance=row, studio=request.seat.studio))
    if lesson := LESSONS.get(request.POST.get("do", "")):
        return lesson(request, row)
    typed = request.POST.copy()
    if row is None:
        row = request.seat.add(Hands)
        typed["version"] = str(row.version)  # nobody could have seen an earlier one
    form = HandsForm(typed, instance=row, studio=request.seat.studio)
    if not form.is_valid():
        return show(request, form, status=422)
    try:
        save_if_fresh(form)
    except Stale as stale:
        return show(request, form, status=409, stale=stale)
    messages.success(request, "Practice saved. Designs count with it from now on.")
    return redirect("jobs:hands")


def learn(request: SeatedRequest, row: Hands | None) -> HttpResponse:
    """Lay the squeeze that a finished run shows into the form; saving it is the owner's decision."""
    studio = request.seat.studio
    run = FinishedRun(request.POST, prefix="run", studio=studio)
    form = HandsForm(instance=row, studio=studio)
    if not run.is_valid():
        return show(request, form, run=run, status=422)
    try:
        form.initial["squeeze"] = run.squeeze()
    except ValueError as reason:
        run.add_error("blown_m", str(reason))
        return show(request, form, run=run, status=422)
    messages.info(
        request, f"That run shows a squeeze of {run.squeeze():.1%}. Save it to count with it."
    )
    return show(request, form, run=run)


def correct(request: SeatedRequest, row: Hands | None) -> HttpResponse:
    """Lay the minutes that finished jobs show into the form; saving them is the owner's decision."""
    practice = practice_of(request.seat)
    right = put_right(practice.minutes, past_of(request.seat, practice))
    form = HandsForm(instance=row, studio=request.seat.studio)
    form.initial.update({minutes_field(operation): minutes for operation, minutes in right.items()})
    told = f"{len(right)} operations as your last jobs show them. Save them to count with them."
    messages.info(request, told if right else "No finished job has its minutes written down yet.")
    return show(request, form)


LESSONS = {"learn": learn, "correct": correct}


def show(
    request: SeatedRequest,
    form: HandsForm,
    *,
    run: FinishedRun | None = None,
    status: int = 200,
    stale: Stale | None = None,
) -> HttpResponse:
    run = run or FinishedRun(prefix="run", studio=request.seat.studio)
    past = past_of(request.seat, practice_of(request.seat))
    context = {"form": form, "run": run, "stale": stale, "shown": shown_by(past)}
    return render(request, "jobs/hands.html", context, status=status)

"""The studio's practice: what its hands know, corrected by what it built."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from jobs.after.minutes import corrected_minutes, ratios_shown_by
from jobs.after.time_taken import past_minutes_of
from jobs.inputs import practice_of
from jobs.models import StudioPractice
from jobs.pages.after.practice_form import FinishedRun, PracticeForm, minutes_field
from studio.access import requires
from studio.editing import Stale, save_if_fresh
from studio.permissions import Permission

if TYPE_CHECKING:
    from studio.access import AccessRequest


@requires(Permission.SET_PRICES)
@require_http_methods(["GET", "POST"])
def practice_page(request: AccessRequest) -> HttpResponse:
    row = request.access.rows(StudioPractice).first()
    if request.method == "GET":
        return show_practice(request, PracticeForm(instance=row, studio=request.access.studio))
    if lesson := LESSONS.get(request.POST.get("do", "")):
        return lesson(request, row)
    typed = request.POST.copy()
    if row is None:
        row = request.access.add(StudioPractice)
        typed["version"] = str(row.version)  # nobody could have seen an earlier one
    form = PracticeForm(typed, instance=row, studio=request.access.studio)
    if not form.is_valid():
        return show_practice(request, form, status=422)
    try:
        save_if_fresh(form)
    except Stale as stale:
        return show_practice(request, form, status=409, stale=stale)
    messages.success(request, "Practice saved. Designs count with it from now on.")
    return redirect("jobs:practice")


def learn_squeeze(request: AccessRequest, row: StudioPractice | None) -> HttpResponse:
    """Lay the squeeze that a finished run shows into the form; saving it is the owner's decision."""
    studio = request.access.studio
    run = FinishedRun(request.POST, prefix="run", studio=studio)
    form = PracticeForm(instance=row, studio=studio)
    if not run.is_valid():
        return show_practice(request, form, run=run, status=422)
    try:
        form.initial["squeeze"] = run.squeeze()
    except ValueError as reason:
        run.add_error("blown_m", str(reason))
        return show_practice(request, form, run=run, status=422)
    messages.info(
        request, f"That run shows a squeeze of {run.squeeze():.1%}. Save it to count with it."
    )
    return show_practice(request, form, run=run)


def correct_practice(request: AccessRequest, row: StudioPractice | None) -> HttpResponse:
    """Lay the minutes that finished jobs show into the form; saving them is the owner's decision."""
    practice = practice_of(request.access)
    right = corrected_minutes(practice.minutes, past_minutes_of(request.access, practice))
    form = PracticeForm(instance=row, studio=request.access.studio)
    form.initial.update({minutes_field(operation): minutes for operation, minutes in right.items()})
    told = f"{len(right)} operations as your last jobs show them. Save them to count with them."
    messages.info(request, told if right else "No finished job has its minutes written down yet.")
    return show_practice(request, form)


LESSONS = {"learn": learn_squeeze, "correct": correct_practice}


def show_practice(
    request: AccessRequest,
    form: PracticeForm,
    *,
    run: FinishedRun | None = None,
    status: int = 200,
    stale: Stale | None = None,
) -> HttpResponse:
    run = run or FinishedRun(prefix="run", studio=request.access.studio)
    past = past_minutes_of(request.access, practice_of(request.access))
    context = {"form": form, "run": run, "stale": stale, "shown": ratios_shown_by(past)}
    return render(request, "jobs/after/practice.html", context, status=status)

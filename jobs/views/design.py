"""The design screen: a form and, beside it, what it comes to."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods

from jobs.design.reading import write_design
from jobs.design.supports import KINDS
from jobs.designing import Look, keep_design, look_at
from jobs.forms.design import DesignSheet, with_another
from jobs.forms.rows import SIZES
from jobs.gather import design_of, placed
from jobs.models import Job, JobDesign
from jobs.starters import sketch
from jobs.views.brief import the_job
from studio.editing import Stale

if TYPE_CHECKING:
    from studio.door import SeatedRequest

ROW_TABLES = re.compile(r"^add-(palette|clusters|p\d{1,2}-(runs|greenery|wraps))$")


@require_http_methods(["GET", "POST"])
def design(request: SeatedRequest, number: int) -> HttpResponse:
    job = the_job(request, number)
    if request.method == "GET":
        return show(request, job)
    request.seat.must_be_office()
    do = request.POST.get("do", "save")
    if do == "begin":
        return show(request, job, begin(request, job))
    if ROW_TABLES.match(do):
        data = with_another(request.POST, do.removeprefix("add-"), request.seat.studio)
        return show(request, job, DesignSheet(request.seat.studio, data=data))
    sheet = DesignSheet(request.seat.studio, data=request.POST)
    if do == "look":
        return panel(request, job, sheet)
    if not sheet.is_valid():
        return show(request, job, sheet, status=422)
    if do == "add-piece":
        return show(request, job, with_piece(request, job, sheet))
    return save(request, job, sheet)


def save(request: SeatedRequest, job: Job, sheet: DesignSheet) -> HttpResponse:
    assert sheet.design is not None
    version = request.POST.get("version", "0")
    try:
        keep_design(request.seat, job, sheet.design, int(version) if version.isdecimal() else 0)
    except Stale as stale:
        return show(request, job, sheet, status=409, stale=stale)
    messages.success(request, "Design saved.")
    return redirect("jobs:design", job.number)


def begin(request: SeatedRequest, job: Job) -> DesignSheet:
    """A sketch to begin from, not saved yet."""
    kind = request.POST.get("kind", "")
    if kind not in KINDS:
        raise Http404("No such support.")
    return DesignSheet(
        request.seat.studio, design=sketch(kind, job.venue.room(), request.seat.units)
    )


def with_piece(request: SeatedRequest, job: Job, sheet: DesignSheet) -> DesignSheet:
    """The same design with one more piece, in the colours and clusters it has already."""
    kind = request.POST.get("kind", "")
    if kind not in KINDS or sheet.design is None:
        raise Http404("No such support.")
    first = sheet.design.recipes[0].name
    new = sketch(kind, job.venue.room(), request.seat.units).pieces[0]
    runs = tuple(run.model_copy(update={"pattern": (first,)}) for run in new.runs)
    new = new.model_copy(update={"runs": runs, "accents": None})
    pieces = (*sheet.design.pieces, new)
    return DesignSheet(
        request.seat.studio, design=sheet.design.model_copy(update={"pieces": pieces})
    )


def show(
    request: SeatedRequest,
    job: Job,
    sheet: DesignSheet | None = None,
    *,
    status: int = 200,
    stale: Stale | None = None,
) -> HttpResponse:
    row = request.seat.rows(JobDesign).filter(job=job).first()
    if sheet is None and row:
        sheet = DesignSheet(request.seat.studio, design=placed(row.document, job))
    context = {
        "job": job,
        "sheet": sheet,
        "look": look_of(request, job, sheet) if sheet else None,
        "faults": sheet.all_faults() if sheet and sheet.data else [],
        "stale": stale,
        # After a clash the form carries the newer version: saving again is a decision, not an accident.
        "version": row.version
        if row and (stale or not request.POST)
        else request.POST.get("version", 0),
        "kinds": {kind: support.label for kind, support in KINDS.items()},
        "sizes": SIZES,
    }
    part = "jobs/design.html#sheet" if request.htmx else "jobs/design.html"
    return render(request, part, context, status=status)


def panel(request: SeatedRequest, job: Job, sheet: DesignSheet) -> HttpResponse:
    """The side of the form only: what the typing comes to, or what cannot be read yet."""
    look = look_of(request, job, sheet)
    context = {"job": job, "look": look, "faults": sheet.all_faults()}
    return render(request, "jobs/design.html#worked", context)


def look_of(request: SeatedRequest, job: Job, sheet: DesignSheet) -> Look | None:
    if sheet.design is None:
        sheet.is_valid()
    return look_at(request.seat, job, sheet.design, on=localdate()) if sheet.design else None


@require_GET
def document(request: SeatedRequest, number: int) -> HttpResponse:
    """The design as a file, room included, for `manage.py takeoff`."""
    job = the_job(request, number)
    found = design_of(request.seat, job)
    if found is None:
        raise Http404("Nothing is designed yet.")
    name = f"design-{job.number:04d}.json"
    return HttpResponse(
        write_design(found),
        content_type="application/json",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )

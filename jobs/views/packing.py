"""Packing on a phone: tick what lies in its box; what is missing shows before the van leaves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import segno
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from jobs.day.boxes import Packing
from jobs.day.travelling import NoSuchWay, packing_for, travel_so
from jobs.gather import worked_for
from jobs.models import Job, PackTick
from jobs.views.brief import the_job
from jobs.views.proposal import pdf
from studio.paper import render_paper
from studio.presses import press_only

if TYPE_CHECKING:
    from studio.door import SeatAt, SeatedRequest


@require_http_methods(["GET", "POST"])
def packing(request: SeatedRequest, number: int) -> HttpResponse:
    job = the_job(request, number)
    packed = packing_of(request.seat, job)
    if request.method == "POST":
        key = request.POST.get("key", "")
        if key not in {thing.key for thing in packed.things}:
            raise Http404("Nothing of that name is packed for this job.")
        toggle(request.seat, job, key, on=request.POST.get("on") == "1")
        if not request.htmx:
            return redirect("jobs:packing", number)
    ticked = set(request.seat.rows(PackTick).filter(job=job).values_list("key", flat=True))
    context = {
        "job": job,
        "groups": [(group, [(t, t.key in ticked) for t in group.things]) for group in packed.groups],
        "missing": [thing for thing in packed.things if thing.key not in ticked],
        "all": len(packed.things),
        "packing": packed,
    }  # fmt: skip
    part = "jobs/packing.html#list" if request.htmx else "jobs/packing.html"
    return render(request, part, context)


def packing_of(seat: SeatAt, job: Job) -> Packing:
    worked = worked_for(seat, job)
    return packing_for(seat, job, worked) if worked else Packing(groups=())


def toggle(seat: SeatAt, job: Job, key: str, *, on: bool) -> None:
    """Two people ticking at once tick once."""
    if on:
        seat.rows(PackTick).get_or_create(
            job=job, key=key, defaults={"studio": seat.studio, "who": seat.person}
        )
    else:
        seat.rows(PackTick).filter(job=job, key=key).delete()


@press_only("jobs:build", "number")
def travel(request: SeatedRequest, number: int) -> HttpResponse:
    """How much is built in the workshop: the lists follow."""
    try:
        travel_so(request.seat, the_job(request, number), request.POST.get("way", ""))
    except NoSuchWay as reason:
        messages.error(request, str(reason))
    else:
        messages.success(request, "The packing list, the labels and the bags follow that way.")
    return redirect("jobs:build", number)


@require_GET
def labels(request: SeatedRequest, number: int) -> HttpResponse:
    """A label for every box and bag, with a code that opens the job's packing page on a phone."""
    job = the_job(request, number)
    packed = packing_of(request.seat, job)
    if not packed.things:
        raise Http404("Nothing is designed yet.")
    address = request.build_absolute_uri(reverse("jobs:packing", args=[number]))
    code = segno.make(address, error="m", micro=False).svg_inline(
        scale=4, border=2, dark="#000", light="#fff", svgclass=None, lineclass=None, omitsize=True,
        title=f"Code that opens the packing page of job {number:04d}",
    )  # fmt: skip
    facts = {
        "studio": request.seat.studio,
        "job": job,
        "packing": packed,
        "code": code,
        "address": address,
    }
    html = render_to_string("papers/labels.html", facts)
    return pdf(render_paper(html, paper=request.seat.studio.paper), f"labels-{number:04d}")  # type: ignore[arg-type]

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
from jobs.day.travelling import NoSuchWay, choose_travel, packing_for
from jobs.inputs import worked_for
from jobs.models import Job, PackTick
from jobs.pages.common import job_of
from studio.downloads import pdf_to_read
from studio.paper import render_paper
from studio.post_only import post_only

if TYPE_CHECKING:
    from studio.access import Access, AccessRequest


@require_http_methods(["GET", "POST"])
def packing_page(request: AccessRequest, number: int) -> HttpResponse:
    job = job_of(request, number)
    packed = packing_of(request.access, job)
    if request.method == "POST":
        key = request.POST.get("key", "")
        if key not in {thing.key for thing in packed.things}:
            raise Http404("Nothing of that name is packed for this job.")
        toggle_tick(request.access, job, key, on=request.POST.get("on") == "1")
        if not request.htmx:
            return redirect("jobs:packing", number)
    ticked = set(request.access.rows(PackTick).filter(job=job).values_list("key", flat=True))
    context = {
        "job": job,
        "groups": [(group, [(t, t.key in ticked) for t in group.things]) for group in packed.groups],
        "missing": [thing for thing in packed.things if thing.key not in ticked],
        "all": len(packed.things),
        "packing": packed,
    }  # fmt: skip
    part = "jobs/day/packing.html#list" if request.htmx else "jobs/day/packing.html"
    return render(request, part, context)


def packing_of(access: Access, job: Job) -> Packing:
    worked = worked_for(access, job)
    return packing_for(access, job, worked) if worked else Packing(groups=())


def toggle_tick(access: Access, job: Job, key: str, *, on: bool) -> None:
    """Two people ticking at once tick once."""
    if on:
        access.rows(PackTick).get_or_create(
            job=job, key=key, defaults={"studio": access.studio, "who": access.person}
        )
    else:
        access.rows(PackTick).filter(job=job, key=key).delete()


@post_only("jobs:build", "number")
def travel_page(request: AccessRequest, number: int) -> HttpResponse:
    """How much is built in the workshop: the lists follow."""
    try:
        choose_travel(request.access, job_of(request, number), request.POST.get("way", ""))
    except NoSuchWay as reason:
        messages.error(request, str(reason))
    else:
        messages.success(request, "The packing list, the labels and the bags follow that way.")
    return redirect("jobs:build", number)


@require_GET
def labels(request: AccessRequest, number: int) -> HttpResponse:
    """A label for every box and bag, with a code that opens the job's packing page on a phone."""
    job = job_of(request, number)
    packed = packing_of(request.access, job)
    if not packed.things:
        raise Http404("Nothing is designed yet.")
    address = request.build_absolute_uri(reverse("jobs:packing", args=[number]))
    code = segno.make(address, error="m", micro=False).svg_inline(
        scale=4, border=2, dark="#000", light="#fff", svgclass=None, lineclass=None, omitsize=True,
        title=f"Code that opens the packing page of job {number:04d}",
    )  # fmt: skip
    facts = {
        "studio": request.access.studio,
        "job": job,
        "packing": packed,
        "code": code,
        "address": address,
    }
    html = render_to_string("papers/labels.html", facts)
    return pdf_to_read(
        render_paper(html, paper=request.access.studio.paper_size), f"labels-{number:04d}"
    )

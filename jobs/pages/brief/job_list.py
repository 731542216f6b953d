"""All jobs, and a new one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db.models import Q
from django.db.models.fields.tuple_lookups import TupleGreaterThan
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from jobs.models import Job
from jobs.pages.brief.brief_form import Brief
from jobs.pages.brief.saving import open_enquiry
from jobs.rows import jobs_of
from studio.once import form_key_of, once
from studio.permissions import Permission
from studio.query_values import moment_in, whole_number_in

if TYPE_CHECKING:
    from jobs.models.querysets import DueJobs
    from studio.access import AccessRequest

PAGE = 50


@require_GET
def job_list(request: AccessRequest) -> HttpResponse:
    word, stage = request.GET.get("q", "").strip(), request.GET.get("stage", "live")
    jobs = jobs_of(request.access).with_people()
    if stage in Job.Stage.values:
        jobs = jobs.filter(stage=stage)
    elif stage != "all":
        jobs = jobs.live()
    if word:
        jobs = jobs.filter(
            Q(title__icontains=word)
            | Q(client__name__icontains=word)
            | Q(venue__name__icontains=word)
        )
    page = jobs_after_cursor(jobs, request.GET.get("after", "")).order_by("event_start", "pk")[
        : PAGE + 1
    ]
    shown = list(page)
    more = (
        f"{shown[PAGE - 1].event_start.isoformat()},{shown[PAGE - 1].pk}"
        if len(shown) > PAGE
        else ""
    )
    context = {
        "jobs": shown[:PAGE], "more": more, "q": word, "stage": stage, "stages": Job.Stage.choices,
    }  # fmt: skip
    return render(
        request, "jobs/brief/jobs.html#rows" if request.htmx else "jobs/brief/jobs.html", context
    )


def jobs_after_cursor(jobs: DueJobs, cursor: str) -> DueJobs:
    """The jobs beyond a "moment,id" cursor; anything unreadable means from the start."""
    at, _, last = cursor.partition(",")
    start, pk = moment_in(at), whole_number_in(last)
    if start is None or pk is None:
        return jobs
    return jobs.filter(TupleGreaterThan(("event_start", "pk"), (start, pk)))


@require_http_methods(["GET", "POST"])
def new_job(request: AccessRequest) -> HttpResponse:
    request.access.require(Permission.EDIT_JOBS)
    if request.method == "GET":
        return render(request, "jobs/brief/new.html", {"brief": Brief(request.access)})
    brief = Brief(request.access, request.POST)
    if not brief.is_valid():
        return render(request, "jobs/brief/new.html", {"brief": brief}, status=422)

    def make() -> str:
        return reverse("jobs:design", args=[open_enquiry(request.access, brief).number])

    return redirect(once(request.access, form_key_of(request), make))

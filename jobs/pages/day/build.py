"""Build: counts, minutes, what to take along; the lists; the stages of the day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import localdate, now
from django.views.decorators.http import require_GET

from jobs.closing import close_job, doubts_about_stage
from jobs.day.bags import BAG_M
from jobs.day.lists import BUILD, print_list
from jobs.day.reserving import kit_to_measure, kit_trouble_of
from jobs.day.travelling import loading_for, minutes_on_site, to_inflate, travel_lines_not_packed
from jobs.design.working import Worked
from jobs.inputs import worked_for
from jobs.job_stage import ENDED, HELD_FOR_DAYS, MAY_HOLD, WILL_HOLD
from jobs.models import Job
from jobs.pages.common import job_of
from jobs.proposal.accepting import is_accepted
from jobs.proposal.correcting import departure_of
from jobs.stages import Lost, NoSuchMove, NoSuchReason, move_to_stage, stages_by_hand
from pricing.models import KitBooking, Reservation
from studio.downloads import pdf_to_read
from studio.permissions import Permission
from studio.post_only import post_only

if TYPE_CHECKING:
    from studio.access import AccessRequest

BACK = ("proposal", "after")  # pages that move a job on, Build aside
BY_CREW = (Job.Stage.READY, Job.Stage.BOOKED, Job.Stage.UP, Job.Stage.DOWN)
LISTS = {"pick": "papers/pick.html", "packing": "papers/packing.html", "build": BUILD}


@require_GET
def build_page(request: AccessRequest, number: int) -> HttpResponse:
    job = job_of(request, number)
    worked = worked_for(request.access, job)
    accepted = is_accepted(request.access, job)
    context = {
        "job": job,
        "worked": worked,
        **(travel_context(request, job, worked) if worked else {}),
        "moves": stages_by_hand(job.stage, accepted=accepted),
        "accepted": accepted,
        "promised": promised_to_job(request, job),
        "departure": departure_of(request.access, job),
        "kit_trouble": kit_trouble_of(request.access, job, worked),
        "to_measure": kit_to_measure(request.access, job, worked),
    }
    return render(request, "jobs/day/build.html", context)


def travel_context(request: AccessRequest, job: Job, worked: Worked) -> dict[str, Any]:
    """How it travels, what is packed for that and not ticked yet, and what is inflated where."""
    loading = loading_for(request.access, job, worked)
    return {
        "loading": loading,
        "way": loading.way,
        "packing": loading.way.packing,
        "missing": travel_lines_not_packed(request.access, job, loading.way.packing),
        "inflate": to_inflate(worked, loading.way.carried),
        "site_minutes": minutes_on_site(worked, loading.way.carried),
        "bag_m": BAG_M,
    }


def promised_to_job(request: AccessRequest, job: Job) -> dict[str, Any]:
    """What the stores hold for this job."""
    rows = request.access.rows(KitBooking).filter(holder__job=job).select_related("item")
    reserved = request.access.rows(Reservation).filter(holder__job=job).count()
    held = reserved or rows.filter(returned_at=None).exists()
    sure = job.stage in MAY_HOLD and job.stage not in HELD_FOR_DAYS
    return {
        "kit": list(rows),
        "reserved": reserved,
        "may_hold": job.stage in MAY_HOLD,
        "may_let_go": held and not sure and job.stage in (*WILL_HOLD, *ENDED),
    }


@require_GET
def list_pdf(request: AccessRequest, number: int, which: str) -> HttpResponse:
    job = job_of(request, number)
    worked = worked_for(request.access, job)
    if worked is None or which not in LISTS:
        raise Http404("Nothing is designed yet.")
    content = print_list(request.access, job, worked, LISTS[which], on=localdate())
    return pdf_to_read(content, f"{which}-{number:04d}")


@post_only("jobs:brief", "number")
def change_stage(request: AccessRequest, number: int) -> HttpResponse:
    """Move the job on by hand; ending it is the office's, and after a yes the call-off's."""
    job = job_of(request, number)
    to = request.POST.get("to", "")
    if to in ENDED and is_accepted(request.access, job):
        return redirect("jobs:call-off", number)
    allowed = dict(stages_by_hand(job.stage))
    if not request.access.may(Permission.EDIT_JOBS):
        allowed = {k: words for k, words in allowed.items() if k in BY_CREW}
    back = request.POST.get("back", "")
    if to not in allowed:
        messages.error(request, f"Stage: expected a next step of this job, got “{to[:20]}”.")
    elif not request.POST.get("sure") and (
        found := doubts_about_stage(request.access, job, to, at=now())
    ):
        context = {"job": job, "to": to, "words": allowed[to], "doubts": found, "back": back}
        return render(request, "jobs/day/doubts.html", context)
    else:
        go_to_stage(request, job, to)
    return redirect(f"jobs:{back if back in BACK else 'build'}", number)


def go_to_stage(request: AccessRequest, job: Job, to: str) -> None:
    """Make the move, or say why it is not made."""
    said = request.POST
    try:
        if to == Job.Stage.CLOSED:
            close_job(request.access, job)
        else:
            lost = Lost(why=said.get("why", ""), words=said.get("words", "").strip())
            move_to_stage(request.access, job, to, lost)
    except (NoSuchMove, NoSuchReason) as reason:
        messages.error(request, str(reason))

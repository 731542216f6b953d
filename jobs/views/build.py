"""Build: counts, minutes, what to take along; the lists; the stages of the day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET

from jobs.day.bags import BAG_M
from jobs.day.lists import BUILD, print_list
from jobs.day.reserving import about
from jobs.day.travelling import loading_for, not_packed, to_inflate
from jobs.design.working import Worked
from jobs.gather import worked_for
from jobs.models import Job
from jobs.proposal.accepting import is_accepted
from jobs.proposal.correcting import departure_of
from jobs.stages import ENDS, Lost, NoSuchMove, NoSuchReason, by_hand, move
from jobs.views.brief import the_job
from jobs.views.proposal import pdf
from pricing.models import KitBooking, Reservation
from studio.presses import press_only

if TYPE_CHECKING:
    from studio.door import SeatedRequest

BACK = ("proposal", "after")  # pages that move a job on, Build aside
LISTS = {"pick": "papers/pick.html", "packing": "papers/packing.html", "build": BUILD}


@require_GET
def build(request: SeatedRequest, number: int) -> HttpResponse:
    job = the_job(request, number)
    worked = worked_for(request.seat, job)
    accepted = is_accepted(request.seat, job)
    context = {
        "job": job,
        "worked": worked,
        **(travelling(request, job, worked) if worked else {}),
        "moves": by_hand(job.stage, accepted=accepted),
        "accepted": accepted,
        "promised": promised(request, job),
        "departure": departure_of(request.seat, job),
    }
    return render(request, "jobs/build.html", context)


def travelling(request: SeatedRequest, job: Job, worked: Worked) -> dict[str, Any]:
    """How it travels, what is packed for that and not ticked yet, and what is inflated where."""
    loading = loading_for(request.seat, job, worked)
    return {
        "loading": loading,
        "way": loading.way,
        "packing": loading.way.packing,
        "missing": not_packed(request.seat, job, loading.way.packing),
        "inflate": to_inflate(worked, loading.way.carried),
        "bag_m": BAG_M,
    }


def promised(request: SeatedRequest, job: Job) -> dict[str, Any]:
    """What the stores hold for this job."""
    rows = request.seat.rows(KitBooking).filter(about=about(job)).select_related("item")
    return {
        "kit": list(rows),
        "reserved": request.seat.rows(Reservation).filter(about=about(job)).count(),
    }


@require_GET
def list_pdf(request: SeatedRequest, number: int, which: str) -> HttpResponse:
    job = the_job(request, number)
    worked = worked_for(request.seat, job)
    if worked is None or which not in LISTS:
        raise Http404("Nothing is designed yet.")
    content = print_list(request.seat, job, worked, LISTS[which], on=localdate())
    return pdf(content, f"{which}-{number:04d}")


@press_only("jobs:brief", "number")
def stage(request: SeatedRequest, number: int) -> HttpResponse:
    """Move the job on by hand; ending it is the office's, and after a yes the call-off's."""
    job = the_job(request, number)
    to = request.POST.get("to", "")
    if to in ENDS and is_accepted(request.seat, job):
        return redirect("jobs:call-off", number)
    allowed = dict(by_hand(job.stage))
    if not request.seat.sees_prices:
        allowed = {
            k: v for k, v in allowed.items() if k in (Job.Stage.UP, Job.Stage.DOWN, Job.Stage.READY)
        }
    if to not in allowed:
        messages.error(request, f"Stage: expected a next step of this job, got “{to[:20]}”.")
    else:
        try:
            lost = Lost(
                why=request.POST.get("why", ""), words=request.POST.get("words", "").strip()
            )
            move(request.seat, job, to, lost)
        except (NoSuchMove, NoSuchReason) as reason:
            messages.error(request, str(reason))
    back = request.POST.get("back", "")
    return redirect(f"jobs:{back if back in BACK else 'build'}", number)

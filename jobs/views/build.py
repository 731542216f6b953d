"""Build: counts, minutes, what to take along; the lists; the stages of the day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import localdate, now
from django.views.decorators.http import require_GET

from jobs.closing import close, doubts
from jobs.day.bags import BAG_M
from jobs.day.lists import BUILD, print_list
from jobs.day.reserving import about, to_measure, trouble
from jobs.day.travelling import loading_for, minutes_on_site, not_packed, to_inflate
from jobs.design.working import Worked
from jobs.gather import worked_for
from jobs.models import Job
from jobs.proposal.accepting import is_accepted
from jobs.proposal.correcting import departure_of
from jobs.rows import ENDED, HELD_FOR_DAYS, MAY_HOLD, WILL_HOLD
from jobs.stages import ENDS, Lost, NoSuchMove, NoSuchReason, by_hand, move
from jobs.views.brief import the_job
from jobs.views.proposal import pdf
from pricing.models import KitBooking, Reservation
from studio.presses import press_only

if TYPE_CHECKING:
    from studio.door import SeatedRequest

BACK = ("proposal", "after")  # pages that move a job on, Build aside
BY_CREW = (Job.Stage.READY, Job.Stage.BOOKED, Job.Stage.UP, Job.Stage.DOWN)
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
        "kit_trouble": trouble(request.seat, job, worked),
        "to_measure": to_measure(request.seat, job, worked),
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
        "site_minutes": minutes_on_site(worked, loading.way.carried),
        "bag_m": BAG_M,
    }


def promised(request: SeatedRequest, job: Job) -> dict[str, Any]:
    """What the stores hold for this job."""
    rows = request.seat.rows(KitBooking).filter(about=about(job)).select_related("item")
    reserved = request.seat.rows(Reservation).filter(about=about(job)).count()
    held = reserved or rows.filter(returned_at=None).exists()
    sure = job.stage in MAY_HOLD and job.stage not in HELD_FOR_DAYS
    return {
        "kit": list(rows),
        "reserved": reserved,
        "may_hold": job.stage in MAY_HOLD,
        "may_let_go": held and not sure and job.stage in (*WILL_HOLD, *ENDED),
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
        allowed = {k: words for k, words in allowed.items() if k in BY_CREW}
    back = request.POST.get("back", "")
    if to not in allowed:
        messages.error(request, f"Stage: expected a next step of this job, got “{to[:20]}”.")
    elif not request.POST.get("sure") and (found := doubts(request.seat, job, to, at=now())):
        context = {"job": job, "to": to, "words": allowed[to], "doubts": found, "back": back}
        return render(request, "jobs/doubts.html", context)
    else:
        go_on(request, job, to)
    return redirect(f"jobs:{back if back in BACK else 'build'}", number)


def go_on(request: SeatedRequest, job: Job, to: str) -> None:
    """Make the move, or say why it is not made."""
    said = request.POST
    try:
        if to == Job.Stage.CLOSED:
            close(request.seat, job)
        else:
            lost = Lost(why=said.get("why", ""), words=said.get("words", "").strip())
            move(request.seat, job, to, lost)
    except (NoSuchMove, NoSuchReason) as reason:
        messages.error(request, str(reason))

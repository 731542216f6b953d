"""The design screen: a form and, beside it, what it comes to."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import localdate, now
from django.views.decorators.http import require_GET, require_http_methods
from django_htmx.http import retarget

from jobs.day.reserving import trouble
from jobs.design.colours import suggest
from jobs.design.picture_room import View
from jobs.design.reading import write_design
from jobs.design.starters import sketch
from jobs.design.supports import KINDS
from jobs.designing import Look, Seen, keep_design, look_at
from jobs.forms.design import DesignSheet, int_or_zero, with_another, with_suggested
from jobs.forms.rows import SIZES
from jobs.gather import chosen_row, design_of, placed
from jobs.kept import begin_from, names_of_kept
from jobs.models import Job, JobDesign, Shade
from jobs.proposal.agreed import Locked
from jobs.views.agreed import agreed_of
from jobs.views.brief import the_job
from studio.editing import Stale

if TYPE_CHECKING:
    from pricing.kit_lacks import Lack
    from studio.door import SeatedRequest

ROW_TABLES = re.compile(r"^add-(palette|clusters|p\d{1,2}-(runs|greenery|wraps))$")
VIEW_WORDS: dict[View, str] = {
    "front": "from the front",
    "side": "from the side",
    "plan": "from above",
}


@require_http_methods(["GET", "POST"])
def design(request: SeatedRequest, number: int, letter: str = "") -> HttpResponse:
    job = the_job(request, number)
    if request.method == "GET":
        return show(request, job, letter)
    request.seat.must_be_office()
    # The form says which alternative it shows: another may have been chosen since.
    letter = letter or request.POST.get("letter", "")[:1]
    do = request.POST.get("do", "save")
    if do == "begin":
        return begun(request, job, letter)
    if made := remade(request, do):
        return show(request, job, letter, made)
    sheet = DesignSheet(request.seat.studio, data=request.POST)
    if do == "look":
        return panel(request, job, letter, sheet)
    if do == "keep":
        return keep(request, job, letter, sheet)
    if not sheet.is_valid():
        return show(request, job, letter, sheet, status=422)
    if do == "add-piece":
        return show(request, job, letter, with_piece(request, job, sheet))
    return save(request, job, letter, sheet)


def remade(request: SeatedRequest, do: str) -> DesignSheet | None:
    """The same typing laid out anew: as it came, with one more row, or with suggested colours."""
    studio, data = request.seat.studio, request.POST
    if ROW_TABLES.match(do):
        return DesignSheet(studio, data=with_another(data, do.removeprefix("add-"), studio))
    if do == "suggest":
        return DesignSheet(studio, data=with_suggested(data, suggest))
    return DesignSheet(studio, data=data) if do == "lay-out" else None


def save(request: SeatedRequest, job: Job, letter: str, sheet: DesignSheet) -> HttpResponse:
    assert sheet.design is not None
    why = request.POST.get("why", "").strip()
    try:
        kept = keep_design(request.seat, job, sheet.design, seen_by(request), letter, why=why)
    except Stale as stale:
        return show(request, job, letter, sheet, status=409, stale=stale)
    except Locked as locked:
        return show(request, job, letter, sheet, status=422, locked=locked)
    said = f"Corrected; the lists follow. {kept.followed}" if kept.corrected else "Design saved."
    messages.success(request, said.strip())
    return redirect(*at(request, job, letter))


def keep(request: SeatedRequest, job: Job, letter: str, sheet: DesignSheet) -> HttpResponse:
    """Save by itself: answer only what was saved, or why it was not. Never over somebody else's."""
    context: dict[str, Any] = {"at": now(), "version": seen_by(request).version}
    if not sheet.is_valid() or sheet.design is None:
        return render(request, "jobs/design.html#kept", {**context, "unread": True}, status=422)
    try:
        context["version"] = keep_design(
            request.seat, job, sheet.design, seen_by(request), letter, quietly=True
        ).version
    except Stale as stale:
        return render(request, "jobs/design.html#kept", {**context, "stale": stale}, status=409)
    except Locked:
        return render(request, "jobs/design.html#kept", {**context, "locked": True}, status=409)
    return render(request, "jobs/design.html#kept", context)


def seen_by(request: SeatedRequest) -> Seen:
    """What the form says that it was made from."""
    version, step = (int_or_zero(request.POST.get(name)) for name in ("version", "step"))
    return Seen(version=version, hand=request.POST.get("hand", "")[:36], step=step)


def version_for(request: SeatedRequest, row: JobDesign | None, stale: Stale | None) -> int:
    """The version that a form is made from. After a clash it is the newer one: saving again is a decision then,
    not an accident. What the same page saved in the meantime is no clash.
    """
    seen = seen_by(request)
    if row and (stale or not request.POST or seen.is_behind(row)):
        return row.version
    return seen.version


def at(request: SeatedRequest, job: Job, letter: str) -> tuple[Any, ...]:
    """The page of an alternative; of the chosen one that of the job’s design."""
    row = chosen_row(request.seat, job, letter)
    if letter and row and not row.chosen:
        return ("jobs:alternative", job.number, letter)
    return ("jobs:design", job.number)


def begun(request: SeatedRequest, job: Job, letter: str) -> HttpResponse:
    """A sketch to begin from. Where a design is saved already (the page was reloaded) that one is shown."""
    sheet = begin(request, job)
    if chosen_row(request.seat, job, letter):
        return redirect(*at(request, job, letter))
    return show(request, job, letter, sheet)


def begin(request: SeatedRequest, job: Job) -> DesignSheet:
    """A sketch to begin from, or a piece that the studio kept; not saved yet."""
    kind, room, units = request.POST.get("kind", ""), job.venue.room(), request.seat.units
    if kept := begin_from(request.seat, kind, room):
        return DesignSheet(request.seat.studio, design=kept)
    if kind not in KINDS:
        raise Http404("No such support.")
    return DesignSheet(request.seat.studio, design=sketch(kind, room, units))


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
    letter: str = "",
    sheet: DesignSheet | None = None,
    *,
    status: int = 200,
    stale: Stale | None = None,
    locked: Locked | None = None,
) -> HttpResponse:
    row = chosen_row(request.seat, job, letter)
    if letter and row is None:
        raise Http404("No alternative of that letter.")
    if sheet is None and row:
        sheet = DesignSheet(request.seat.studio, design=placed(row.document, job))
    look = look_of(request, job, sheet) if sheet else None
    context = {
        "job": job,
        "row": row,
        "sheet": sheet,
        "look": look or (saved_look(request, job, row) if sheet and row else None),
        "shown": "saved" if look is None and row else "",
        "kit_trouble": trouble_of(request, job, look),
        "faults": sheet.all_faults() if sheet and sheet.data else [],
        "stale": stale,
        **(agreed_of(request, job, locked) if row and row.chosen else {}),
        "version": version_for(request, row, stale),
        "kinds": {kind: support.label for kind, support in KINDS.items()},
        "kept": names_of_kept(request.seat) if sheet is None else [],
        "shades": request.seat.rows(Shade).order_by("name") if sheet else [],
        "others": request.seat.rows(JobDesign).filter(job=job).count() > 1,
        "sizes": SIZES,
        "view": view_of(request),
        "views": VIEW_WORDS.items(),
    }
    part = "jobs/design.html#sheet" if request.htmx else "jobs/design.html"
    return render(request, part, context, status=status)


def panel(request: SeatedRequest, job: Job, letter: str, sheet: DesignSheet) -> HttpResponse:
    """The side of the form only: what the typing comes to. What cannot be read yet is told below what was there."""
    look = look_of(request, job, sheet)
    row = chosen_row(request.seat, job, letter)
    context: dict[str, Any] = {
        **(agreed_of(request, job) if row and row.chosen else {}),
        "job": job,
        "look": look,
        "faults": sheet.all_faults(),
        "shown": "last",
        "kit_trouble": trouble_of(request, job, look),
    }
    if look:
        return render(request, "jobs/design.html#worked", context)
    answer = render(request, "jobs/design.html#unread", context)
    return retarget(answer, "#unread")


def trouble_of(request: SeatedRequest, job: Job, look: Look | None) -> list[Lack]:
    return trouble(request.seat, job, look.worked if look else None)


def view_of(request: SeatedRequest) -> View:
    wanted = (request.POST or request.GET).get("view", "front")
    return next((view for view in VIEW_WORDS if view == wanted), "front")


def look_of(request: SeatedRequest, job: Job, sheet: DesignSheet) -> Look | None:
    if sheet.design is None:
        sheet.is_valid()
    if sheet.design is None:
        return None
    names = sheet.names() if request.seat.sees_prices else None
    return look_at(
        request.seat, job, sheet.design, on=localdate(), view=view_of(request), names=names
    )


def saved_look(request: SeatedRequest, job: Job, row: JobDesign) -> Look:
    """The design as it was saved, to look at while what is typed cannot be read."""
    design = placed(row.document, job)
    return look_at(request.seat, job, design, on=localdate(), view=view_of(request))


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

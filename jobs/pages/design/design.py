"""The design screen: a form and, beside it, what it comes to."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import localdate, now
from django.views.decorators.http import require_GET, require_http_methods
from django_htmx.http import retarget

from jobs.day.reserving import kit_trouble_of
from jobs.design.colours import suggest
from jobs.design.parts.accents import Accents
from jobs.design.picture_plane import View
from jobs.design.reading import write_design
from jobs.design.starters import sketch
from jobs.design.supports import KINDS
from jobs.design_editing import DesignPreview, SeenDesign, preview_design, save_design
from jobs.inputs import chosen_row, design_of, placed_in_room
from jobs.models import Job, JobDesign, Shade
from jobs.pages.common import job_of
from jobs.pages.design.design_form import (
    ADD_ROW,
    DesignForm,
    int_or_zero,
    with_another,
    with_suggested,
)
from jobs.pages.design.design_rows import SIZES
from jobs.pages.proposal.agreement import agreed_of
from jobs.proposal.agreed import Locked
from jobs.saved_pieces import begin_from, saved_piece_names
from studio.downloads import file_to_take
from studio.editing import Stale
from studio.permissions import Permission

if TYPE_CHECKING:
    from pricing.stores.kit_lacks import KitLack
    from studio.access import AccessRequest

VIEW_WORDS: dict[View, str] = {
    "front": "from the front",
    "side": "from the side",
    "plan": "from above",
}


@require_http_methods(["GET", "POST"])
def design_page(request: AccessRequest, number: int, letter: str = "") -> HttpResponse:
    job = job_of(request, number)
    if request.method == "GET":
        return show_design(request, job, letter)
    request.access.require(Permission.EDIT_JOBS)
    # The form says which alternative it shows: another may have been chosen since.
    letter = letter or request.POST.get("letter", "")[:1]
    do = request.POST.get("do", "save")
    if do == "begin":
        return begun_design(request, job, letter)
    if made := remade_form(request, do):
        return show_design(request, job, letter, made)
    typed = DesignForm(request.access.studio, data=request.POST)
    if do == "look":
        return panel_context(request, job, letter, typed)
    if do == "keep":
        return save_quietly(request, job, letter, typed)
    if not typed.is_valid():
        return show_design(request, job, letter, typed, status=422)
    if do == "add-piece":
        return show_design(request, job, letter, with_piece(request, job, typed))
    return save_by_button(request, job, letter, typed)


def remade_form(request: AccessRequest, do: str) -> DesignForm | None:
    """The same typing laid out anew: as it came, with one more row, or with suggested colours."""
    studio, data = request.access.studio, request.POST
    if ADD_ROW.match(do):
        return DesignForm(studio, data=with_another(data, do.removeprefix("add-"), studio))
    if do == "suggest":
        return DesignForm(studio, data=with_suggested(data, suggest))
    return DesignForm(studio, data=data) if do == "lay-out" else None


def save_by_button(
    request: AccessRequest, job: Job, letter: str, typed: DesignForm
) -> HttpResponse:
    assert typed.design is not None
    why = request.POST.get("why", "").strip()
    try:
        kept = save_design(request.access, job, typed.design, seen_by(request), letter, why=why)
    except Stale as stale:
        return show_design(request, job, letter, typed, status=409, stale=stale)
    except Locked as locked:
        return show_design(request, job, letter, typed, status=422, locked=locked)
    said = f"Corrected; the lists follow. {kept.followed}" if kept.corrected else "Design saved."
    messages.success(request, said.strip())
    return redirect(*design_address(request, job, letter))


def save_quietly(request: AccessRequest, job: Job, letter: str, typed: DesignForm) -> HttpResponse:
    """Save by itself: answer only what was saved, or why it was not. Never over somebody else's."""
    context: dict[str, Any] = {"at": now(), "version": seen_by(request).version}
    if not typed.is_valid() or typed.design is None:
        return render(
            request, "jobs/design/design.html#kept", {**context, "unread": True}, status=422
        )
    try:
        context["version"] = save_design(
            request.access, job, typed.design, seen_by(request), letter, quietly=True
        ).version
    except Stale as stale:
        return render(
            request, "jobs/design/design.html#kept", {**context, "stale": stale}, status=409
        )
    except Locked:
        return render(
            request, "jobs/design/design.html#kept", {**context, "locked": True}, status=409
        )
    return render(request, "jobs/design/design.html#kept", context)


def seen_by(request: AccessRequest) -> SeenDesign:
    """What the form says that it was made from."""
    version, step = (int_or_zero(request.POST.get(name)) for name in ("version", "step"))
    return SeenDesign(version=version, hand=request.POST.get("hand", "")[:36], step=step)


def version_for(request: AccessRequest, row: JobDesign | None, stale: Stale | None) -> int:
    """The version that a form is made from. After a clash it is the newer one: saving again is a decision then,
    not an accident. What the same page saved in the meantime is no clash.
    """
    seen = seen_by(request)
    if row and (stale or not request.POST or seen.is_behind(row)):
        return row.version
    return seen.version


def design_address(request: AccessRequest, job: Job, letter: str) -> tuple[Any, ...]:
    """The page of an alternative; of the chosen one that of the job’s design."""
    row = chosen_row(request.access, job, letter)
    if letter and row and not row.chosen:
        return ("jobs:alternative", job.number, letter)
    return ("jobs:design", job.number)


def begun_design(request: AccessRequest, job: Job, letter: str) -> HttpResponse:
    """A sketch to begin from. Where a design is saved already (the page was reloaded) that one is shown."""
    typed = begin_design(request, job)
    if chosen_row(request.access, job, letter):
        return redirect(*design_address(request, job, letter))
    return show_design(request, job, letter, typed)


def begin_design(request: AccessRequest, job: Job) -> DesignForm:
    """A sketch to begin from, or a piece that the studio kept; not saved yet."""
    kind, room, units = request.POST.get("kind", ""), job.venue.room(), request.access.units
    if kept := begin_from(request.access, kind, room):
        return DesignForm(request.access.studio, design=kept)
    if kind not in KINDS:
        raise Http404("No such support.")
    return DesignForm(request.access.studio, design=sketch(kind, room, units))


def with_piece(request: AccessRequest, job: Job, typed: DesignForm) -> DesignForm:
    """The same design with one more piece, in the colours and clusters it has already."""
    kind = request.POST.get("kind", "")
    if kind not in KINDS or typed.design is None:
        raise Http404("No such support.")
    first = typed.design.recipes[0].name
    new = sketch(kind, job.venue.room(), request.access.units).pieces[0]
    runs = tuple(run.model_copy(update={"pattern": (first,)}) for run in new.runs)
    new = new.model_copy(update={"runs": runs}).without(Accents)
    pieces = (*typed.design.pieces, new)
    return DesignForm(
        request.access.studio, design=typed.design.model_copy(update={"pieces": pieces})
    )


def show_design(
    request: AccessRequest,
    job: Job,
    letter: str = "",
    typed: DesignForm | None = None,
    *,
    status: int = 200,
    stale: Stale | None = None,
    locked: Locked | None = None,
) -> HttpResponse:
    row = chosen_row(request.access, job, letter)
    if letter and row is None:
        raise Http404("No alternative of that letter.")
    if typed is None and row:
        typed = DesignForm(request.access.studio, design=placed_in_room(row.document, job))
    look = look_of(request, job, typed) if typed else None
    context = {
        "job": job,
        "row": row,
        "sheet": typed,
        "look": look or (saved_look(request, job, row) if typed and row else None),
        "shown": "saved" if look is None and row else "",
        "kit_trouble": design_trouble(request, job, look),
        "faults": typed.all_faults() if typed and typed.data else [],
        "stale": stale,
        **(agreed_of(request, job, locked) if row and row.chosen else {}),
        "version": version_for(request, row, stale),
        "kinds": {kind: support.label for kind, support in KINDS.items()},
        "kept": saved_piece_names(request.access) if typed is None else [],
        "shades": request.access.rows(Shade).order_by("name") if typed else [],
        "others": request.access.rows(JobDesign).filter(job=job).count() > 1,
        "sizes": SIZES,
        "view": view_of(request),
        "views": VIEW_WORDS.items(),
    }
    part = "jobs/design/design.html#sheet" if request.htmx else "jobs/design/design.html"
    return render(request, part, context, status=status)


def panel_context(request: AccessRequest, job: Job, letter: str, typed: DesignForm) -> HttpResponse:
    """The side of the form only: what the typing comes to. What cannot be read yet is told below what was there."""
    look = look_of(request, job, typed)
    row = chosen_row(request.access, job, letter)
    context: dict[str, Any] = {
        **(agreed_of(request, job) if row and row.chosen else {}),
        "job": job,
        "look": look,
        "faults": typed.all_faults(),
        "shown": "last",
        "kit_trouble": design_trouble(request, job, look),
    }
    if look:
        return render(request, "jobs/design/design.html#worked", context)
    answer = render(request, "jobs/design/design.html#unread", context)
    return retarget(answer, "#unread")


def design_trouble(request: AccessRequest, job: Job, look: DesignPreview | None) -> list[KitLack]:
    return kit_trouble_of(request.access, job, look.worked if look else None)


def view_of(request: AccessRequest) -> View:
    wanted = (request.POST or request.GET).get("view", "front")
    return next((view for view in VIEW_WORDS if view == wanted), "front")


def look_of(request: AccessRequest, job: Job, typed: DesignForm) -> DesignPreview | None:
    if typed.design is None:
        typed.is_valid()
    if typed.design is None:
        return None
    names = typed.names() if request.access.may(Permission.SEE_PRICES) else None
    return preview_design(
        request.access, job, typed.design, on=localdate(), view=view_of(request), names=names
    )


def saved_look(request: AccessRequest, job: Job, row: JobDesign) -> DesignPreview:
    """The design as it was saved, to look at while what is typed cannot be read."""
    design = placed_in_room(row.document, job)
    return preview_design(request.access, job, design, on=localdate(), view=view_of(request))


@require_GET
def design_document(request: AccessRequest, number: int) -> HttpResponse:
    """The design as a file, room included, for `manage.py takeoff`."""
    job = job_of(request, number)
    found = design_of(request.access, job)
    if found is None:
        raise Http404("Nothing is designed yet.")
    return file_to_take(write_design(found), f"design-{job.number:04d}.json", "application/json")

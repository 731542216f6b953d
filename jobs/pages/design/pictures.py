"""Pictures to take away, and the photo that can stand behind them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from jobs.design.picture import draw
from jobs.design.picture_room import Frame
from jobs.inputs import worked_for
from jobs.models import RoomPhoto
from jobs.pages.common import job_of
from jobs.pages.design.photo_form import ApartForm, PhotoForm, PointForm
from jobs.photos import behind, cm_a_pixel, keep_photo, next_step
from studio.access import requires
from studio.downloads import file_to_take
from studio.images import ImageError
from studio.paper import picture_png
from studio.permissions import Permission
from studio.picture_file import picture_file

if TYPE_CHECKING:
    from studio.access import AccessRequest

PNG_WIDE_PX = 1600
SHOWN_PX = 640  # width at which the photo is shown to be pointed at


@require_GET
def picture_download(request: AccessRequest, number: int, letter: str, kind: str) -> HttpResponse:
    """A design as SVG or PNG, as it was saved."""
    job = job_of(request, number)
    worked = worked_for(request.access, job, letter)
    if worked is None or kind not in ("svg", "png"):
        raise Http404("Nothing is designed yet.")
    photo = request.access.rows(RoomPhoto).filter(job=job).first()
    svg = draw(worked, units=request.access.units, under=behind(photo))
    name = f"design-{job.number:04d}{letter.lower()}.{kind}"
    if kind == "svg":
        return file_to_take(picture_file(svg), name, "image/svg+xml")
    frame = Frame.round_about(worked, "front")
    png = picture_png(svg, wide_cm=20, high_cm=20 * frame.high / frame.wide, wide_px=PNG_WIDE_PX)
    return file_to_take(png, name, "image/png")


@require_GET
def photo_jpeg(request: AccessRequest, number: int) -> HttpResponse:
    photo = request.access.row(RoomPhoto, job__number=number)
    return HttpResponse(
        bytes(photo.jpeg), content_type="image/jpeg", headers={"Cache-Control": "private, no-cache"}
    )


@requires(Permission.EDIT_JOBS)
@require_http_methods(["GET", "POST"])
def photo_page(request: AccessRequest, number: int) -> HttpResponse:
    """Bring a photo, show three points on it, say one distance; or take it out again."""
    job = job_of(request, number)
    row = request.access.rows(RoomPhoto).filter(job=job).first()
    if request.method == "GET":
        return show_photo(request, number, row)
    do = request.POST.get("do", "point")
    if do == "bring":
        return bring_photo(request, number, row)
    if row is None:
        raise Http404("No photo yet.")
    if do == "out":
        row.delete()
        messages.success(request, "The photo is out.")
    elif do == "again":
        request.access.rows(RoomPhoto).filter(pk=row.pk).update(
            first_x=None, first_y=None, second_x=None, second_y=None, foot_x=None, foot_y=None
        )
    elif do == "apart":
        form = ApartForm(request.POST, studio=request.access.studio)
        if not form.is_valid():
            return show_photo(request, number, row, apart=form, status=422)
        request.access.rows(RoomPhoto).filter(pk=row.pk).update(**form.cleaned_data)
    else:
        return point_at_photo(request, number, row)
    return redirect("jobs:photo", number)


def bring_photo(request: AccessRequest, number: int, row: RoomPhoto | None) -> HttpResponse:
    form = PhotoForm(request.POST, request.FILES)
    if form.is_valid():
        upload = form.cleaned_data["photo"]
        try:
            keep_photo(request.access, job_of(request, number), upload, upload.size)
            return redirect("jobs:photo", number)
        except ImageError as reason:
            form.add_error("photo", str(reason))
    return show_photo(request, number, row, form=form, status=422)


def point_at_photo(request: AccessRequest, number: int, row: RoomPhoto) -> HttpResponse:
    """One point: clicked on the picture (its own submit button, no script needed) or typed in percent."""
    step = next_step(row)
    data = request.POST
    across, down = data.get("spot.x", ""), data.get("spot.y", "")
    if across + down not in ("", "00"):
        high_px = SHOWN_PX * row.high_px / row.wide_px
        share = (number_in(across) / SHOWN_PX, number_in(down) / high_px)
        form = PointForm({"x": 100 * share[0], "y": 100 * share[1]})
    else:
        form = PointForm(data)
    if not form.is_valid():
        return show_photo(request, number, row, point=form, status=422)
    if step:
        x, y = (form.cleaned_data[n] / 100 for n in ("x", "y"))
        request.access.rows(RoomPhoto).filter(pk=row.pk).update(
            **{f"{step[0]}_x": x * row.wide_px, f"{step[0]}_y": y * row.high_px}
        )
    return redirect("jobs:photo", number)


def number_in(text: str) -> float:
    return float(text) if text.replace(".", "", 1).isdecimal() and len(text) < 12 else -1.0


def show_photo(
    request: AccessRequest,
    number: int,
    row: RoomPhoto | None,
    *,
    status: int = 200,
    **forms: Any,
) -> HttpResponse:
    studio = request.access.studio
    context = {
        "job": job_of(request, number),
        "photo": row,
        "step": next_step(row) if row else None,
        "scale": cm_a_pixel(row) if row else None,
        "shown_px": SHOWN_PX,
        "form": forms.get("form") or PhotoForm(),
        "point": forms.get("point") or PointForm(),
        "apart": forms.get("apart")
        or ApartForm(initial={"apart_m": row.apart_m if row else None}, studio=studio),
    }
    return render(request, "jobs/design/photo.html", context, status=status)

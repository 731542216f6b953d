"""The studio's own colours: what the palettes of its designs choose from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from jobs.design.colours import alike
from jobs.models import Shade
from jobs.pages.design.shade_form import ShadeForm
from studio.access import requires
from studio.permissions import Permission
from studio.query_values import whole_number_in

if TYPE_CHECKING:
    from studio.access import AccessRequest


@requires(Permission.EDIT_JOBS)
@require_http_methods(["GET", "POST"])
def shades_page(request: AccessRequest) -> HttpResponse:
    rows = list(request.access.rows(Shade).order_by("name"))
    out = whole_number_in(request.POST.get("out", ""))
    if out is not None:
        request.access.row(Shade, pk=out).delete()
        return redirect("jobs:shades")
    form = ShadeForm(request.POST or None, known={row.name for row in rows})
    if request.method == "POST" and form.is_valid():
        shade = request.access.add(Shade, **form.cleaned_data)
        messages.success(request, f"{shade.name} is one of your shades.")
        return redirect("jobs:shades")
    pairs = [(rows[a.first], rows[a.second]) for a in alike([r.hex for r in rows]) if not a.sight]
    context = {"shades": rows, "form": form, "pairs": pairs}
    return render(request, "jobs/design/shades.html", context, status=422 if form.errors else 200)

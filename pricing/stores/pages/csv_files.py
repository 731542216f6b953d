"""Price books as sheets: out at once; in after a trial, all rows or none."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from pricing.models import Trial
from pricing.stores.csv_kind import CsvFault
from pricing.stores.csv_kinds import SHEETS
from pricing.stores.csv_trial import apply_trial, open_trial, step_trial, write_csv_of
from studio.access import requires
from studio.downloads import file_to_take
from studio.permissions import Permission

if TYPE_CHECKING:
    from studio.access import AccessRequest

LARGEST = 20_000_000  # bytes


@requires(Permission.SET_PRICES)
@require_http_methods(["GET", "POST"])
def csv_files_page(request: AccessRequest) -> HttpResponse:
    fault = ""
    if request.method == "POST":
        upload, kind = request.FILES.get("sheet"), request.POST.get("kind", "")
        if kind not in SHEETS or upload is None:
            fault = "Sheet: expected a CSV file and what it holds, got none."
        elif (upload.size or 0) > LARGEST:
            fault = f"Sheet: expected at most {LARGEST // 10**6} MB, got {(upload.size or 0) // 10**6} MB."
        else:
            try:
                trial = open_trial(request.access, kind, upload.name or "", upload.read())
                return redirect("pricing:trial", trial.pk)
            except CsvFault as reason:
                fault = str(reason)
    context = {"kinds": {k: s.columns for k, s in SHEETS.items()}, "fault": fault}
    return render(request, "pricing/stores/csv_files.html", context, status=422 if fault else 200)


@requires(Permission.SET_PRICES)
@require_http_methods(["GET", "POST"])
def trial_page(request: AccessRequest, pk: int) -> HttpResponse:
    """A step of the trial at each look, until all rows were seen; then what would change, and the press."""
    row = request.access.row(Trial, pk=pk)
    if request.method == "POST":
        try:
            apply_trial(request.access, row)
            messages.success(
                request, f"{row.new_count} new and {row.changed_count} changed rows are in."
            )
            return redirect("pricing:packs" if row.kind == "packs" else "pricing:stores")
        except CsvFault as reason:
            messages.error(request, str(reason))
            return redirect("pricing:trial", pk)
    if row.checked < row.row_count:
        step_trial(request.access, row)
    part = "pricing/stores/trial.html#looked" if request.htmx else "pricing/stores/trial.html"
    return render(request, part, {"trial": row, "going": row.checked < row.row_count})


@requires(Permission.SET_PRICES)
@require_GET
def export_csv(request: AccessRequest, kind: str) -> HttpResponse:
    if kind not in SHEETS:
        raise Http404("No such sheet.")
    content = "".join(write_csv_of(request.access, SHEETS[kind]))
    return file_to_take(content, f"{kind}.csv", "text/csv; charset=utf-8")

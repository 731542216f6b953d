"""What the client may have or leave: the owner's page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_http_methods

from jobs.inputs import placed_in_room
from jobs.models import JobDesign
from jobs.pages.common import job_of
from jobs.pages.design.options_form import OptionsForm
from jobs.proposal.agreed import Locked, agreement_of
from jobs.proposal.choices import CannotOffer, PricedChoice, offered_of, options_of
from jobs.proposal.extras import keep_options
from pricing.book.price_book import NoRates
from studio.access import requires
from studio.permissions import Permission

if TYPE_CHECKING:
    from jobs.models import Job
    from studio.access import AccessRequest


@requires(Permission.SELL)
@require_http_methods(["GET", "POST"])
def options_page(request: AccessRequest, number: int, letter: str) -> HttpResponse:
    job = job_of(request, number)
    row = request.access.row(JobDesign, job=job, letter=letter)
    form = OptionsForm(
        request.POST or None, design=placed_in_room(row.document, job), options=options_of(row)
    )
    if request.method == "POST" and form.is_valid():
        try:
            keep_options(request.access, row, form.cleaned_data["options"])
        except Locked as locked:
            form.add_error(None, str(locked))
        else:
            messages.success(request, "Saved what the client may have or leave.")
            return redirect(request.path)
    agreed = agreement_of(request.access, job)
    context = {"job": job, "row": row, "form": form, "agreed": agreed, **ways_of(request, job, row)}
    return render(request, "jobs/design/options.html", context, status=422 if form.errors else 200)


def ways_of(request: AccessRequest, job: Job, row: JobDesign) -> dict[str, object]:
    """Every way with its price, cost and margin, or why there is none."""
    ways: tuple[PricedChoice, ...] = ()
    try:
        ways = offered_of(request.access, job, row, on=localdate()).ways if row.options else ()
    except (CannotOffer, NoRates, ValueError) as reason:
        return {"ways": (), "reason": str(reason)}
    return {"ways": ways}

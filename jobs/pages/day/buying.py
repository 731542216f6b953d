"""What to buy: the plan for chosen jobs or a period, why it is so, and the press that makes orders of it."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.core import signing
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate
from django.views.decorators.http import require_http_methods

from jobs.day.substitutes import stand_in_all, stand_ins
from jobs.models import Shade
from jobs.pages.common import job_of
from jobs.pages.day.buying_form import BuyingForm
from jobs.proposal.agreed import Locked
from pricing.core.money import minor_places, up_to_multiple
from pricing.models import Reservation
from pricing.stores.buy_plan import Wanted, make_plan, order_plan, unsent_orders
from pricing.stores.plan.buying import Found, Grade, Plan
from studio.access import requires
from studio.once import form_key_of, once
from studio.permissions import Permission
from studio.post_only import post_only
from studio.query_values import whole_number_in

if TYPE_CHECKING:
    from studio.access import AccessRequest

WAIT_S = 10.0
SHOWN = "buying plan"


@requires(Permission.MANAGE_STOCK)
@require_http_methods(["GET", "POST"])
def buying(request: AccessRequest) -> HttpResponse:
    """GET works the plan out; POST makes its orders, of the same plan or not at all."""
    form = BuyingForm(request.POST or request.GET or None, jobs=reserved_jobs(request))
    if not form.is_bound or not form.is_valid():
        context = {"form": form, "reserved": form.reserved}
        return render(request, "jobs/day/buying.html", context, status=422 if form.errors else 200)
    wanted = wanted_of(form.cleaned_data, shown_before(request.POST.get("shown", "")))
    plan = make_plan(request.access, wanted, on=localdate())
    if request.method == "GET":
        return show_buying(request, form, plan)
    if str(plan.total) != request.POST.get("total"):
        messages.info(request, "The plan changed in between. This is how it stands now.")
        return show_buying(request, form, plan)

    def make() -> str:
        made = order_plan(request.access, plan, needed_by=earliest_event(request, wanted))
        messages.success(request, f"{len(made)} orders are made. Look them over, then send each.")
        return reverse("pricing:orders")

    return redirect(once(request.access, form_key_of(request), make))


def wanted_of(said: dict[str, Any], found: Found | None) -> Wanted:
    floor = None if said["party"] else Grade.PROFESSIONAL
    return Wanted(
        holders=tuple(map(int, said["jobs"])), until=said["until"], floor=floor, time_limit_s=WAIT_S, found=found
    )  # fmt: skip


def shown_before(signed: str) -> Found | None:
    """The plan as the page had it, so that what was seen is what is ordered; None where it is not of our making."""
    try:
        question, counts = signing.loads(signed, salt=SHOWN)
    except signing.BadSignature:
        return None
    return Found(question=question, counts=counts)


def earliest_event(request: AccessRequest, wanted: Wanted) -> Any:
    rows = request.access.rows(Reservation).order_by("needed_by")
    if wanted.holders:
        rows = rows.filter(holder__in=wanted.holders)
    first = rows.first()
    return first.needed_by if first else None


def reserved_jobs(request: AccessRequest) -> list[tuple[str, str]]:
    rows = request.access.rows(Reservation).order_by("needed_by")
    held = dict.fromkeys(rows.values_list("holder", "holder__title"))
    return [(str(holder), title) for holder, title in held]


def show_buying(request: AccessRequest, form: BuyingForm, plan: Plan) -> HttpResponse:
    context = {
        "form": form,
        "reserved": form.reserved,
        "plan": plan,
        "gap": round(100 * float(plan.gap), 2),
        "could_save": up_to_multiple(
            plan.total * plan.gap, Decimal(1).scaleb(-minor_places(request.access.studio.currency))
        ),
        "shown": signing.dumps([plan.found.question, plan.found.counts], salt=SHOWN, compress=True),
        "stand_ins": stand_ins(request.access, plan.missing, on=localdate()),
        "unsent": unsent_orders(request.access),
        "asked": request.GET.urlencode() or request.POST.urlencode(),
    }
    return render(request, "jobs/day/buying.html", context)


@requires(Permission.EDIT_JOBS)
@post_only("jobs:buying")
def accept_stand_in(request: AccessRequest) -> HttpResponse:
    """The owner takes a near colour for one that cannot come, in every job that wants it."""
    shade = request.access.row(Shade, pk=request.POST.get("shade", "0"))
    colour, why = request.POST.get("colour", ""), request.POST.get("why", "").strip()
    numbers = map(whole_number_in, request.POST.getlist("job"))
    jobs = [job_of(request, number) for number in numbers if number is not None]
    try:
        done = stand_in_all(request.access, jobs, colour, shade, why)
    except Locked as locked:
        messages.error(request, str(locked))
        return redirect("jobs:buying")
    if done:
        messages.success(
            request, f"{shade.name} stands in for {colour} in {done} job(s). Tell the client."
        )
    else:
        messages.error(
            request,
            "Nothing was changed: the design was changed in between, or has that shade already.",
        )
    return redirect("jobs:buying")

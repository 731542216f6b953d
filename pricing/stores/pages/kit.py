"""The hire kit: what there is, who has it, what comes back how."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate, now
from django.views.decorators.http import require_GET, require_http_methods

from pricing.models import KitBooking, KitItem, KitNote
from pricing.stores.forms import CheckInForm, KitForm
from pricing.stores.kit import check_in, due_for_service
from studio.access import requires
from studio.editing import Stale, save_if_fresh
from studio.once import form_key_of, once
from studio.permissions import Permission
from studio.post_only import post_only

if TYPE_CHECKING:
    from studio.access import AccessRequest


@require_GET
def kit_page(request: AccessRequest) -> HttpResponse:
    return show_kit(request, CheckInForm(currency=request.access.studio.currency))


def show_kit(request: AccessRequest, form: CheckInForm, wrong: int = 0) -> HttpResponse:
    """The page; `wrong` is the booking whose form could not be read."""
    bookings = (
        request.access.rows(KitBooking)
        .filter(returned_at=None)
        .select_related("item", "holder")
        .order_by("out_from")
    )
    context = {
        "items": request.access.rows(KitItem).order_by("key", "name", "mark"),
        "bookings": bookings,
        "due": due_for_service(request.access, localdate()),
        "form": form,
        "wrong": wrong,
    }
    return render(request, "pricing/stores/kit.html", context, status=422 if wrong else 200)


@requires(Permission.MANAGE_STOCK)
@require_http_methods(["GET", "POST"])
def new_item(request: AccessRequest) -> HttpResponse:
    form = KitForm(request.POST or None)
    if request.method == "POST" and form.is_valid():

        def make() -> str:
            facts = {name: form.cleaned_data[name] for name in form.Meta.fields}
            copies = form.cleaned_data.get("copies") or 1
            for number in range(1, copies + 1):
                mark = facts["mark"] if copies == 1 else f"{facts['mark']} no. {number}".strip()
                request.access.add(KitItem, **{**facts, "mark": mark})
            return reverse("pricing:kit")

        return redirect(once(request.access, form_key_of(request), make))
    return render(
        request, "pricing/stores/kit_item.html", {"form": form}, status=422 if form.errors else 200
    )


@requires(Permission.MANAGE_STOCK)
@require_http_methods(["GET", "POST"])
def kit_item_page(request: AccessRequest, pk: int) -> HttpResponse:
    row = request.access.row(KitItem, pk=pk)
    form = KitForm(request.POST or None, instance=row)
    notes = request.access.rows(KitNote).filter(item=row).select_related("who").order_by("-pk")
    context = {"form": form, "item": row, "notes": notes}
    if request.method == "GET":
        return render(request, "pricing/stores/kit_item.html", context)
    if not form.is_valid():
        return render(request, "pricing/stores/kit_item.html", context, status=422)
    try:
        save_if_fresh(form)
    except Stale as stale:
        return render(
            request, "pricing/stores/kit_item.html", {**context, "stale": stale}, status=409
        )
    messages.success(request, "Saved.")
    return redirect("pricing:kit")


@post_only("pricing:kit")
def kit_came_back(request: AccessRequest, pk: int) -> HttpResponse:
    booking = request.access.row(KitBooking, pk=pk)
    form = CheckInForm(request.POST, currency=request.access.studio.currency)
    if not form.is_valid():
        return show_kit(request, form, wrong=pk)
    if booking.returned_at is None:
        cleaned = form.cleaned_data
        check_in(
            request.access, booking, at=now(), kind=cleaned["kind"], what=cleaned["what"],
            hours=cleaned["hours"] or 0,
            amount=cleaned["amount"] if request.access.may(Permission.RECORD_MONEY) else None,
        )  # fmt: skip
        messages.success(request, f"{booking.item} is back.")
    return redirect("pricing:kit")

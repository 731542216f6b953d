"""Suppliers and what they sell, one by one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods

from pricing.forms_stock import PackForm, SupplierForm
from pricing.models import Pack, Supplier
from studio.door import prices_only
from studio.editing import Stale, save_if_fresh
from studio.once import led_to, once, press_of

if TYPE_CHECKING:
    from studio.door import SeatedRequest

SHOWN = 200  # packs on a page; the rest by searching


@prices_only
@require_GET
def packs(request: SeatedRequest) -> HttpResponse:
    word = request.GET.get("q", "").strip()
    rows = (
        request.seat.rows(Pack)
        .select_related("supplier")
        .order_by("supplier__name", "code", "-valid_from")
    )
    if word:
        rows = rows.filter(name__icontains=word) | rows.filter(code__icontains=word)
    context = {
        "suppliers": request.seat.rows(Supplier).order_by("name"),
        "packs": rows[:SHOWN],
        "more": rows.count() > SHOWN,
        "q": word,
    }
    part = "pricing/packs.html#rows" if request.htmx else "pricing/packs.html"
    return render(request, part, context)


@prices_only
@require_http_methods(["GET", "POST"])
def supplier(request: SeatedRequest, pk: int | None = None) -> HttpResponse:
    row = request.seat.row(Supplier, pk=pk) if pk else None
    if row is None and (there := led_to(request.seat, request)):
        return redirect(there)
    taken = set(request.seat.rows(Supplier).exclude(pk=pk).values_list("name", flat=True))
    form = SupplierForm(request.POST or None, instance=row, taken=taken)
    context: dict[str, Any] = {"form": form, "row": row, "what": "Supplier", "at": request.path}
    if request.method == "GET" or not form.is_valid():
        return render(request, "pricing/one.html", context, status=422 if form.errors else 200)
    if row is None:
        return redirect(
            once(request.seat, press_of(request), lambda: made(request, Supplier, form))
        )
    return kept(request, form, context)


@prices_only
@require_http_methods(["GET", "POST"])
def pack(request: SeatedRequest, pk: int | None = None) -> HttpResponse:
    row = request.seat.row(Pack, pk=pk) if pk else None
    if row is None and (there := led_to(request.seat, request)):
        return redirect(there)
    form = PackForm(
        request.POST or None, instance=row, suppliers=request.seat.rows(Supplier).order_by("name"),
        initial={"valid_from": localdate()} if row is None else {},
    )  # fmt: skip
    context: dict[str, Any] = {"form": form, "row": row, "what": "Pack", "at": request.path}
    if request.method == "GET" or not form.is_valid() or is_twice(request, form, row):
        return render(request, "pricing/one.html", context, status=422 if form.errors else 200)
    if row is None:
        return redirect(once(request.seat, press_of(request), lambda: made(request, Pack, form)))
    return kept(request, form, context)


def is_twice(request: SeatedRequest, form: PackForm, row: Pack | None) -> bool:
    said = form.cleaned_data
    same = request.seat.rows(Pack).filter(
        supplier=said["supplier"], code=said["code"], valid_from=said["valid_from"]
    )
    if same.exclude(pk=row.pk if row else None).exists():
        form.add_error(
            "code", f"Their code: expected each once from a day on, got “{said['code']}” again."
        )
    return bool(form.errors)


def made(request: SeatedRequest, model: type, form: PackForm | SupplierForm) -> str:
    request.seat.add(model, **{name: form.cleaned_data[name] for name in form.Meta.fields})
    return reverse("pricing:packs")


def kept(
    request: SeatedRequest, form: PackForm | SupplierForm, context: dict[str, Any]
) -> HttpResponse:
    try:
        save_if_fresh(form)
    except Stale as stale:
        return render(request, "pricing/one.html", {**context, "stale": stale}, status=409)
    messages.success(request, "Saved.")
    return redirect("pricing:packs")

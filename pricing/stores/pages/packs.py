"""Suppliers and what they sell, one by one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods

from pricing.models import Pack, Supplier
from pricing.stores.forms import PackForm, SupplierForm
from studio.access import requires
from studio.editing import Stale, save_if_fresh
from studio.once import earlier_address, form_key_of, once
from studio.permissions import Permission

if TYPE_CHECKING:
    from studio.access import AccessRequest

SHOWN = 200  # packs on a page; the rest by searching


@requires(Permission.MANAGE_STOCK)
@require_GET
def packs_page(request: AccessRequest) -> HttpResponse:
    word = request.GET.get("q", "").strip()
    rows = (
        request.access.rows(Pack)
        .select_related("supplier")
        .order_by("supplier__name", "code", "-valid_from")
    )
    if word:
        rows = rows.filter(name__icontains=word) | rows.filter(code__icontains=word)
    context = {
        "suppliers": request.access.rows(Supplier).order_by("name"),
        "packs": rows[:SHOWN],
        "more": rows.count() > SHOWN,
        "q": word,
    }
    part = "pricing/stores/packs.html#rows" if request.htmx else "pricing/stores/packs.html"
    return render(request, part, context)


@requires(Permission.MANAGE_STOCK)
@require_http_methods(["GET", "POST"])
def supplier_page(request: AccessRequest, pk: int | None = None) -> HttpResponse:
    row = request.access.row(Supplier, pk=pk) if pk else None
    if row is None and (there := earlier_address(request.access, request)):
        return redirect(there)
    taken = set(request.access.rows(Supplier).exclude(pk=pk or 0).values_list("name", flat=True))
    form = SupplierForm(request.POST or None, instance=row, taken=taken)
    context: dict[str, Any] = {"form": form, "row": row, "what": "Supplier", "at": request.path}
    if request.method == "GET" or not form.is_valid():
        return render(
            request, "pricing/stores/one.html", context, status=422 if form.errors else 200
        )
    if row is None:
        return redirect(
            once(request.access, form_key_of(request), lambda: made_once(request, Supplier, form))
        )
    return save_or_show(request, form, context)


@requires(Permission.MANAGE_STOCK)
@require_http_methods(["GET", "POST"])
def pack_page(request: AccessRequest, pk: int | None = None) -> HttpResponse:
    row = request.access.row(Pack, pk=pk) if pk else None
    if row is None and (there := earlier_address(request.access, request)):
        return redirect(there)
    form = PackForm(
        request.POST or None, instance=row, suppliers=request.access.rows(Supplier).order_by("name"),
        initial={"valid_from": localdate()} if row is None else {},
    )  # fmt: skip
    context: dict[str, Any] = {"form": form, "row": row, "what": "Pack", "at": request.path}
    if request.method == "GET" or not form.is_valid() or is_twice(request, form, row):
        return render(
            request, "pricing/stores/one.html", context, status=422 if form.errors else 200
        )
    if row is None:
        return redirect(
            once(request.access, form_key_of(request), lambda: made_once(request, Pack, form))
        )
    return save_or_show(request, form, context)


def is_twice(request: AccessRequest, form: PackForm, row: Pack | None) -> bool:
    cleaned = form.cleaned_data
    same = request.access.rows(Pack).filter(
        supplier=cleaned["supplier"], code=cleaned["code"], valid_from=cleaned["valid_from"]
    )
    if same.exclude(pk=row.pk if row else 0).exists():
        form.add_error(
            "code", f"Their code: expected each once from a day on, got “{cleaned['code']}” again."
        )
    return bool(form.errors)


def made_once(request: AccessRequest, model: type, form: PackForm | SupplierForm) -> str:
    request.access.add(model, **{name: form.cleaned_data[name] for name in form.Meta.fields})
    return reverse("pricing:packs")


def save_or_show(
    request: AccessRequest, form: PackForm | SupplierForm, context: dict[str, Any]
) -> HttpResponse:
    try:
        save_if_fresh(form)
    except Stale as stale:
        return render(request, "pricing/stores/one.html", {**context, "stale": stale}, status=409)
    messages.success(request, "Saved.")
    return redirect("pricing:packs")

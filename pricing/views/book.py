"""Stores: supplies with their prices, and the studio's rates."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from django.contrib import messages
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods

from pricing.forms import PriceForm, RatesForm, SupplyForm
from pricing.models import Price, RateCard, Supply
from pricing.shelf import prices_on
from studio.door import prices_only
from studio.editing import Stale, save_if_fresh
from studio.once import once, press_of

if TYPE_CHECKING:
    from studio.door import SeatedRequest


@require_GET
def stores(request: SeatedRequest) -> HttpResponse:
    word = request.GET.get("q", "").strip()
    supplies = request.seat.rows(Supply).order_by("use", "key")
    if word:
        supplies = supplies.filter(
            Q(name__icontains=word) | Q(key__icontains=word) | Q(shelf__iexact=word)
        )
    prices = prices_on(request.seat, localdate()) if request.seat.sees_prices else {}
    rows = [(supply, prices.get(supply.pk)) for supply in supplies]
    groups = [
        (name, list(some)) for name, some in groupby(rows, key=lambda row: row[0].get_use_display())
    ]
    page = "pricing/stores.html#rows" if request.htmx else "pricing/stores.html"
    return render(request, page, {"groups": groups, "q": word})


@prices_only
@require_http_methods(["GET", "POST"])
def new_supply(request: SeatedRequest) -> HttpResponse:
    taken = set(request.seat.rows(Supply).values_list("key", flat=True))
    form = SupplyForm(request.POST or None, taken=taken)
    price = PriceForm(
        request.POST or None, prefix="price", initial={"valid_from": localdate(), "pack_count": 1}
    )
    context = {"form": form, "price_form": price}
    if request.method == "GET":
        return render(request, "pricing/supply.html", context)
    if not all([form.is_valid(), price.is_valid()]):
        return render(request, "pricing/supply.html", context, status=422)

    def make() -> str:
        supply = request.seat.add(Supply, **facts_of(form))
        request.seat.add(Price, supply=supply, **price.cleaned_data)
        return reverse("pricing:supply", args=[supply.pk])

    return redirect(once(request.seat, press_of(request), make))


@prices_only
@require_http_methods(["GET", "POST"])
def supply(request: SeatedRequest, pk: int) -> HttpResponse:
    row = request.seat.row(Supply, pk=pk)
    taken = set(request.seat.rows(Supply).exclude(pk=pk).values_list("key", flat=True))
    form = SupplyForm(request.POST or None, instance=row, taken=taken)
    context = {"form": form, "supply": row, **past(request, row), "price_form": fresh_price()}
    if request.method == "GET":
        return render(request, "pricing/supply.html", context)
    if not form.is_valid():
        return render(request, "pricing/supply.html", context, status=422)
    try:
        save_if_fresh(form)
    except Stale as stale:
        return render(request, "pricing/supply.html", {**context, "stale": stale}, status=409)
    messages.success(request, "Supply saved.")
    return redirect("pricing:stores")


@prices_only
@require_http_methods(["POST"])
def new_price(request: SeatedRequest, pk: int) -> HttpResponse:
    row = request.seat.row(Supply, pk=pk)
    days = set(request.seat.rows(Price).filter(supply=row).values_list("valid_from", flat=True))
    price = PriceForm(request.POST, prefix="price", taken=days)
    if not price.is_valid():
        context = {
            "form": SupplyForm(instance=row),
            "supply": row,
            **past(request, row),
            "price_form": price,
        }
        return render(request, "pricing/supply.html", context, status=422)

    def make() -> str:
        request.seat.add(Price, supply=row, **price.cleaned_data)
        return reverse("pricing:supply", args=[row.pk])

    return redirect(once(request.seat, press_of(request), make))


@prices_only
@require_http_methods(["GET", "POST"])
def rates(request: SeatedRequest) -> HttpResponse:
    cards = request.seat.rows(RateCard).order_by("-valid_from")
    now = request.seat.rows(RateCard).in_force(localdate()).first()
    days = {card.valid_from for card in cards}
    fresh = {name: getattr(now, name) for name in RatesForm.Meta.fields} if now else {}
    form = RatesForm(request.POST or None, initial={**fresh, "valid_from": localdate()}, taken=days)
    if request.method == "POST" and form.is_valid():

        def make() -> str:
            request.seat.add(RateCard, **form.cleaned_data)
            return reverse("pricing:rates")

        return redirect(once(request.seat, press_of(request), make))
    context = {"form": form, "cards": cards, "now": now}
    return render(request, "pricing/rates.html", context, status=422 if form.errors else 200)


def facts_of(form: SupplyForm) -> dict[str, object]:
    return {name: form.cleaned_data[name] for name in form.Meta.fields}


def fresh_price() -> PriceForm:
    return PriceForm(prefix="price", initial={"valid_from": localdate()})


def past(request: SeatedRequest, row: Supply) -> dict[str, object]:
    return {"prices": request.seat.rows(Price).filter(supply=row).order_by("-valid_from")}

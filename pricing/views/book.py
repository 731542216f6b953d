"""Stores: supplies with their prices, and the studio's rates."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.db.models import Q
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods

from pricing.dated import enter, standing
from pricing.forms import PriceForm, RatesForm, SupplyForm
from pricing.models import Price, RateCard, Supply
from pricing.shelf import prices_on
from studio.door import prices_only
from studio.editing import Stale, save_if_fresh
from studio.once import led_to, once, press_of
from studio.presses import press_only

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
    return render(request, page, {"groups": groups, "q": word, "examples": examples_left(request)})


@prices_only
@require_http_methods(["GET", "POST"])
def new_supply(request: SeatedRequest) -> HttpResponse:
    if there := led_to(request.seat, request):
        return redirect(there)
    taken = set(request.seat.rows(Supply).values_list("key", flat=True))
    form = SupplyForm(request.POST or None, taken=taken)
    today = request.seat.studio.today()
    price = PriceForm(request.POST or None, prefix="price", initial={"pack_count": 1}, today=today)
    context = {"form": form, "price_form": price}
    if request.method == "GET":
        return render(request, "pricing/supply.html", context)
    if not all([form.is_valid(), price.is_valid()]):
        return render(request, "pricing/supply.html", context, status=422)

    def make() -> str:
        supply = request.seat.add(Supply, **facts_of(form))
        request.seat.add(Price, supply=supply, **price.facts)
        return reverse("pricing:supply", args=[supply.pk])

    return redirect(once(request.seat, press_of(request), make))


@prices_only
@require_http_methods(["GET", "POST"])
def supply(request: SeatedRequest, pk: int) -> HttpResponse:
    row = request.seat.row(Supply, pk=pk)
    taken = set(request.seat.rows(Supply).exclude(pk=pk).values_list("key", flat=True))
    form = SupplyForm(request.POST or None, instance=row, taken=taken)
    context = {
        "form": form,
        "supply": row,
        **past(request, row),
        "price_form": price_form(request, row),
    }
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
@press_only("pricing:supply", "pk")
def new_price(request: SeatedRequest, pk: int) -> HttpResponse:
    row = request.seat.row(Supply, pk=pk)
    price = price_form(request, row, request.POST)
    context: dict[str, Any] = {"form": SupplyForm(instance=row), "supply": row, "price_form": price}
    if not price.is_valid():
        return render(request, "pricing/supply.html", {**context, **past(request, row)}, status=422)

    def make() -> str:
        enter(request.seat, price, supply=row)
        return reverse("pricing:supply", args=[row.pk])

    try:
        return redirect(once(request.seat, press_of(request), make))
    except Stale as stale:
        context |= {**past(request, row), "stale": stale}
        return render(request, "pricing/supply.html", context, status=409)


@prices_only
@require_http_methods(["GET", "POST"])
def rates(request: SeatedRequest) -> HttpResponse:
    cards = request.seat.rows(RateCard).order_by("-valid_from")
    today = request.seat.studio.today()
    now = request.seat.rows(RateCard).in_force(today).first()
    fresh = {name: getattr(now, name) for name in RatesForm.Meta.fields} if now else {}
    form = RatesForm(
        request.POST or None, initial={**fresh, "valid_from": today}, today=today,
        standing={card.valid_from: card for card in cards}, units=request.seat.units,
    )  # fmt: skip
    context = {"form": form, "cards": cards, "now": now}
    if request.method == "GET" or not form.is_valid():
        return render(request, "pricing/rates.html", context, status=422 if form.errors else 200)

    def make() -> str:
        enter(request.seat, form)
        return reverse("pricing:rates")

    try:
        return redirect(once(request.seat, press_of(request), make))
    except Stale as stale:
        return render(request, "pricing/rates.html", {**context, "stale": stale}, status=409)


def examples_left(request: SeatedRequest) -> int:
    """How many entries of the price book, rates among them, nobody has confirmed yet; crew see none."""
    if not request.seat.sees_prices:
        return 0
    return sum(
        request.seat.rows(model).filter(is_example=True).count() for model in (Price, RateCard)
    )


def facts_of(form: SupplyForm) -> dict[str, object]:
    return {name: form.cleaned_data[name] for name in form.Meta.fields}


def price_form(request: SeatedRequest, row: Supply, data: QueryDict | None = None) -> PriceForm:
    entries = standing(request.seat, Price, supply=row)
    return PriceForm(data, prefix="price", standing=entries, today=request.seat.studio.today())


def past(request: SeatedRequest, row: Supply) -> dict[str, object]:
    return {"prices": request.seat.rows(Price).filter(supply=row).order_by("-valid_from")}

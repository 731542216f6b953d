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

from pricing.book.dated import enter_from_day, standing_entries
from pricing.book.price_book import in_force, prices_on
from pricing.book.price_forms import RatesForm, SupplyForm, SupplyPriceForm
from pricing.models import Price, RateCard, Supply
from studio.access import requires
from studio.editing import Stale, save_if_fresh
from studio.once import earlier_address, form_key_of, once
from studio.permissions import Permission
from studio.post_only import post_only

if TYPE_CHECKING:
    from studio.access import AccessRequest


@require_GET
def stores_page(request: AccessRequest) -> HttpResponse:
    word = request.GET.get("q", "").strip()
    supplies = request.access.rows(Supply).order_by("use", "key")
    if word:
        supplies = supplies.filter(
            Q(name__icontains=word) | Q(key__icontains=word) | Q(shelf__iexact=word)
        )
    prices = (
        prices_on(request.access, localdate()) if request.access.may(Permission.SEE_PRICES) else {}
    )
    rows = [(supply, prices.get(supply.pk)) for supply in supplies]
    groups = [
        (name, list(some)) for name, some in groupby(rows, key=lambda row: row[0].get_use_display())
    ]
    page = "pricing/book/stores.html#rows" if request.htmx else "pricing/book/stores.html"
    return render(request, page, {"groups": groups, "q": word, "examples": examples_left(request)})


@requires(Permission.SET_PRICES)
@require_http_methods(["GET", "POST"])
def new_supply(request: AccessRequest) -> HttpResponse:
    if there := earlier_address(request.access, request):
        return redirect(there)
    taken = set(request.access.rows(Supply).values_list("key", flat=True))
    form = SupplyForm(request.POST or None, taken=taken)
    today = request.access.studio.today()
    price = SupplyPriceForm(
        request.POST or None, prefix="price", initial={"pack_count": 1}, today=today
    )
    context = {"form": form, "price_form": price}
    if request.method == "GET":
        return render(request, "pricing/book/supply.html", context)
    if not all([form.is_valid(), price.is_valid()]):
        return render(request, "pricing/book/supply.html", context, status=422)

    def make() -> str:
        supply = request.access.add(Supply, **price_facts(form))
        request.access.add(Price, supply=supply, **price.facts)
        return reverse("pricing:supply", args=[supply.pk])

    return redirect(once(request.access, form_key_of(request), make))


@requires(Permission.SET_PRICES)
@require_http_methods(["GET", "POST"])
def supply_page(request: AccessRequest, pk: int) -> HttpResponse:
    row = request.access.row(Supply, pk=pk)
    taken = set(request.access.rows(Supply).exclude(pk=pk).values_list("key", flat=True))
    form = SupplyForm(request.POST or None, instance=row, taken=taken)
    context = {
        "form": form,
        "supply": row,
        **past_prices(request, row),
        "price_form": price_form(request, row),
    }
    if request.method == "GET":
        return render(request, "pricing/book/supply.html", context)
    if not form.is_valid():
        return render(request, "pricing/book/supply.html", context, status=422)
    try:
        save_if_fresh(form)
    except Stale as stale:
        return render(request, "pricing/book/supply.html", {**context, "stale": stale}, status=409)
    messages.success(request, "Supply saved.")
    return redirect("pricing:stores")


@requires(Permission.SET_PRICES)
@post_only("pricing:supply", "pk")
def new_price(request: AccessRequest, pk: int) -> HttpResponse:
    row = request.access.row(Supply, pk=pk)
    price = price_form(request, row, request.POST)
    context: dict[str, Any] = {"form": SupplyForm(instance=row), "supply": row, "price_form": price}
    if not price.is_valid():
        return render(
            request,
            "pricing/book/supply.html",
            {**context, **past_prices(request, row)},
            status=422,
        )

    def make() -> str:
        enter_from_day(request.access, price, supply=row)
        return reverse("pricing:supply", args=[row.pk])

    try:
        return redirect(once(request.access, form_key_of(request), make))
    except Stale as stale:
        context |= {**past_prices(request, row), "stale": stale}
        return render(request, "pricing/book/supply.html", context, status=409)


@requires(Permission.SET_PRICES)
@require_http_methods(["GET", "POST"])
def rates_page(request: AccessRequest) -> HttpResponse:
    cards = request.access.rows(RateCard).order_by("-valid_from")
    today = request.access.studio.today()
    now = in_force(request.access, RateCard, today).first()
    fresh = {name: getattr(now, name) for name in RatesForm.Meta.fields} if now else {}
    form = RatesForm(
        request.POST or None, initial={**fresh, "valid_from": today}, today=today,
        standing={card.valid_from: card for card in cards}, units=request.access.units,
    )  # fmt: skip
    context = {"form": form, "cards": cards, "now": now}
    if request.method == "GET" or not form.is_valid():
        return render(
            request, "pricing/book/rates.html", context, status=422 if form.errors else 200
        )

    def make() -> str:
        enter_from_day(request.access, form)
        return reverse("pricing:rates")

    try:
        return redirect(once(request.access, form_key_of(request), make))
    except Stale as stale:
        return render(request, "pricing/book/rates.html", {**context, "stale": stale}, status=409)


def examples_left(request: AccessRequest) -> int:
    """How many entries of the price book, rates among them, nobody has confirmed yet; crew see none."""
    if not request.access.may(Permission.SEE_PRICES):
        return 0
    return sum(
        request.access.rows(model).filter(is_example=True).count() for model in (Price, RateCard)
    )


def price_facts(form: SupplyForm) -> dict[str, object]:
    return {name: form.cleaned_data[name] for name in form.Meta.fields}


def price_form(
    request: AccessRequest, row: Supply, data: QueryDict | None = None
) -> SupplyPriceForm:
    entries = standing_entries(request.access, Price, supply=row)
    return SupplyPriceForm(
        data, prefix="price", standing=entries, today=request.access.studio.today()
    )


def past_prices(request: AccessRequest, row: Supply) -> dict[str, object]:
    return {"prices": request.access.rows(Price).filter(supply=row).order_by("-valid_from")}

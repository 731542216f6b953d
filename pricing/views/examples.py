"""Figures that came with the house are examples until somebody in the studio confirms them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect

from pricing.models import Price, RateCard
from studio.door import prices_only
from studio.presses import press_only

if TYPE_CHECKING:
    from studio.door import SeatedRequest


@prices_only
@press_only("pricing:stores")
def confirm(request: SeatedRequest) -> HttpResponse:
    """One price, the rates, or all of them become the studio's own."""
    seat, asked = request.seat, request.POST
    if pk := asked.get("price"):
        row = seat.row(Price, pk=pk)
        seat.rows(Price).filter(pk=row.pk).update(is_example=False)
        messages.success(request, f"{row.supply.name}: the price is yours now.")
        return redirect("pricing:stores")
    if asked.get("rates"):
        seat.rows(RateCard).update(is_example=False)
        messages.success(request, "The rates are yours now.")
        return redirect("pricing:rates")
    if asked.get("all"):
        for model in (Price, RateCard):
            seat.rows(model).update(is_example=False)
        messages.success(request, "The price book and the rates are yours now.")
    return redirect("pricing:stores")

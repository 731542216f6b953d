"""Figures that came with the house are examples until somebody in the studio confirms them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect

from pricing.models import Price, RateCard
from studio.access import requires
from studio.permissions import Permission
from studio.post_only import post_only

if TYPE_CHECKING:
    from studio.access import AccessRequest


@requires(Permission.SET_PRICES)
@post_only("pricing:stores")
def confirm_examples(request: AccessRequest) -> HttpResponse:
    """One price, the rates, or all of them become the studio's own."""
    access, asked = request.access, request.POST
    if pk := asked.get("price"):
        row = access.row(Price, pk=pk)
        access.rows(Price).filter(pk=row.pk).update(is_example=False)
        messages.success(request, f"{row.supply.name}: the price is yours now.")
        return redirect("pricing:stores")
    if asked.get("rates"):
        access.rows(RateCard).update(is_example=False)
        messages.success(request, "The rates are yours now.")
        return redirect("pricing:rates")
    if asked.get("all"):
        for model in (Price, RateCard):
            access.rows(model).update(is_example=False)
        messages.success(request, "The price book and the rates are yours now.")
    return redirect("pricing:stores")

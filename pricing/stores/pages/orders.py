"""Orders: as they go out, and what comes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.db.models import Sum
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate, now
from django.views.decorators.http import require_GET, require_http_methods

from pricing.models import PurchaseOrder
from pricing.stores.ordering import (
    CannotReceive,
    came_of_line,
    give_up_order,
    goods_total,
    order_lines,
    print_order,
    receive_order,
    send_order,
)
from studio.access import requires
from studio.downloads import pdf_to_read
from studio.once import form_key_of, once
from studio.permissions import Permission

if TYPE_CHECKING:
    from studio.access import AccessRequest


@requires(Permission.MANAGE_STOCK)
@require_GET
def orders_page(request: AccessRequest) -> HttpResponse:
    rows = (
        request.access.rows(PurchaseOrder).select_related("supplier").defer("pdf")
        .annotate(packs=Sum("lines__count")).order_by("-number")[:100]
    )  # fmt: skip
    return render(request, "pricing/stores/orders.html", {"orders": rows})


@requires(Permission.MANAGE_STOCK)
@require_http_methods(["GET", "POST"])
def order_page(request: AccessRequest, number: int) -> HttpResponse:
    row = request.access.row(PurchaseOrder, number=number)
    if request.method == "GET":
        return show_order(request, row)
    do = request.POST.get("do", "")
    if do == "send":
        send_order(request.access, row, at=now(), on=localdate())
        how = "is sent" if row.supplier.mail else "is closed for changes; print it"
        messages.success(request, f"Order {number:04d} {how}.")
    elif do == "give-up":
        give_up_order(request.access, row, at=now())
        messages.success(request, "What has not come is not waited for.")
    elif do == "drop" and row.sent_at is None:
        row.lines.all().delete()
        row.delete()
        return redirect("pricing:orders")
    elif do == "receive":
        return order_came(request, row)
    return redirect("pricing:order", number)


def order_came(request: AccessRequest, row: PurchaseOrder) -> HttpResponse:
    typed = {
        line.pk: request.POST.get(f"line-{line.pk}", "").strip()
        for line in order_lines(request.access, row)
    }
    wrong = [text for text in typed.values() if text and not (text.isdecimal() and len(text) < 7)]
    if wrong:
        return show_order(request, row, fault=f"Packs: expected whole numbers, got “{wrong[0]}”.")
    packs = {pk: int(text or 0) for pk, text in typed.items()}

    def make() -> str:
        many = receive_order(
            request.access, row, packs, on=localdate(), shelf=request.POST.get("shelf", "")[:40]
        )
        messages.success(request, f"{many} packs are on the shelves.")
        return reverse("pricing:order", args=[row.number])

    try:
        return redirect(once(request.access, form_key_of(request), make))
    except CannotReceive as reason:
        return show_order(request, row, fault=str(reason))


def show_order(request: AccessRequest, row: PurchaseOrder, fault: str = "") -> HttpResponse:
    lines = order_lines(request.access, row)
    waiting = [(line, came_of_line(line), line.count - came_of_line(line)) for line in lines]
    context = {
        "order": row,
        "lines": waiting,
        "goods": goods_total(lines),
        "total": goods_total(lines) + row.delivery,
        "waiting": row.given_up_at is None and any(left for _, _, left in waiting),
        "fault": fault,
    }
    return render(request, "pricing/stores/order.html", context, status=422 if fault else 200)


@requires(Permission.MANAGE_STOCK)
@require_GET
def order_pdf(request: AccessRequest, number: int) -> HttpResponse:
    row = request.access.row(PurchaseOrder, number=number)
    content = bytes(row.pdf) if row.pdf else print_order(request.access, row, on=localdate())
    if not content:
        raise Http404("No such paper.")
    return pdf_to_read(content, f"order-{number:04d}")

"""What lies on the shelves: figures, lots, a walk with the count sheet, single moves."""

from __future__ import annotations

import json
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.core.exceptions import BadRequest
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods

from pricing.core.names import supply_name
from pricing.models import StockMove
from pricing.stores.forms import MoveForm
from pricing.stores.quantities import plain_number
from pricing.stores.stock import (
    NotEnough,
    StockLot,
    StockMoved,
    count_stock,
    holdings,
    known_keys,
    put_in_stock,
    shift_stock,
    stock_lots,
    take_from_stock,
)
from studio.downloads import pdf_to_read
from studio.once import form_key_of, once
from studio.paper import render_paper
from studio.post_only import post_only

if TYPE_CHECKING:
    from studio.access import AccessRequest

Kind = StockMove.Kind
PAGE = 60  # moves shown


@require_GET
def stock_page(request: AccessRequest) -> HttpResponse:
    on, keeps = localdate(), request.access.studio.latex_days
    rows = stock_lots(request.access)
    context = shown_with(request, MoveForm()) | {
        "old": [lot for lot in rows if lot.is_old(on, keeps)],
        "moves": request.access.rows(StockMove).select_related("who").order_by("-pk")[:PAGE],
    }
    return render(request, "pricing/stores/stock.html", context)


def shown_with(request: AccessRequest, form: MoveForm) -> dict[str, Any]:
    """What there is, the form, and the names that it takes."""
    held = holdings(request.access)
    names = sorted({supply_name(key) for key in known_keys(request.access)})
    return {"holdings": held.values(), "form": form, "names": names}


@post_only("pricing:stock")
def stock_move(request: AccessRequest) -> HttpResponse:
    """One move by hand: something came, was used, spoiled, came back, or changed its shelf."""
    form = MoveForm(request.POST, known=known_keys(request.access))
    if form.is_valid():
        try:
            once(
                request.access, form_key_of(request), lambda: write_move(request, form.cleaned_data)
            )
            messages.success(request, "Written down.")
            return redirect("pricing:stock")
        except NotEnough as reason:
            form.add_error("quantity", str(reason))
    return render(request, "pricing/stores/stock.html", shown_with(request, form), status=422)


def write_move(request: AccessRequest, said: dict[str, Any]) -> str:
    access, key, many, kind = request.access, said["key"], said["quantity"], said["kind"]
    if kind in (Kind.BOUGHT, Kind.RETURNED):
        put_in_stock(
            access, key, many, kind=kind, on=localdate(), shelf=said["shelf"], why=said["why"]
        )
    elif kind == Kind.MOVED:
        shift_stock(access, key, many, source=said["shelf"], to=said["to"])
    else:
        take_from_stock(access, key, many, kind=kind, shelf=said["shelf"] or None, why=said["why"])
    return reverse("pricing:stock")


@require_http_methods(["GET", "POST"])
def count_sheet(request: AccessRequest) -> HttpResponse:
    """Shelf by shelf, what should lie there and a field for what does. Differences become moves."""
    rows = shelves(stock_lots(request.access))
    if request.method == "GET":
        return show_count_sheet(request, rows)
    shown = shown_counts(request)
    rows = with_emptied(rows, shown)
    counted, faults = read_counts(request, rows)
    if faults:
        return show_count_sheet(
            request, rows, shown=shown, faults=faults, typed=request.POST, status=422
        )

    def make() -> str:
        changed = count_stock(request.access, counted, on=localdate(), shown=shown)
        messages.success(request, f"Counted: {changed} put right by a move.")
        return reverse("pricing:stock")

    try:
        return redirect(once(request.access, form_key_of(request), make))
    except StockMoved as moved:
        return show_count_sheet(request, rows, moved=moved.lines, typed=request.POST, status=409)


type Shown = dict[tuple[str, str], Decimal]  # (key, shelf) → what the sheet said


def show_count_sheet(
    request: AccessRequest,
    rows: list[dict[str, Any]],
    *,
    shown: Shown | None = None,
    status: int = 200,
    **told: Any,
) -> HttpResponse:
    """The sheet with the figures it shows, so that they come back with the count."""
    figures = shown or {(row["key"], row["shelf"]): row["quantity"] for row in rows}
    written = json.dumps(
        [[key, shelf, plain_number(many)] for (key, shelf), many in figures.items()]
    )
    context = {"rows": rows, "shown": written, **told}
    return render(request, "pricing/stores/count.html", context, status=status)


def shown_counts(request: AccessRequest) -> Shown:
    """What the sheet said when it was opened. Raises BadRequest where it does not say."""
    try:
        lines = json.loads(request.POST.get("shown", ""))
        found = {(str(key), str(shelf)): Decimal(str(many)) for key, shelf, many in lines}
    except (ValueError, TypeError, InvalidOperation):
        raise BadRequest("shown: expected the figures of the sheet, got something else.") from None
    return found


def with_emptied(rows: list[dict[str, Any]], shown: Shown) -> list[dict[str, Any]]:
    """The lines as they stand now, and those of the sheet of which nothing lies there any more."""
    there = {(row["key"], row["shelf"]) for row in rows}
    gone = sorted(line for line in shown if line not in there)
    return rows + [{"shelf": shelf, "key": key, "quantity": Decimal(0)} for key, shelf in gone]


def shelves(rows: list[StockLot]) -> list[dict[str, Any]]:
    """Lots of one supply on one shelf as one line, in the order of the walk."""
    sums: dict[tuple[str, str], Decimal] = {}
    for lot in rows:
        sums[lot.shelf, lot.key] = sums.get((lot.shelf, lot.key), Decimal(0)) + lot.quantity
    return [
        {"shelf": shelf, "key": key, "quantity": many}
        for (shelf, key), many in sorted(sums.items())
    ]


def read_counts(
    request: AccessRequest, rows: list[dict[str, Any]]
) -> tuple[dict[tuple[str, str], Decimal], list[str]]:
    """Figures that were typed; an empty one was not counted. A line is known by what it said, not its place."""
    counted, faults = {}, []
    for row in rows:
        text = request.POST.get(f"{row['shelf']}|{row['key']}", "").strip().replace(",", ".")
        if not text:
            continue
        try:
            many = Decimal(text)
            if not 0 <= many < 10**6 or many != round(many, 3):
                raise InvalidOperation
            counted[row["key"], row["shelf"]] = many
        except InvalidOperation:
            faults.append(
                f"{row['key']} on {row['shelf'] or 'no shelf'}: expected a count of 0 or more, got “{text}”."
            )
    return counted, faults


@require_GET
def count_sheet_pdf(request: AccessRequest) -> HttpResponse:
    facts = {
        "studio": request.access.studio,
        "rows": shelves(stock_lots(request.access)),
        "on": localdate(),
    }
    html = render_to_string("papers/count.html", facts)
    content = render_paper(html, paper=request.access.studio.paper_size)
    return pdf_to_read(content, "count-sheet")

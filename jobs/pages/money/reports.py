"""Reports: what was won, booked, due and earned in a time; and the books, for the bookkeeper."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET

from jobs.money import bookkeeping
from jobs.money.bookkeeping import DEPOSITS, RECEIVABLE, Books
from jobs.money.charges import charge_tables
from jobs.money.earned import profit_tables
from jobs.money.journal import write_by_account, write_journal
from jobs.money.reports import ReportSpan, sold_tables
from jobs.money.tables import Cells, Table, TableColumn
from jobs.pages.money.report_form import SpanForm
from pricing.core.money import Money, add_up
from studio.access import requires
from studio.downloads import file_to_take
from studio.permissions import Permission

if TYPE_CHECKING:
    from studio.access import Access, AccessRequest

type Makes = Callable[[Access, ReportSpan, date], dict[str, Table]]


def book_tables(access: Access, span: ReportSpan, on: date) -> dict[str, Table]:
    return {
        "balances": balances_table(bookkeeping.books(access, since=span.since, until=span.until))
    }


TABLES: dict[str, Makes] = {
    **dict.fromkeys(("won", "lost", "booked", "ahead", "due"), sold_tables),
    **dict.fromkeys(("profit", "kinds", "kept"), profit_tables),
    "charged": charge_tables,
    "balances": book_tables,
}


@requires(Permission.SEE_REPORTS)
@require_GET
def reports_page(request: AccessRequest) -> HttpResponse:
    """All of it on one page; a time that cannot be read leaves the usual one standing.

    What jobs cost, and so what they left, is for those who see prices.
    """
    on, (form, span) = localdate(), asked_span(request)
    access = request.access
    books = bookkeeping.books(access, since=span.since, until=span.until)
    context = {
        "form": form,
        "span": span,
        "tables": {
            **sold_tables(access, span, on),
            **(profit_tables(access, span, on) if access.may(Permission.SEE_PRICES) else {}),
            **charge_tables(access, span, on),
        },
        "balances": balances_table(books),
        "books": books,
        "receivable": books.after(RECEIVABLE),
        "deposits": -books.after(DEPOSITS),
    }
    return render(request, "jobs/money/reports.html", context, status=422 if form.errors else 200)


@requires(Permission.SEE_REPORTS)
@require_GET
def report_csv(request: AccessRequest, which: str) -> HttpResponse:
    """One table of the page as CSV."""
    form, span = asked_span(request)
    if which not in TABLES or form.errors:
        raise Http404("No such sheet.")
    table = TABLES[which](request.access, span, localdate())[which]
    name = f"{which}-{span.since}-{span.until}.csv"
    return file_to_take(table.csv(), name, "text/csv; charset=utf-8")


@requires(Permission.SEE_REPORTS)
@require_GET
def journal_file(request: AccessRequest, kind: str) -> HttpResponse:
    """The books of a time: as a journal in plain text, or as CSV by account."""
    form, span = asked_span(request)
    if kind not in ("beancount", "csv") or form.errors:
        raise Http404("No such journal.")
    books = bookkeeping.books(request.access, since=span.since, until=span.until)
    name = f"journal-{span.since}-{span.until}.{kind}"
    if kind == "csv":
        return file_to_take(write_by_account(books), name, "text/csv; charset=utf-8")
    journal = write_journal(books, request.access.studio.name)
    return file_to_take(journal, name, "text/plain; charset=utf-8")


def asked_span(request: AccessRequest) -> tuple[SpanForm, ReportSpan]:
    """The time that the address asks for; where it asks for none, or for nothing readable, the last year."""
    usual = ReportSpan.year_to(localdate())
    form = SpanForm(request.GET or {"since": usual.since, "until": usual.until})
    return form, ReportSpan(**form.cleaned_data) if form.is_valid() else usual


def balances_table(books: Books) -> Table:
    """The trial balance: what each account came to, debits and credits apart."""
    rows = [
        (b.account.words, b.account.name, b.before, b.debit, -b.credit, b.after)
        for b in books.balances
    ]

    def total(at: int) -> Money:
        return add_up((row[at] for row in rows), books.currency)  # type: ignore[misc]

    foot: Cells = ("in all", "", *(total(at) for at in (2, 3, 4, 5)))
    return Table(
        name="balances", title="Trial balance", rows=tuple(rows), foot=foot,
        columns=(
            TableColumn(label="Account"), TableColumn(label="In the journal"),
            TableColumn(label="Before", kind="money"),
            TableColumn(label="Debit", kind="money"), TableColumn(label="Credit", kind="money"),
            TableColumn(label="After", kind="money"),
        ),
        empty="No invoice was issued and no payment written down until then.",
    )  # fmt: skip

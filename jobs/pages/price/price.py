"""The price of a job: what it costs, what stays, what the client pays."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_http_methods

from jobs.alternatives import keep_beside
from jobs.day.reserving import kit_trouble_of
from jobs.design.budget import meet_budget
from jobs.design.compose import compose
from jobs.design.document import Design
from jobs.design.labour import tally_labour
from jobs.design.needs import count_needs
from jobs.inputs import (
    chosen_row,
    design_of,
    examples_in,
    practice_of,
    quote_for,
    taxed_as,
    terms_of,
    worked_for,
)
from jobs.models import Job
from jobs.pages.common import job_of
from jobs.pages.fields import fit_amounts
from jobs.pages.price.price_form import AskTotalForm, BudgetForm, JobPriceForm
from jobs.pages.price.saving import save_terms
from jobs.pages.proposal.agreement import agreed_of
from jobs.proposal.agreed import Locked
from jobs.proposal.choices import options_of
from jobs.proposal.last_sold import contents_in, last_jobs, sold_for
from jobs.stages import S, move_to_stage_if_due
from pricing.book.price_book import NoRates, book_for
from pricing.core.asking import AskedTotal, ask_total
from pricing.core.crosscheck import FOOT, METRE, cross_check
from pricing.core.money import Money, write_money
from pricing.core.quote import BeyondPrice, Quote, Terms, make_quote
from studio.access import requires
from studio.amounts import decimal_mark
from studio.editing import Stale
from studio.permissions import Permission
from studio.post_only import post_only

if TYPE_CHECKING:
    from studio.access import AccessRequest


@requires(Permission.SELL)
@require_http_methods(["GET", "POST"])
def price_page(request: AccessRequest, number: int) -> HttpResponse:
    job = job_of(request, number)
    if request.method == "GET":
        return show_price(request, job, JobPriceForm(instance=job))
    form = JobPriceForm(request.POST, instance=job_of(request, number))
    if not form.is_valid():
        return show_price(request, job, form, status=422)
    now = quoted_job(request, form.instance)
    if fault := now.get("fault"):
        form.add_error("discount", fault)
        return show_price(request, job, form, status=422)
    do, (ask_form, asked) = request.POST.get("do"), asked_in(request, form.instance, now)
    if do in ("look", "ask"):
        return show_price(
            request, job, form, ask_form=ask_form, asked=asked, now=now, only="buildup"
        )
    if do in ("discount", "margin"):
        form = JobPriceForm(with_asked(request, do, asked), instance=job_of(request, number))
        if asked is None or not form.is_valid():
            return show_price(request, job, form, status=422, ask_form=ask_form)
    try:
        save_terms(request.access, job, form, request.POST.get("why", "").strip())
    except Stale as stale:
        return show_price(request, job, form, status=409, stale=stale)
    except Locked as locked:
        return show_price(request, job, form, status=422, locked=locked)
    if job.stage == S.ENQUIRY and quoted_job(request, form.instance)["quote"]:
        move_to_stage_if_due(request.access, job, S.PRICED)
    messages.success(request, "Price saved.")
    return redirect("jobs:price", number)


def show_price(
    request: AccessRequest, job: Job, form: JobPriceForm, *, status: int = 200, only: str = "page",
    locked: Locked | None = None, now: dict[str, Any] | None = None, **parts: Any,
) -> HttpResponse:  # fmt: skip
    """The page, or for htmx the part `only`; `now` is the quote where it is known, `parts` differ from fresh ones."""
    studio = request.access.studio
    context = {
        "job": job, "form": form,
        "budget_form": fit_amounts(BudgetForm(), studio), "ask_form": fit_amounts(AskTotalForm(), studio),
        **(now or quoted_job(request, job)), **agreed_of(request, job, locked), **parts,
    }  # fmt: skip
    template = f"jobs/price/price.html#{only}" if request.htmx else "jobs/price/price.html"
    return render(request, template, context, status=status)


def asked_in(
    request: AccessRequest, job: Job, now: dict[str, Any]
) -> tuple[AskTotalForm, AskedTotal | None]:
    """What was typed that the client pays, and what it leaves; None where nothing sound was typed."""
    form, worked = fit_amounts(AskTotalForm(request.POST), request.access.studio), now["worked"]
    wanted = form.cleaned_data["asked"] if form.is_valid() else None
    if wanted is None or not now["quote"]:
        return form, None
    takeoff = worked.takeoff
    book = taxed_as(job, book_for(request.access, localdate()))

    def price(terms: Terms) -> Quote:
        return make_quote(takeoff.needs, takeoff.labour, book, terms)

    return form, ask_total(Money(wanted, book.currency), price, terms_of(request.access, job))


def with_asked(request: AccessRequest, how: str, asked: AskedTotal | None) -> QueryDict:
    """The form as it was typed, with the discount or the margin that comes to what was asked."""
    again, mark = request.POST.copy(), decimal_mark(request.access.studio.language)
    if asked and how == "discount" and asked.discount is not None:
        again["discount"] = str(asked.discount.amount).replace(".", mark)
    if asked and how == "margin" and asked.margin_wanted is not None:
        again["margin_percent"] = str(asked.margin_wanted).replace(".", mark)
    return again


def quoted_job(request: AccessRequest, job: Job) -> dict[str, Any]:
    """The job's quote, or why there is none."""
    worked = worked_for(request.access, job)
    if worked is None:
        return {"quote": None, "worked": None}
    kit_trouble = kit_trouble_of(request.access, job, worked)
    try:
        book = book_for(request.access, localdate())
        quote = quote_for(request.access, job, worked, on=localdate(), book=book)
    except (NoRates, ValueError) as fault:
        return {"quote": None, "worked": worked, "fault": str(fault), "kit_trouble": kit_trouble}
    held = sold_for(quote.net.amount, contents_in(worked))
    length = FOOT if request.access.units == "imperial" else METRE
    checks = cross_check(held, last_jobs(request.access, job), quote.cost.currency, length)
    return {
        "quote": quote,
        "worked": worked,
        "checks": checks,
        "examples": examples_in(worked, book),
        "kit_trouble": kit_trouble,
    }


@requires(Permission.SELL)
@post_only("jobs:price", "number")
def budget_page(request: AccessRequest, number: int) -> HttpResponse:
    """What it would take to meet a budget; with `take` the cuts become an alternative of the job."""
    job = job_of(request, number)
    form = fit_amounts(BudgetForm(request.POST), request.access.studio)
    design = design_of(request.access, job)
    if design is None or not form.is_valid():
        return show_price(request, job, JobPriceForm(instance=job), status=422, budget_form=form)
    wanted, studio = form.cleaned_data["budget"], request.access.studio
    try:
        cuts = meet_budget(design, wanted, total_of(request, job))
    except (NoRates, BeyondPrice) as reason:
        form.add_error("budget", str(reason))
        return show_price(request, job, JobPriceForm(instance=job), status=422, budget_form=form)
    if request.POST.get("do") == "take" and cuts:
        name = f"for {write_money(Money(wanted, studio.currency), studio.language)}"
        row = chosen_row(request.access, job)
        options = options_of(row) if row else ()
        made = keep_beside(request.access, job, cuts[-1].design, name, options)
        messages.success(request, f"Alternative {made.letter} is made of it.")
        return redirect("jobs:alternatives", number)
    met = bool(cuts) and cuts[-1].total <= wanted
    return show_price(
        request, job, JobPriceForm(instance=job), budget_form=form, cuts=cuts, met=met
    )


def total_of(request: AccessRequest, job: Job) -> Callable[[Design], Decimal]:
    """What the client would pay for another design of this job."""
    book = taxed_as(job, book_for(request.access, localdate()))
    practice = practice_of(request.access)
    terms = terms_of(request.access, job)

    def total(design: Design) -> Decimal:
        composition = compose(design, practice)
        needs = count_needs(design, composition, practice)
        labour = tally_labour(design, composition, practice)
        return make_quote(needs, labour, book, terms).totals.total.amount

    return total

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
from jobs.day.reserving import trouble
from jobs.design.budget import meet
from jobs.design.compose import compose
from jobs.design.document import Design
from jobs.design.labour import tally_labour
from jobs.design.needs import count_needs
from jobs.forms.fields import fit_amounts
from jobs.forms.price import AskForm, BudgetForm, PriceForm
from jobs.gather import (
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
from jobs.proposal.agreed import Locked
from jobs.proposal.choices import options_of
from jobs.proposal.lastly import held_by, last_jobs
from jobs.stages import S, move_if_due
from jobs.terms import keep_terms
from jobs.views.agreed import agreed_of
from jobs.views.brief import the_job
from pricing.core.asking import Asked, ask
from pricing.core.crosscheck import FOOT, METRE, cross_check
from pricing.core.money import Money, write_money
from pricing.core.quote import BeyondPrice, Quote, Terms, make_quote
from pricing.shelf import NoRates, book_for
from studio.amounts import decimal_mark
from studio.door import prices_only
from studio.editing import Stale
from studio.presses import press_only

if TYPE_CHECKING:
    from studio.door import SeatedRequest


@prices_only
@require_http_methods(["GET", "POST"])
def price(request: SeatedRequest, number: int) -> HttpResponse:
    job = the_job(request, number)
    if request.method == "GET":
        return show(request, job, PriceForm(instance=job))
    form = PriceForm(request.POST, instance=the_job(request, number))
    if not form.is_valid():
        return show(request, job, form, status=422)
    now = quoted(request, form.instance)
    if fault := now.get("fault"):
        form.add_error("discount", fault)
        return show(request, job, form, status=422)
    do, (ask_form, asked) = request.POST.get("do"), asked_in(request, form.instance, now)
    if do in ("look", "ask"):
        return show(request, job, form, ask_form=ask_form, asked=asked, now=now, only="buildup")
    if do in ("discount", "margin"):
        form = PriceForm(with_asked(request, do, asked), instance=the_job(request, number))
        if asked is None or not form.is_valid():
            return show(request, job, form, status=422, ask_form=ask_form)
    try:
        keep_terms(request.seat, job, form, request.POST.get("why", "").strip())
    except Stale as stale:
        return show(request, job, form, status=409, stale=stale)
    except Locked as locked:
        return show(request, job, form, status=422, locked=locked)
    if job.stage == S.ENQUIRY and quoted(request, form.instance)["quote"]:
        move_if_due(request.seat, job, S.PRICED)
    messages.success(request, "Price saved.")
    return redirect("jobs:price", number)


def show(
    request: SeatedRequest, job: Job, form: PriceForm, *, status: int = 200, only: str = "page",
    locked: Locked | None = None, now: dict[str, Any] | None = None, **parts: Any,
) -> HttpResponse:  # fmt: skip
    """The page, or for htmx the part `only`; `now` is the quote where it is known, `parts` differ from fresh ones."""
    studio = request.seat.studio
    context = {
        "job": job, "form": form,
        "budget_form": fit_amounts(BudgetForm(), studio), "ask_form": fit_amounts(AskForm(), studio),
        **(now or quoted(request, job)), **agreed_of(request, job, locked), **parts,
    }  # fmt: skip
    template = f"jobs/price.html#{only}" if request.htmx else "jobs/price.html"
    return render(request, template, context, status=status)


def asked_in(request: SeatedRequest, job: Job, now: dict[str, Any]) -> tuple[AskForm, Asked | None]:
    """What was typed that the client pays, and what it leaves; None where nothing sound was typed."""
    form, worked = fit_amounts(AskForm(request.POST), request.seat.studio), now["worked"]
    wanted = form.cleaned_data["asked"] if form.is_valid() else None
    if wanted is None or not now["quote"]:
        return form, None
    takeoff = worked.takeoff
    book = taxed_as(job, book_for(request.seat, localdate()))

    def price(terms: Terms) -> Quote:
        return make_quote(takeoff.needs, takeoff.labour, book, terms)

    return form, ask(Money(wanted, book.currency), price, terms_of(request.seat, job))


def with_asked(request: SeatedRequest, how: str, asked: Asked | None) -> QueryDict:
    """The form as it was typed, with the discount or the margin that comes to what was asked."""
    again, mark = request.POST.copy(), decimal_mark(request.seat.studio.language)
    if asked and how == "discount" and asked.discount is not None:
        again["discount"] = str(asked.discount.amount).replace(".", mark)
    if asked and how == "margin" and asked.margin_wanted is not None:
        again["margin_percent"] = str(asked.margin_wanted).replace(".", mark)
    return again


def quoted(request: SeatedRequest, job: Job) -> dict[str, Any]:
    """The job's quote, or why there is none."""
    worked = worked_for(request.seat, job)
    if worked is None:
        return {"quote": None, "worked": None}
    kit_trouble = trouble(request.seat, job, worked)
    try:
        book = book_for(request.seat, localdate())
        quote = quote_for(request.seat, job, worked, on=localdate(), book=book)
    except (NoRates, ValueError) as fault:
        return {"quote": None, "worked": worked, "fault": str(fault), "kit_trouble": kit_trouble}
    held = held_by(worked, quote.net.amount)
    length = FOOT if request.seat.units == "imperial" else METRE
    checks = cross_check(held, last_jobs(request.seat, job), quote.cost.currency, length)
    return {
        "quote": quote,
        "worked": worked,
        "checks": checks,
        "examples": examples_in(worked, book),
        "kit_trouble": kit_trouble,
    }


@prices_only
@press_only("jobs:price", "number")
def budget(request: SeatedRequest, number: int) -> HttpResponse:
    """What it would take to meet a budget; with `take` the cuts become an alternative of the job."""
    job = the_job(request, number)
    form = fit_amounts(BudgetForm(request.POST), request.seat.studio)
    design = design_of(request.seat, job)
    if design is None or not form.is_valid():
        return show(request, job, PriceForm(instance=job), status=422, budget_form=form)
    wanted, studio = form.cleaned_data["budget"], request.seat.studio
    try:
        cuts = meet(design, wanted, total_of(request, job))
    except (NoRates, BeyondPrice) as reason:
        form.add_error("budget", str(reason))
        return show(request, job, PriceForm(instance=job), status=422, budget_form=form)
    if request.POST.get("do") == "take" and cuts:
        name = f"for {write_money(Money(wanted, studio.currency), studio.language)}"
        row = chosen_row(request.seat, job)
        options = options_of(row) if row else ()
        made = keep_beside(request.seat, job, cuts[-1].design, name, options)
        messages.success(request, f"Alternative {made.letter} is made of it.")
        return redirect("jobs:alternatives", number)
    met = bool(cuts) and cuts[-1].total <= wanted
    return show(request, job, PriceForm(instance=job), budget_form=form, cuts=cuts, met=met)


def total_of(request: SeatedRequest, job: Job) -> Callable[[Design], Decimal]:
    """What the client would pay for another design of this job."""
    book = taxed_as(job, book_for(request.seat, localdate()))
    practice = practice_of(request.seat)
    terms = terms_of(request.seat, job)

    def total(design: Design) -> Decimal:
        composition = compose(design, practice)
        needs = count_needs(design, composition, practice)
        labour = tally_labour(design, composition, practice)
        return make_quote(needs, labour, book, terms).totals.total.amount

    return total

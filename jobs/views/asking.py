"""Questions on a proposal: the client asks on their page, the studio answers on the Proposal tab."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from jobs.forms.asking import AnswerForm, AskForm
from jobs.models import Offer
from jobs.proposal import questions
from jobs.proposal.questions import TooMany, count_one
from jobs.views.brief import the_job
from jobs.views.client import by_link, facts, yes_form
from jobs.views.proposal import show, words_form
from studio.door import SeatAt, prices_only
from studio.once import once, press_of
from studio.presses import press_only
from studio.tokens import digest

if TYPE_CHECKING:
    from studio.door import SeatedRequest


@by_link
@press_only("jobs:offer-page", "token")
def ask(request: HttpRequest, seat: SeatAt, offer: Offer) -> HttpResponse:
    """The client asks; the same press asks once."""
    token = request.resolver_match.kwargs["token"]  # type: ignore[union-attr]
    form, press = AskForm(request.POST, name="ask"), press_of(request)
    at, status = reverse("jobs:offer-page", args=[token]), 422
    if form.is_valid():
        tab = request.build_absolute_uri(reverse("jobs:proposal", args=[offer.job.number]))
        page = at + "#questions"

        def make() -> str:
            count_one(digest(token))
            questions.ask(seat, offer, form.cleaned_data["text"], tab=tab)
            return "asked"

        try:
            once(seat, press, make)
        except TooMany as reason:
            form.add_error("text", str(reason))
            status = 429
        else:
            return redirect(page)
    context = {**facts(seat, offer, yes_form(seat, offer, at=at)), "asking": form}
    return render(request, "jobs/client.html", context, status=status)


@prices_only
@press_only("jobs:proposal", "number")
def answer(request: SeatedRequest, number: int, version: int) -> HttpResponse:
    """The studio answers on a version's thread."""
    job = the_job(request, number)
    offer = request.seat.row(Offer, job=job, version=version)
    form, press = AnswerForm(request.POST, name=f"answer{version}"), press_of(request)
    if not form.is_valid():
        return show(request, job, words_form(request, job), status=422, answering={version: form})

    def link_for(token: str) -> str:
        return request.build_absolute_uri(reverse("jobs:offer-page", args=[token]))

    def make() -> str:
        questions.answer(request.seat, offer, form.cleaned_data["text"], link_for=link_for)
        return reverse("jobs:proposal", args=[number]) + "#questions"

    leads_to = once(request.seat, press, make)
    messages.success(request, "Answered: it stands on the client’s page.")
    return redirect(leads_to)

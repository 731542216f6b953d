"""Questions on a proposal: the client asks on their page, the studio answers on the Proposal tab."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from jobs.models import Offer
from jobs.pages.common import job_of
from jobs.pages.proposal.client import by_link, yes_facts, yes_form
from jobs.pages.proposal.proposal import show_proposal, words_form
from jobs.pages.proposal.question_forms import AnswerForm, QuestionForm
from jobs.proposal import questions
from jobs.proposal.questions import TooManyQuestions, count_question
from studio.access import Access, requires
from studio.once import form_key_of, once
from studio.permissions import Permission
from studio.post_only import post_only
from studio.tokens import digest

if TYPE_CHECKING:
    from studio.access import AccessRequest


@by_link
@post_only("jobs:offer-page", "token")
def client_asks(request: HttpRequest, access: Access, offer: Offer) -> HttpResponse:
    """The client asks; the same press asks once."""
    token = request.resolver_match.kwargs["token"]  # type: ignore[union-attr]
    form, press = QuestionForm(request.POST, name="ask"), form_key_of(request)
    at, status = reverse("jobs:offer-page", args=[token]), 422
    if form.is_valid():
        tab = request.build_absolute_uri(reverse("jobs:proposal", args=[offer.job.number]))
        page = at + "#questions"

        def make() -> str:
            count_question(digest(token))
            questions.ask_question(access, offer, form.cleaned_data["text"], tab=tab)
            return "asked"

        try:
            once(access, press, make)
        except TooManyQuestions as reason:
            form.add_error("text", str(reason))
            status = 429
        else:
            return redirect(page)
    context = {**yes_facts(access, offer, yes_form(access, offer, at=at)), "asking": form}
    return render(request, "jobs/proposal/client.html", context, status=status)


@requires(Permission.SELL)
@post_only("jobs:proposal", "number")
def studio_answers(request: AccessRequest, number: int, version: int) -> HttpResponse:
    """The studio answers on a version's thread."""
    job = job_of(request, number)
    offer = request.access.row(Offer, job=job, version=version)
    form, press = AnswerForm(request.POST, name=f"answer{version}"), form_key_of(request)
    if not form.is_valid():
        return show_proposal(
            request, job, words_form(request, job), status=422, answering={version: form}
        )

    def link_for(token: str) -> str:
        return request.build_absolute_uri(reverse("jobs:offer-page", args=[token]))

    def make() -> str:
        questions.answer_question(
            request.access, offer, form.cleaned_data["text"], link_for=link_for
        )
        return reverse("jobs:proposal", args=[number]) + "#questions"

    leads_to = once(request.access, press, make)
    messages.success(request, "Answered: it stands on the client’s page.")
    return redirect(leads_to)

"""The proposal: words, a look at it, sending it; what was sent before."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate, now
from django.views.decorators.http import require_GET, require_http_methods

from jobs.day.reserving import kit_trouble_of
from jobs.inputs import chosen_row
from jobs.models import Acceptance, ClientLink, Job, JobDesign, Offer, Question, RoomPhoto
from jobs.models.offer import offer_number
from jobs.pages.common import job_of
from jobs.pages.proposal.question_forms import AnswerForm
from jobs.pages.proposal.words_form import WordsForm
from jobs.proposal.accepting import is_accepted
from jobs.proposal.choices import CannotOffer
from jobs.proposal.client_activity import ClientActivity, activity_of
from jobs.proposal.correcting import departure_of
from jobs.proposal.links import shown_again, withdraw_offer_link
from jobs.proposal.offering import Draft, draft_offer, first_words, send_offer
from jobs.proposal.questions import open_questions
from jobs.rows import offers_of
from jobs.stages import stages_by_hand
from pricing.book.price_book import NoRates
from studio.access import requires
from studio.downloads import pdf_to_read
from studio.once import form_key_of, once
from studio.permissions import Permission
from studio.post_only import post_only

if TYPE_CHECKING:
    from pricing.stores.kit_lacks import KitLack
    from studio.access import Access, AccessRequest


@requires(Permission.SELL)
@require_http_methods(["GET", "POST"])
def proposal_page(request: AccessRequest, number: int) -> HttpResponse:
    job = job_of(request, number)
    form = words_form(request, job, request.POST or None)
    if request.method == "GET" or not form.is_valid() or request.POST.get("do") == "look":
        return show_proposal(request, job, form, status=422 if form.errors else 200)
    words = form.words

    def link_for(token: str) -> str:
        return request.build_absolute_uri(reverse("jobs:offer-page", args=[token]))

    def make() -> str:
        send_offer(request.access, job, words, at=now(), link_for=link_for)
        return reverse("jobs:proposal", args=[number])

    try:
        leads_to = once(request.access, form_key_of(request), make)
    except (CannotOffer, NoRates) as reason:
        form.add_error(None, str(reason))
        return show_proposal(request, job, form, status=422)
    messages.success(request, "Proposal sent: its papers are kept as they are now.")
    return redirect(leads_to)


def words_form(request: AccessRequest, job: Job, data: QueryDict | None = None) -> WordsForm:
    return WordsForm(
        data,
        initial=first_words(request.access, job),
        others=other_alternatives(request, job),
        pictured=request.access.rows(RoomPhoto).filter(job=job, apart_m__isnull=False).exists(),
    )


def show_proposal(
    request: AccessRequest, job: Job, form: WordsForm, status: int = 200,
    answering: dict[int, AnswerForm] | None = None,
) -> HttpResponse:  # fmt: skip
    """The whole tab; `answering` are answers that were not sound, by version."""
    draft: Draft | None = None
    accepted = is_accepted(request.access, job)
    reason = ""
    try:
        draft = draft_offer(request.access, job, form.words, on=localdate())
    except (CannotOffer, NoRates, ValueError) as why:
        reason = str(why)
    context = {
        "job": job, "form": form, "draft": draft, "reason": reason, "sent": sent_offers(request, job),
        "moves": stages_by_hand(job.stage, accepted=accepted), "accepted": accepted,
        "chosen": chosen_row(request.access, job),
        "threads": question_threads(request, job, answering or {}), "departure": departure_of(request.access, job),
        "kit_trouble": proposal_trouble(request, job, draft),
    }  # fmt: skip
    part = "jobs/proposal/proposal.html#draft" if request.htmx else "jobs/proposal/proposal.html"
    return render(request, part, context, status=status)


def proposal_trouble(request: AccessRequest, job: Job, draft: Draft | None) -> list[KitLack]:
    """What would be wrong with the kit of everything that is about to be sent, each thing once."""
    each = [offered.ways[-1].worked for offered in draft.offered] if draft else []
    found = [lack for worked in each for lack in kit_trouble_of(request.access, job, worked)]
    return list(dict.fromkeys(found))


def other_alternatives(request: AccessRequest, job: Job) -> list[tuple[str, str]]:
    """Alternatives beside the chosen design, by letter."""
    rows = request.access.rows(JobDesign).filter(job=job, chosen=False).order_by("letter")
    return [(row.letter, f"{row.letter} {row.name}".strip()) for row in rows]


def sent_offers(request: AccessRequest, job: Job) -> list[tuple[Offer, str, ClientActivity]]:
    """Offers of a job, newest first, each with its link's address ("" when there is none to show)."""
    offers = (
        offers_of(request.access)
        .light()
        .filter(job=job)
        .select_related("acceptance", "job")
        .defer("acceptance__certificate")
        .prefetch_related("links", "questions")
        .order_by("-version")
    )
    links = request.access.rows(ClientLink).filter(offer__job=job, withdrawn_at=None)
    tokens = {link.offer_id: shown_again(link) for link in links}
    return [
        (
            offer,
            request.build_absolute_uri(reverse("jobs:offer-page", args=[token]))
            if (token := tokens.get(offer.pk))
            else "",
            activity_of(offer, on=localdate()),
        )
        for offer in offers
    ]


def question_threads(
    request: AccessRequest, job: Job, answering: dict[int, AnswerForm]
) -> list[tuple[Offer, list[Question], AnswerForm, int]]:
    """Questions and answers by version, the newest first, each with the form to answer."""
    rows = request.access.rows(Question).filter(offer__job=job).select_related("offer__job", "who")
    found: dict[Offer, list[Question]] = {}
    for entry in rows.defer("offer__pdf", "offer__article").order_by("-offer__version", "pk"):
        found.setdefault(entry.offer, []).append(entry)
    return [
        (offer, entries, answering.get(offer.version) or AnswerForm(name=f"answer{offer.version}"),
         open_questions(entries))
        for offer, entries in found.items()
    ]  # fmt: skip


@requires(Permission.SELL)
@post_only("jobs:proposal", "number")
def withdraw_link(request: AccessRequest, number: int, version: int) -> HttpResponse:
    offer = request.access.row(Offer, job__number=number, version=version)
    withdraw_offer_link(request.access, offer)
    messages.success(request, "The link is withdrawn.")
    return redirect("jobs:proposal", number)


@requires(Permission.SEE_MONEY)
@require_GET
def offer_pdf(request: AccessRequest, number: int, version: int) -> HttpResponse:
    papers = request.access.rows(Offer).only("pdf")
    offer = request.access.row(Offer, among=papers, job__number=number, version=version)
    return pdf_to_read(bytes(offer.pdf), f"proposal-{offer_number(number, version)}")


@requires(Permission.SEE_MONEY)
@require_GET
def certificate(request: AccessRequest, number: int, version: int) -> HttpResponse:
    return certificate_of(
        request.access, request.access.row(Offer, job__number=number, version=version)
    )


def certificate_of(access: Access, offer: Offer) -> HttpResponse:
    """The paper about a yes; Http404 where there is none."""
    yes = access.row(Acceptance, offer=offer)
    if not yes.certificate:
        raise Http404("This yes was given before certificates were made.")
    return pdf_to_read(bytes(yes.certificate), f"certificate-{offer.number}")

"""The proposal: words, a look at it, sending it; what was sent before."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate, now
from django.views.decorators.http import require_GET, require_http_methods

from jobs.day.reserving import trouble
from jobs.forms.asking import AnswerForm
from jobs.forms.client import WordsForm
from jobs.gather import chosen_row
from jobs.models import Acceptance, ClientLink, Job, JobDesign, Offer, Question, RoomPhoto
from jobs.proposal.accepting import is_accepted
from jobs.proposal.choices import CannotOffer
from jobs.proposal.correcting import departure_of
from jobs.proposal.links import shown_again, withdraw
from jobs.proposal.offering import Draft, draft_offer, first_words, send_offer
from jobs.proposal.questions import open_questions
from jobs.proposal.signs import Signs, signs_of
from jobs.stages import by_hand
from jobs.views.brief import the_job
from pricing.shelf import NoRates
from studio.door import prices_only
from studio.once import once, press_of
from studio.presses import press_only

if TYPE_CHECKING:
    from pricing.kit_lacks import Lack
    from studio.door import SeatAt, SeatedRequest


@prices_only
@require_http_methods(["GET", "POST"])
def proposal(request: SeatedRequest, number: int) -> HttpResponse:
    job = the_job(request, number)
    form = words_form(request, job, request.POST or None)
    if request.method == "GET" or not form.is_valid() or request.POST.get("do") == "look":
        return show(request, job, form, status=422 if form.errors else 200)
    words = form.words

    def link_for(token: str) -> str:
        return request.build_absolute_uri(reverse("jobs:offer-page", args=[token]))

    def make() -> str:
        send_offer(request.seat, job, words, at=now(), link_for=link_for)
        return reverse("jobs:proposal", args=[number])

    try:
        leads_to = once(request.seat, press_of(request), make)
    except (CannotOffer, NoRates) as reason:
        form.add_error(None, str(reason))
        return show(request, job, form, status=422)
    messages.success(request, "Proposal sent: its papers are kept as they are now.")
    return redirect(leads_to)


def words_form(request: SeatedRequest, job: Job, data: QueryDict | None = None) -> WordsForm:
    return WordsForm(
        data,
        initial=first_words(request.seat, job),
        others=others(request, job),
        pictured=request.seat.rows(RoomPhoto).filter(job=job, apart_m__isnull=False).exists(),
    )


def show(
    request: SeatedRequest, job: Job, form: WordsForm, status: int = 200,
    answering: dict[int, AnswerForm] | None = None,
) -> HttpResponse:  # fmt: skip
    """The whole tab; `answering` are answers that were not sound, by version."""
    draft: Draft | None = None
    accepted = is_accepted(request.seat, job)
    reason = ""
    try:
        draft = draft_offer(request.seat, job, form.words, on=localdate())
    except (CannotOffer, NoRates, ValueError) as why:
        reason = str(why)
    context = {
        "job": job, "form": form, "draft": draft, "reason": reason, "sent": sent(request, job),
        "moves": by_hand(job.stage, accepted=accepted), "accepted": accepted, "chosen": chosen_row(request.seat, job),
        "threads": threads(request, job, answering or {}), "departure": departure_of(request.seat, job),
        "kit_trouble": trouble_of(request, job, draft),
    }  # fmt: skip
    part = "jobs/proposal.html#draft" if request.htmx else "jobs/proposal.html"
    return render(request, part, context, status=status)


def trouble_of(request: SeatedRequest, job: Job, draft: Draft | None) -> list[Lack]:
    """What would be wrong with the kit of everything that is about to be sent, each thing once."""
    each = [offered.ways[-1].worked for offered in draft.offered] if draft else []
    found = [lack for worked in each for lack in trouble(request.seat, job, worked)]
    return list(dict.fromkeys(found))


def others(request: SeatedRequest, job: Job) -> list[tuple[str, str]]:
    """Alternatives beside the chosen design, by letter."""
    rows = request.seat.rows(JobDesign).filter(job=job, chosen=False).order_by("letter")
    return [(row.letter, f"{row.letter} {row.name}".strip()) for row in rows]


def sent(request: SeatedRequest, job: Job) -> list[tuple[Offer, str, Signs]]:
    """Offers of a job, newest first, each with its link's address ("" when there is none to show)."""
    offers = (
        request.seat.rows(Offer)
        .light()
        .filter(job=job)
        .select_related("acceptance")
        .defer("acceptance__certificate")
        .prefetch_related("links", "questions")
        .order_by("-version")
    )
    links = request.seat.rows(ClientLink).filter(offer__job=job, withdrawn_at=None)
    tokens = {link.offer_id: shown_again(link) for link in links}
    return [
        (
            offer,
            request.build_absolute_uri(reverse("jobs:offer-page", args=[token]))
            if (token := tokens.get(offer.pk))
            else "",
            signs_of(offer, on=localdate()),
        )
        for offer in offers
    ]


def threads(
    request: SeatedRequest, job: Job, answering: dict[int, AnswerForm]
) -> list[tuple[Offer, list[Question], AnswerForm, int]]:
    """Questions and answers by version, the newest first, each with the form to answer."""
    rows = request.seat.rows(Question).filter(offer__job=job).select_related("offer", "who")
    found: dict[Offer, list[Question]] = {}
    for entry in rows.defer("offer__pdf", "offer__article").order_by("-offer__version", "pk"):
        found.setdefault(entry.offer, []).append(entry)
    return [
        (offer, entries, answering.get(offer.version) or AnswerForm(name=f"answer{offer.version}"),
         open_questions(entries))
        for offer, entries in found.items()
    ]  # fmt: skip


@prices_only
@press_only("jobs:proposal", "number")
def withdraw_link(request: SeatedRequest, number: int, version: int) -> HttpResponse:
    offer = request.seat.row(Offer, job__number=number, version=version)
    withdraw(request.seat, offer)
    messages.success(request, "The link is withdrawn.")
    return redirect("jobs:proposal", number)


@prices_only
@require_GET
def offer_pdf(request: SeatedRequest, number: int, version: int) -> HttpResponse:
    papers = request.seat.rows(Offer).only("pdf")
    offer = request.seat.row(Offer, among=papers, job__number=number, version=version)
    return pdf(bytes(offer.pdf), f"proposal-{number:04d}-{version}")


@prices_only
@require_GET
def certificate(request: SeatedRequest, number: int, version: int) -> HttpResponse:
    return certificate_of(
        request.seat, request.seat.row(Offer, job__number=number, version=version)
    )


def certificate_of(seat: SeatAt, offer: Offer) -> HttpResponse:
    """The paper about a yes; Http404 where there is none."""
    yes = seat.row(Acceptance, offer=offer)
    if not yes.certificate:
        raise Http404("This yes was given before certificates were made.")
    return pdf(bytes(yes.certificate), f"certificate-{offer.job.number:04d}-{offer.version}")


def pdf(content: bytes, name: str) -> HttpResponse:
    return HttpResponse(
        content,
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'inline; filename="{name}.pdf"',
            "Cache-Control": "no-store",
        },
    )

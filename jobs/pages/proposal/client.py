"""The client's own pages: the proposal as it was sent, and their yes. No sign-in; the link is the key."""

from __future__ import annotations

import logging
from collections.abc import Callable
from functools import partial, wraps
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods

from jobs import cautions
from jobs.models import Acceptance, Job, Offer
from jobs.money.ledger import cancellation_of, standing_of
from jobs.pages.proposal.proposal import certificate_of
from jobs.pages.proposal.question_forms import QuestionForm
from jobs.pages.proposal.yes_form import YesForm
from jobs.proposal.accepting import CannotAccept, accept_offer, why_not_acceptable
from jobs.proposal.certificate import ClientYes
from jobs.proposal.choices import wording_of, written_total
from jobs.proposal.last_sold import is_moved
from jobs.proposal.links import link_followed, mark_opened
from jobs.proposal.questions import question_thread
from jobs.proposal.versions import news_since
from jobs.rows import jobs_of
from studio.access import Access
from studio.downloads import pdf_to_read

log = logging.getLogger(__name__)

# A stored paper goes out without the proposal round it being read: no article, no design, no figures.
PAPER = ("studio__timezone", "offer__version", "offer__pdf", "offer__job__number")


def by_link(
    view: Callable[..., HttpResponse], *, only: tuple[str, ...] = ()
) -> Callable[..., HttpResponse]:
    """A page whose address is its key: found by its token, in the studio's zone, never kept or indexed."""

    @login_not_required
    @never_cache
    @wraps(view)
    def page(request: HttpRequest, token: str) -> HttpResponse:
        access, offer = link_followed(token, only=only)
        with timezone.override(access.studio.timezone):
            response = view(request, access, offer)
        # Not "no-referrer": the browser would then send its yes from "null", which CSRF checks refuse.
        response["Referrer-Policy"] = "same-origin"
        response["X-Robots-Tag"] = "noindex, nofollow"
        return response

    return page


@by_link
@require_http_methods(["GET", "POST"])
def offer_page(request: HttpRequest, access: Access, offer: Offer) -> HttpResponse:
    """The proposal. A first POST shows what is about to be accepted; a second one accepts it."""
    if is_read(request, access):
        note_opened(access, offer, request.resolver_match.kwargs["token"])  # type: ignore[union-attr]
    form = yes_form(access, offer, request.POST or None, at=request.path)
    sound, do = form.is_valid(), request.POST.get("do", "")
    context = yes_facts(access, offer, form)
    if request.method == "GET" or context["accepted"]:
        return render(request, "jobs/proposal/client.html", context)
    if "HX-Request" in request.headers:  # a choice or a tick changed: what it comes to
        return render(request, "jobs/proposal/client.html#comes_to", context)
    if not sound or do == "back":
        return render(request, "jobs/proposal/client.html", context, status=200 if sound else 422)
    if do == "confirm":
        return say_yes(request, access, offer, form, context)
    key = form.cleaned_data["key"]
    context |= {"choice": offer.choice(key), "wording": wording_of(access, offer, key)}
    return render(request, "jobs/proposal/client_review.html", context)


def say_yes(
    request: HttpRequest, access: Access, offer: Offer, form: YesForm, context: dict[str, Any]
) -> HttpResponse:
    """Accept what was reviewed, or say kindly why not."""
    yes = ClientYes(
        name=form.cleaned_data["name"],
        wording=wording_of(access, offer, form.cleaned_data["key"]),
        address=request.META.get("REMOTE_ADDR") or None,
        agent=request.headers.get("User-Agent", ""),
        choice=form.cleaned_data["key"],
    )
    try:
        accept_offer(access, offer, yes, at=timezone.now())
    except CannotAccept as reason:
        return render(
            request, "jobs/proposal/client.html", {**context, "reason": str(reason)}, status=409
        )
    return redirect(request.path)


def note_opened(access: Access, offer: Offer, token: str) -> None:
    """A note for the studio, which must not keep the client from reading."""
    try:
        mark_opened(access, offer, token)
    except DatabaseError:
        log.warning("That a proposal was opened could not be written down.", exc_info=True)


def is_read(request: HttpRequest, access: Access) -> bool:
    """Whether somebody outside the studio looks: what scans mail asks for no page, or fetches it beforehand."""
    own = getattr(request, "access", None)
    return (
        request.META["REQUEST_METHOD"] == "GET"  # HEAD reads nothing
        and "text/html" in request.headers.get("Accept", "")
        and "prefetch" not in request.headers.get("Sec-Purpose", "")
        and not (own and own.studio.pk == access.studio.pk)
    )


def yes_form(access: Access, offer: Offer, data: QueryDict | None = None, *, at: str) -> YesForm:
    return YesForm(
        data,
        wording=wording_of(access, offer),
        totals=totals_of(access, offer),
        ways=offer.ways,
        at=at,
    )


@by_link
@require_GET
def client_certificate(request: HttpRequest, access: Access, offer: Offer) -> HttpResponse:
    return certificate_of(access, offer)


@partial(by_link, only=PAPER)
@require_GET
def offer_page_pdf(request: HttpRequest, access: Access, offer: Offer) -> HttpResponse:
    return pdf_to_read(bytes(offer.pdf), f"proposal-{offer.number}")


def totals_of(access: Access, offer: Offer) -> list[tuple[str, str]]:
    """The alternatives by letter, each in words with its total."""
    return [
        (way.letter, ", ".join(filter(None, [way.letter, way.name, written_total(access, way)])))
        for way in offer.alternatives
    ]


def yes_facts(access: Access, offer: Offer, form: YesForm) -> dict[str, Any]:
    accepted = access.rows(Acceptance).filter(offer=offer).first()
    return {
        "studio": access.studio,
        "offer": offer,
        "job": offer.job,
        "form": form,
        "accepted": accepted,
        "reason": "" if accepted else why_not_acceptable(access, offer, on=timezone.localdate()),
        "choking": cautions.choking(access.studio),
        "news": news_since(access, offer),
        "thread": question_thread(access, offer),
        "asking": QuestionForm(name="ask"),
        "choice": offer.choice(form.key),
        **(money_of(access, offer, accepted.choice) if accepted else {}),
    }


def money_of(access: Access, offer: Offer, choice: str) -> dict[str, Any]:
    """Where an accepted job stands today: what is due or goes back, what was credited, whether it was moved."""
    job = access.row(Job, among=jobs_of(access).with_money(), pk=offer.job_id)
    now = standing_of(job, on=timezone.localdate(), currency=access.studio.currency)
    agreed = offer.choice(choice).figures.total
    credited = agreed - now.total if now and now.total < agreed else agreed * 0
    off = cancellation_of(job)
    return {
        "standing": now, "off": off, "agreed": agreed, "credited": credited,
        "is_moved": not off and is_moved(offer),
    }  # fmt: skip

"""The client's own pages: the proposal as it was sent, and their yes. No sign-in; the link is the key."""

from __future__ import annotations

import logging
from collections.abc import Callable
from decimal import Decimal
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
from jobs.forms.asking import AskForm
from jobs.forms.client import YesForm
from jobs.models import Acceptance, Job, Offer
from jobs.money.ledger import called_off, standing_of
from jobs.proposal.accepting import CannotAccept, Yes, accept, why_not
from jobs.proposal.choices import letters_of
from jobs.proposal.lastly import is_moved
from jobs.proposal.links import follow, opened
from jobs.proposal.questions import thread
from jobs.proposal.versions import news
from jobs.views.proposal import certificate_of, pdf
from pricing.core.instalments import plan_from_data
from pricing.core.money import Money, write_money
from studio.door import SeatAt

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
        seat, offer = follow(token, only=only)
        with timezone.override(seat.studio.timezone):
            response = view(request, seat, offer)
        # Not "no-referrer": the browser would then send its yes from "null", which CSRF checks refuse.
        response["Referrer-Policy"] = "same-origin"
        response["X-Robots-Tag"] = "noindex, nofollow"
        return response

    return page


@by_link
@require_http_methods(["GET", "POST"])
def offer_page(request: HttpRequest, seat: SeatAt, offer: Offer) -> HttpResponse:
    """The proposal. A first POST shows what is about to be accepted; a second one accepts it."""
    if is_read(request, seat):
        note_opened(seat, offer, request.resolver_match.kwargs["token"])  # type: ignore[union-attr]
    form = yes_form(seat, offer, request.POST or None, at=request.path)
    sound, do = form.is_valid(), request.POST.get("do", "")
    context = facts(seat, offer, form)
    if request.method == "GET" or context["accepted"]:
        return render(request, "jobs/client.html", context)
    if "HX-Request" in request.headers:  # a choice or a tick changed: what it comes to
        return render(request, "jobs/client.html#comes_to", context)
    if not sound or do == "back":
        return render(request, "jobs/client.html", context, status=200 if sound else 422)
    if do == "confirm":
        return say_yes(request, seat, offer, form, context)
    key = form.cleaned_data["key"]
    context |= {**of_choice(offer, key), "wording": wording_of(seat, offer, key)}
    return render(request, "jobs/client_review.html", context)


def say_yes(
    request: HttpRequest, seat: SeatAt, offer: Offer, form: YesForm, context: dict[str, Any]
) -> HttpResponse:
    """Accept what was reviewed, or say kindly why not."""
    yes = Yes(
        name=form.cleaned_data["name"],
        wording=wording_of(seat, offer, form.cleaned_data["key"]),
        address=request.META.get("REMOTE_ADDR") or None,
        agent=request.headers.get("User-Agent", ""),
        choice=form.cleaned_data["key"],
    )
    try:
        accept(seat, offer, yes, at=timezone.now())
    except CannotAccept as reason:
        return render(request, "jobs/client.html", {**context, "reason": str(reason)}, status=409)
    return redirect(request.path)


def note_opened(seat: SeatAt, offer: Offer, token: str) -> None:
    """A note for the studio, which must not keep the client from reading."""
    try:
        opened(seat, offer, token)
    except DatabaseError:
        log.warning("That a proposal was opened could not be written down.", exc_info=True)


def is_read(request: HttpRequest, seat: SeatAt) -> bool:
    """Whether somebody outside the studio looks: what scans mail asks for no page, or fetches it beforehand."""
    own = getattr(request, "seat", None)
    return (
        request.META["REQUEST_METHOD"] == "GET"  # HEAD reads nothing
        and "text/html" in request.headers.get("Accept", "")
        and "prefetch" not in request.headers.get("Sec-Purpose", "")
        and not (own and own.studio.pk == seat.studio.pk)
    )


def yes_form(seat: SeatAt, offer: Offer, data: QueryDict | None = None, *, at: str) -> YesForm:
    return YesForm(
        data,
        wording=wording_of(seat, offer),
        choices=choices_of(seat, offer),
        frozen=offer.choices,
        at=at,
    )


@by_link
@require_GET
def certificate(request: HttpRequest, seat: SeatAt, offer: Offer) -> HttpResponse:
    return certificate_of(seat, offer)


@partial(by_link, only=PAPER)
@require_GET
def offer_page_pdf(request: HttpRequest, seat: SeatAt, offer: Offer) -> HttpResponse:
    return pdf(bytes(offer.pdf), f"proposal-{offer.job.number:04d}-{offer.version}")


def wording_of(seat: SeatAt, offer: Offer, letter: str = "") -> str:
    """What stands beside the tick; with the choice made, it is kept with the yes."""
    number = f"{offer.job.number:04d}-{offer.version}"
    if offer.choices and not letter:
        return (
            f"I accept proposal {number} with the choice made above, for its total, and its terms."
        )
    choice = offer.choice(letter)
    chosen = f", choice {letter[0]}," if len(letters_of(offer.choices)) > 1 else ""
    if choice.get("ticked"):
        chosen += " with " + " and ".join(f"“{name}”" for name in choice["ticked"])
    total = written_total(seat, choice)
    return f"I accept proposal {number}{chosen} for a total of {total}, and its terms."


def written_total(seat: SeatAt, choice: dict[str, Any]) -> str:
    figures = choice["figures"]
    return write_money(Money(Decimal(figures["total"]), figures["currency"]), seat.studio.language)


def choices_of(seat: SeatAt, offer: Offer) -> list[tuple[str, str]]:
    """What the client may choose between, each with its total; nothing where there is no choice."""
    return [
        (c["letter"], ", ".join(filter(None, [c["letter"], c["name"], written_total(seat, c)])))
        for c in letters_of(offer.choices)
    ]


def of_choice(offer: Offer, letter: str) -> dict[str, Any]:
    """Total and payments of what is being accepted."""
    choice = offer.choice(letter)
    plan = plan_from_data(choice["schedule"], choice["figures"]["currency"])
    return {"choice": choice, "plan": plan}


def facts(seat: SeatAt, offer: Offer, form: YesForm) -> dict[str, Any]:
    accepted = seat.rows(Acceptance).filter(offer=offer).first()
    return {
        "studio": seat.studio,
        "offer": offer,
        "job": offer.job,
        "form": form,
        "accepted": accepted,
        "reason": "" if accepted else why_not(seat, offer, on=timezone.localdate()),
        "choking": cautions.choking(seat.studio),
        "news": news(seat, offer),
        "thread": thread(seat, offer),
        "asking": AskForm(name="ask"),
        **of_choice(offer, form.key),
        **(money_of(seat, offer, accepted.choice) if accepted else {}),
    }


def money_of(seat: SeatAt, offer: Offer, choice: str) -> dict[str, Any]:
    """Where an accepted job stands today: what is due or goes back, what was credited, whether it was moved."""
    job = seat.row(Job, among=seat.rows(Job).with_money(), pk=offer.job_id)
    now = standing_of(job, on=timezone.localdate(), currency=seat.studio.currency)
    agreed = Money(Decimal(offer.choice(choice)["figures"]["total"]), seat.studio.currency)
    credited = agreed - now.total if now and now.total < agreed else agreed * 0
    off = called_off(job)
    return {
        "standing": now, "off": off, "agreed": agreed, "credited": credited,
        "is_moved": not off and is_moved(offer),
    }  # fmt: skip

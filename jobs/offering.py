"""A proposal: put together from the design and its price, looked at, sent, and kept as it was sent."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any

from django.db import transaction
from django.db.models import Max
from django.template.loader import render_to_string
from django.utils import timezone

from jobs import cautions
from jobs.briefs import note
from jobs.design.picture import draw
from jobs.design.working import Worked, work_out
from jobs.gather import placed, practice_of, quote_for
from jobs.included import Included, included
from jobs.lastly import held_data
from jobs.links import open_link
from jobs.models import Job, JobDesign, Offer, RoomPhoto
from jobs.photos import behind
from jobs.records import vouch_offer
from jobs.stages import S, move_if_due
from pricing.core.instalments import Due, plan_as_data, plan_instalments
from pricing.core.quote import ClientFigures, Quote, as_data, owner_data
from studio.mail import LINK, queue
from studio.models import Studio
from studio.paper import render_paper
from studio.tokens import PLACE

if TYPE_CHECKING:
    from studio.door import SeatAt


class CannotOffer(ValueError):
    """Why this job cannot be offered yet, as a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """What the studio says in its own words."""

    greeting: str
    note: str
    letters: tuple[str, ...] = ()  # alternatives offered beside the chosen design
    photo: bool = False  # the room's photo behind the pictures


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One alternative as the client may choose it."""

    letter: str
    name: str
    worked: Worked
    quote: Quote
    plan: tuple[Due, ...]
    pieces: tuple[Included, ...]
    picture: str

    @property
    def figures(self) -> ClientFigures:
        return self.quote.for_client()

    def as_data(self) -> dict[str, Any]:
        """What is frozen of it."""
        return {
            "letter": self.letter,
            "name": self.name,
            "figures": as_data(self.figures),
            "owner_figures": {**owner_data(self.quote), **held_data(self.worked)},
            "schedule": plan_as_data(self.plan),
            "design": self.worked.design.model_dump(mode="json"),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A proposal that is ready to send: the chosen design, and others beside it where the client may choose."""

    choices: tuple[Choice, ...]
    number: str
    version: int
    stands_until: date
    article: str

    @property
    def first(self) -> Choice:
        return self.choices[0]


def draft_offer(seat: SeatAt, job: Job, words: Words, *, on: date) -> Draft:
    """Put a proposal together. Raises CannotOffer with the reason."""
    if job.stage not in (S.ENQUIRY, S.PRICED, S.OFFERED):
        raise CannotOffer(f"A job that is {job.get_stage_display()} is not offered again.")
    rows = offered_rows(seat, job, words.letters)
    photo = seat.rows(RoomPhoto).filter(job=job).first() if words.photo else None
    choices = tuple(choice_of(seat, job, row, on=on, under=behind(photo)) for row in rows)
    last = seat.rows(Offer).filter(job=job).aggregate(last=Max("version"))["last"] or 0
    studio = seat.studio
    facts: dict[str, Any] = {
        "studio": studio, "job": job, "words": words, "number": f"{job.number:04d}-{last + 1}",
        "choices": choices, "first": choices[0], "sent_on": on,
        "stands_until": on + timedelta(days=studio.offer_days),
        "choking": cautions.CHOKING, "cautions": cautions.for_client(outdoors=job.venue.outdoors),
    }  # fmt: skip
    return Draft(
        choices=choices, number=facts["number"], version=last + 1,
        stands_until=facts["stands_until"], article=render_to_string("jobs/article.html", facts),
    )  # fmt: skip


def offered_rows(seat: SeatAt, job: Job, letters: tuple[str, ...]) -> list[JobDesign]:
    """The chosen design, then the others that were ticked. Raises CannotOffer when there is none."""
    rows = list(seat.rows(JobDesign).filter(job=job).order_by("-chosen", "letter"))
    if not rows:
        raise CannotOffer("Nothing is designed yet.")
    return [row for row in rows if row.chosen or row.letter in letters]


def choice_of(seat: SeatAt, job: Job, row: JobDesign, *, on: date, under: str = "") -> Choice:
    """One alternative priced and pictured. Raises CannotOffer for one that cannot be built or priced."""
    worked = work_out(placed(row.document, job), units=seat.units, practice=practice_of(seat))
    named = f"Alternative {row.letter}: " if not row.chosen else ""
    stops = [f.sentence for f in worked.takeoff.findings if f.weight == "stop"]
    if stops:
        raise CannotOffer(f"{named}The design does not fit: " + " ".join(stops))
    quote = quote_for(seat, job, worked, on=on)
    if not quote.is_complete:
        raise CannotOffer(
            f"{named}The price book has no price for: " + ", ".join(quote.unpriced) + "."
        )
    figures, studio = quote.for_client(), seat.studio
    event_on = timezone.localtime(job.event_start).date()
    plan = plan_instalments(
        figures.total, figures.deposit, offered_on=on, event_on=max(event_on, on),
        deposit_days=studio.deposit_days, balance_days=studio.balance_days,
    )  # fmt: skip
    return Choice(
        letter=row.letter, name=row.name, worked=worked, quote=quote, plan=plan,
        pieces=included(worked, seat.units),
        picture=draw(worked, units=seat.units, prefix=f"offer{row.letter}", under=under),
    )  # fmt: skip


def print_offer(studio: Studio, article: str, number: str) -> bytes:
    """The proposal as a PDF on the studio's paper."""
    html = render_to_string(
        "papers/proposal.html", {"article": article, "studio": studio, "number": number}
    )
    return render_paper(html, paper=studio.paper)  # type: ignore[arg-type]


@transaction.atomic
def send_offer(
    seat: SeatAt, job: Job, words: Words, *, at: datetime, link_for: Callable[[str], str]
) -> Offer:
    """Freeze the proposal, open a link, queue the letter. Raises CannotOffer.

    `link_for` makes a full address of a token. Figures, article and PDF are kept and never made again.
    """
    Studio.objects.select_for_update().get(pk=seat.studio.pk)  # versions count without gaps
    draft = draft_offer(seat, job, words, on=timezone.localtime(at).date())
    first = draft.first.as_data()
    pdf = print_offer(seat.studio, draft.article, draft.number)
    offer = seat.add(
        Offer,
        job=job,
        version=draft.version,
        article=draft.article,
        design=first["design"],
        figures=first["figures"],
        owner_figures=first["owner_figures"],
        schedule=first["schedule"],
        choices=[c.as_data() for c in draft.choices] if len(draft.choices) > 1 else [],
        pdf=pdf,
        pdf_sha256=hashlib.sha256(pdf).hexdigest(),
        stands_until=draft.stands_until,
        sent_at=at,
        sent_by=seat.person,
    )
    link = open_link(seat, offer)
    if job.client.mail:
        queue(
            seat, kind="offer", about=f"offer:{offer.pk}", to=job.client.mail,
            subject=f"{seat.studio.name}: proposal {draft.number}".replace("\n", " "),
            body=letter(job, words, draft.stands_until, seat.studio), link=(link_for(PLACE), link.salt),
        )  # fmt: skip
    note(seat, job, f"Proposal {draft.number} sent", vouch_offer(offer))
    move_if_due(seat, job, S.OFFERED)
    return offer


def letter(job: Job, words: Words, until: date, studio: Studio) -> str:
    return (
        f"{words.greeting}\n\nOur proposal for {job.title} is here, with a picture and the price:\n"
        f"{LINK}\n\nIt stands until {until:%d %B %Y}. You can say yes on that page.\n\n{studio.name}\n"
    )


def newest(seat: SeatAt, job: Job) -> Offer | None:
    return seat.rows(Offer).filter(job=job).order_by("-version").first()

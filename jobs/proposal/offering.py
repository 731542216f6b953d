"""A proposal: put together from the design and its price, looked at, sent, and kept as it was sent."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import permutations
from typing import TYPE_CHECKING, Any

from babel.dates import format_date
from django.db import transaction
from django.db.models import Max
from django.template.loader import render_to_string
from django.utils import timezone

from jobs import cautions
from jobs.design.options import always_in
from jobs.design.reading import design_from
from jobs.design.wording import listed
from jobs.inputs import worked_for
from jobs.log import write_log
from jobs.models import Acceptance, Job, JobDesign, Offer, RoomPhoto
from jobs.models.offer import offer_number
from jobs.photos import behind
from jobs.proposal.agreed import job_terms
from jobs.proposal.choices import CannotOffer, Offered, PricedChoice, offered_of, options_of
from jobs.proposal.frozen import event_data, terms_data
from jobs.proposal.last_sold import event_of
from jobs.proposal.links import open_link
from jobs.records import vouch_offer
from jobs.stages import S, move_to_stage_if_due
from studio.mail import LINK, queue_mail
from studio.models import Studio
from studio.paper import render_paper
from studio.tokens import PLACE
from studio.words import filled

if TYPE_CHECKING:
    from studio.access import Access

STANDS = (
    "The client said yes to proposal {number}, and that yes stands: another version could not be accepted. "
    "If the event will not be, call the job off; if less is wanted, credit its invoice; for more, make a new job."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """What the studio says in its own words."""

    greeting: str
    note: str
    letters: tuple[str, ...] = ()  # alternatives offered beside the chosen design
    photo: bool = False  # the room's photo behind the pictures


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A proposal that is ready to send: the chosen design, and others beside it where the client may choose."""

    offered: tuple[Offered, ...]
    number: str
    version: int
    stands_until: date
    article: str
    uneven: tuple[
        str, ...
    ] = ()  # what the studio should know before it sends alternatives side by side

    @property
    def choices(self) -> tuple[PricedChoice, ...]:
        """Every way of every alternative."""
        return tuple(choice for offered in self.offered for choice in offered.ways)


def draft_offer(access: Access, job: Job, words: Words, *, on: date) -> Draft:
    """Put a proposal together. Raises CannotOffer with the reason."""
    accepted = (
        access.rows(Acceptance).filter(offer__job=job).values_list("offer__version", flat=True)
    )
    if version := accepted.first():
        raise CannotOffer(STANDS.format(number=offer_number(job.number, version)))
    if job.stage not in (S.ENQUIRY, S.PRICED, S.OFFERED):
        raise CannotOffer(f"A job that is {job.get_stage_display()} is not offered again.")
    rows = offered_rows(access, job, words.letters)
    photo = access.rows(RoomPhoto).filter(job=job).first() if words.photo else None
    offered = tuple(offered_of(access, job, row, on=on, under=behind(photo)) for row in rows)
    last = access.rows(Offer).filter(job=job).aggregate(last=Max("version"))["last"] or 0
    studio = access.studio
    facts: dict[str, Any] = {
        "studio": studio, "job": job, "words": words, "number": offer_number(job.number, last + 1),
        "offered": offered, "first": offered[0], "sent_on": on,
        "stands_until": stands_until(access, job, on),
        "choking": cautions.choking(studio),
        "cautions": cautions.for_client(outdoors=job.venue.outdoors, units=access.units),
    }  # fmt: skip
    return Draft(
        offered=offered, number=facts["number"], version=last + 1,
        stands_until=facts["stands_until"], article=render_to_string("jobs/proposal/article.html", facts),
        uneven=uneven_options(rows),
    )  # fmt: skip


def stands_until(access: Access, job: Job, on: date) -> date:
    """The last day for a yes: as many days as the studio gives, and never after an event that is to come."""
    usual, event = (
        on + timedelta(days=access.studio.offer_days),
        access.studio.day_of(job.event_start),
    )
    return min(usual, event) if event >= on else usual


def offered_rows(access: Access, job: Job, letters: tuple[str, ...]) -> list[JobDesign]:
    """The chosen design, then the others that were ticked. Raises CannotOffer when there is none."""
    rows = list(access.rows(JobDesign).filter(job=job).order_by("-chosen", "letter"))
    if not rows:
        raise CannotOffer("Nothing is designed yet.")
    return [row for row in rows if row.chosen or row.letter in letters]


def uneven_options(rows: Sequence[JobDesign]) -> tuple[str, ...]:
    """Where the client may leave of one alternative what another always has, as sentences."""
    told = []
    for one, other in permutations(rows, 2):
        names = always_in(options_of(one), design_from(other.document), options_of(other))
        if names:
            told.append(
                f"{listed([f'“{name}”' for name in names])} can be left out of {one.letter} but "
                f"{'is' if len(names) == 1 else 'are'} always in {other.letter}: without extras their totals "
                "are not of the same things."
            )
    return tuple(told)


def first_words(access: Access, job: Job) -> dict[str, str]:
    """Greeting and note as the studio has them for every proposal, with this job's facts filled in."""
    greeting = access.studio.offer_greeting or "Dear {client},"
    wants = greeting + access.studio.offer_note
    worked = worked_for(access, job) if "{pieces}" in wants or "{balloons}" in wants else None
    start = access.studio.day_of(job.event_start)
    language = access.studio.language.replace("-", "_")
    facts = {
        "client": job.client.name, "event": job.title, "venue": job.venue.name,
        "day": format_date(start, format="long", locale=language),
        "pieces": listed([piece.name for piece in worked.design.pieces]) if worked else "",
        "balloons": str(worked.takeoff.ball_count) if worked else "",
    }  # fmt: skip
    return {"greeting": filled(greeting, facts), "note": filled(access.studio.offer_note, facts)}


def print_offer(studio: Studio, article: str, number: str) -> bytes:
    """The proposal as a PDF on the studio's paper."""
    html = render_to_string(
        "papers/proposal.html", {"article": article, "studio": studio, "number": number}
    )
    return render_paper(html, paper=studio.paper_size)


@transaction.atomic
def send_offer(
    access: Access, job: Job, words: Words, *, at: datetime, link_for: Callable[[str], str]
) -> Offer:
    """Freeze the proposal, open a link, queue the letter. Raises CannotOffer.

    `link_for` makes a full address of a token. Figures, article and PDF are kept and never made again.
    """
    access.lock_studio()  # versions count without gaps
    with timezone.override(access.studio.timezone):  # times on the article are those of its clocks
        draft = draft_offer(access, job, words, on=access.studio.day_of(at))
    first = draft.choices[0].as_data()
    pdf = print_offer(access.studio, draft.article, draft.number)
    offer = access.add(
        Offer,
        job=job,
        version=draft.version,
        article=draft.article,
        design=first["design"],
        figures=first["figures"],
        owner_figures={
            **first["owner_figures"],
            "event": event_data(event_of(job)),
            "terms": terms_data(job_terms(job)),
        },
        schedule=first["schedule"],
        choices=[c.as_data() for c in draft.choices] if len(draft.choices) > 1 else [],
        pdf=pdf,
        pdf_sha256=hashlib.sha256(pdf).hexdigest(),
        stands_until=draft.stands_until,
        sent_at=at,
        sent_by=access.person,
    )
    link = open_link(access, offer)
    if job.client.mail:
        queue_mail(
            access, kind="offer", once_key=f"offer:{offer.pk}", to=job.client.mail,
            subject=f"{access.studio.name}: proposal {draft.number}",
            body=offer_mail(job, words, draft.stands_until, access.studio), link=(link_for(PLACE), link.salt),
        )  # fmt: skip
    write_log(access, job, f"Proposal {draft.number} sent", vouch_offer(offer))
    move_to_stage_if_due(access, job, S.OFFERED)
    return offer


def offer_mail(job: Job, words: Words, until: date, studio: Studio) -> str:
    day = format_date(until, "long", locale=studio.language.replace("-", "_"))
    return (
        f"{words.greeting}\n\nOur proposal for {job.title} is here, with a picture and the price:\n"
        f"{LINK}\n\nIt stands until {day}. You can say yes on that page.\n\n{studio.name}\n"
    )

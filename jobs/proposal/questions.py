"""What the client asks on the page of a proposal, and what the studio answers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import timedelta
from typing import TYPE_CHECKING

from django.db import transaction

from jobs.log import write_log
from jobs.models import Offer, Question
from jobs.proposal.links import live_link
from studio.mail import LINK, queue_mail
from studio.tokens import PLACE
from studio.tries import is_one_too_many

if TYPE_CHECKING:
    from studio.access import Access

MOST, WINDOW = (
    10,
    timedelta(hours=1),
)  # questions of one link within an hour: a person's pace, and no flood


class TooManyQuestions(ValueError):
    """A link that asks faster than people do."""


def count_question(link: str) -> None:
    """Count a question of a link (any name of it that is not its token). Raises TooMany."""
    if is_one_too_many("asked", link, most=MOST, window=WINDOW):
        raise TooManyQuestions("That was a lot at once. Please wait an hour, write to us, or call.")


def open_questions(entries: Sequence[Question]) -> int:
    """How many of a thread's last entries, oldest first, are the client's: those wait for an answer."""
    many = 0
    for entry in reversed(entries):
        if entry.who_id is not None:
            break
        many += 1
    return many


def question_thread(access: Access, offer: Offer) -> list[Question]:
    return list(access.rows(Question).filter(offer=offer).select_related("who").order_by("pk"))


@transaction.atomic
def ask_question(access: Access, offer: Offer, text: str, *, tab: str) -> Question:
    """The client asks; the studio gets a letter. `tab` is the full address of the job's Proposal tab."""
    question = access.add(Question, offer=offer, text=text)
    number = offer.number
    write_log(access, offer.job, f"Proposal {number}: the client asked a question")
    if access.studio.mail:
        queue_mail(
            access, kind="question", once_key=f"question:{question.pk}", to=access.studio.mail,
            subject=f"A question on proposal {number}",
            body=f"{offer.job.client.name} asks about {offer.job.title}:\n\n{text}\n\nAnswer it here:\n{tab}\n",
        )  # fmt: skip
    return question


@transaction.atomic
def answer_question(
    access: Access, offer: Offer, text: str, *, link_for: Callable[[str], str]
) -> Question:
    """The studio answers; the client gets a letter. `link_for` makes a full address of a token."""
    entry = access.add(Question, offer=offer, text=text, who=access.person)
    number, studio, client = offer.number, access.studio, offer.job.client
    write_log(access, offer.job, f"Proposal {number}: question answered")
    link = live_link(access, offer)
    if client.mail:
        there = f"\n\nIt stands on the page of the proposal too:\n{LINK}" if link else ""
        queue_mail(
            access, kind="answer", once_key=f"question:{entry.pk}", to=client.mail,
            subject=f"{studio.name}: an answer on proposal {number}",
            body=f"You asked about {offer.job.title}. Our answer:\n\n{text}{there}\n\n{studio.name}\n",
            link=(link_for(PLACE), link.salt) if link else ("", ""),
        )  # fmt: skip
    return entry

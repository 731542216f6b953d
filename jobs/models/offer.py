"""What the client is sent, and the yes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django.db import models

from jobs.design.document import Design
from jobs.design.reading import design_from
from jobs.models.brief import Job
from jobs.models.querysets import LightOffers
from jobs.proposal.frozen import (
    Contents,
    JobTerms,
    OfferedChoice,
    OfferedEvent,
    choice_from,
    contents_from,
    event_from,
    only_choice,
    terms_from,
)
from pricing.core.quote_data import Costing, costing_from
from studio.append_only import AppendOnly
from studio.models import Person, StudioRow
from studio.permissions import Permission


def offer_number(job: int, version: int) -> str:
    """The number of a proposal as it is written.

    >>> offer_number(7, 2)
    '0007-2'
    """
    return f"{job:04d}-{version}"


class Offer(AppendOnly, StudioRow):
    """A proposal version that was sent: kept as it was, never computed again.

    Its JSON is read here alone, each column by itself since lists leave out the large ones (`LightOffers`), and
    into the values of `jobs/proposal/frozen.py`.
    """

    permission = Permission.SEE_MONEY

    job = models.ForeignKey(Job, models.PROTECT, related_name="offers")
    version = models.PositiveIntegerField()
    article = models.TextField()  # the proposal as HTML, exactly as the client sees it
    design: models.JSONField[Any, Any] = models.JSONField()  # the whole document, room included
    figures: models.JSONField[Any, Any] = models.JSONField()  # what the client sees
    owner_figures: models.JSONField[Any, Any] = (
        models.JSONField()
    )  # cost and margin, for the studio only
    schedule: models.JSONField[Any, Any] = models.JSONField()  # [{what, on, amount}]
    # Where the client has a choice: [{letter, name, figures, owner_figures, schedule, design}], the first as above.
    choices: models.JSONField[Any, Any] = models.JSONField(default=list)
    pdf = models.BinaryField()
    pdf_sha256 = models.CharField(max_length=64)
    stands_until = models.DateField()
    sent_at = models.DateTimeField()
    sent_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")

    objects = LightOffers.as_manager()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["job", "version"], name="offer_version_once")
        ]

    @property
    def number(self) -> str:
        return offer_number(self.job.number, self.version)

    @property
    def leaves_choice(self) -> bool:
        return bool(self.choices)

    @property
    def ways(self) -> tuple[OfferedChoice, ...]:
        """Every way to have it, what stands first in it first."""
        return tuple(choice_from(stored) for stored in self.choices) or (self.choice(""),)

    @property
    def alternatives(self) -> tuple[OfferedChoice, ...]:
        """Each without extras."""
        return tuple(way for way in self.ways if not way.ticked)

    def choice(self, letter: str) -> OfferedChoice:
        """One way to have it. KeyError for a letter that it does not have; "" or "A" where it leaves no choice."""
        stored = self._stored(letter)
        return choice_from(stored) if stored else only_choice(self.figures, self.schedule)

    def costing_of(self, letter: str) -> Costing:
        return costing_from(self._owner_figures(letter), self.figures["currency"])

    def contents_of(self, letter: str) -> Contents | None:
        """What that way holds; None where it was not kept."""
        return contents_from(self._owner_figures(letter))

    def design_of(self, letter: str) -> Design:
        stored = self._stored(letter)
        return design_from(stored["design"] if stored else self.design)

    @property
    def event(self) -> OfferedEvent | None:
        """When and where as it says; None where it was not kept."""
        return event_from(self.owner_figures)

    @property
    def terms(self) -> JobTerms | None:
        """The job's terms when it was sent; None where they were not kept."""
        return terms_from(self.owner_figures)

    def _owner_figures(self, letter: str) -> Mapping[str, Any]:
        stored = self._stored(letter)
        owner: Mapping[str, Any] = stored["owner_figures"] if stored else self.owner_figures
        return owner

    def _stored(self, letter: str) -> Mapping[str, Any] | None:
        """A choice as it is stored; None where the offer leaves none and is its only way. KeyError otherwise."""
        if not self.choices and letter in ("", "A"):
            return None
        by_letter: dict[str, dict[str, Any]] = {choice["letter"]: choice for choice in self.choices}
        return by_letter[letter]


class ClientLink(StudioRow):
    """A client's way in. The token itself is not kept: only its hash, and a salt to derive it anew."""

    permission = Permission.SEE_MONEY

    offer = models.ForeignKey(Offer, models.PROTECT, related_name="links")
    salt = models.CharField(max_length=44)
    token_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(auto_now_add=True)
    withdrawn_at = models.DateTimeField(null=True)
    opened_at = models.DateTimeField(null=True)  # first, by anybody who does not sit in the studio


class Acceptance(AppendOnly, StudioRow):
    """The client's yes."""

    offer = models.OneToOneField(Offer, models.PROTECT, related_name="acceptance")
    name = models.CharField(max_length=120)
    at = models.DateTimeField()
    address = models.GenericIPAddressField(null=True)
    agent = models.CharField(max_length=300, blank=True)
    pdf_sha256 = models.CharField(max_length=64)  # of the version that was accepted
    wording = models.TextField()  # what stood beside the tick
    choice = models.CharField(max_length=12, blank=True)  # which, where there was a choice
    certificate = models.BinaryField(null=True)  # a PDF that says all this
    certificate_sha256 = models.CharField(max_length=64, blank=True)

    @property
    def agreed(self) -> OfferedChoice:
        """What the client said yes to."""
        return self.offer.choice(self.choice)

    @property
    def costing(self) -> Costing:
        return self.offer.costing_of(self.choice)

    @property
    def design(self) -> Design:
        """As it was frozen."""
        return self.offer.design_of(self.choice)


class Question(AppendOnly, StudioRow):
    """Something the client asked on the page of an offer, or the studio's answer."""

    permission = Permission.SEE_MONEY

    offer = models.ForeignKey(Offer, models.PROTECT, related_name="questions")
    text = models.TextField(max_length=2000)
    at = models.DateTimeField(auto_now_add=True)
    who = models.ForeignKey(
        Person, models.PROTECT, null=True, related_name="+"
    )  # nobody: the client

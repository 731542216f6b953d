"""What the client is sent, and the yes."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models

from jobs.models.brief import Job
from jobs.rows import LightOffers
from studio.append_only import AppendOnly
from studio.models import Person, StudioRow
from studio.permissions import Permission


class Offer(AppendOnly, StudioRow):
    """A proposal version that was sent: kept as it was, never computed again."""

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

    def choice(self, letter: str) -> dict[str, Any]:
        """Figures and schedule of one choice; of the offer itself where it leaves none. KeyError otherwise."""
        if not self.choices and letter in ("", "A"):
            return {"letter": "", "name": "", "figures": self.figures, "schedule": self.schedule}
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


class Question(AppendOnly, StudioRow):
    """Something the client asked on the page of an offer, or the studio's answer."""

    permission = Permission.SEE_MONEY

    offer = models.ForeignKey(Offer, models.PROTECT, related_name="questions")
    text = models.TextField(max_length=2000)
    at = models.DateTimeField(auto_now_add=True)
    who = models.ForeignKey(
        Person, models.PROTECT, null=True, related_name="+"
    )  # nobody: the client

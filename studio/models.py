"""The business itself: its facts, its people, what they pressed, and the letters it sends."""

from __future__ import annotations

import uuid
from datetime import date, datetime
from decimal import Decimal
from typing import ClassVar, Literal
from zoneinfo import ZoneInfo

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone

from studio.permissions import OWNER, Permission, role_choices


def reminder_days() -> list[int]:
    """A week ahead, two days late, ten days late (common practice, no source)."""
    return [-7, 2, 10]


def call_off_scale() -> list[list[str]]:
    """Days before the event, percent kept (common practice, no source)."""
    return [["60", "25"], ["30", "50"], ["14", "75"], ["0", "100"]]


class Studio(models.Model):
    """One décor business. Every other row belongs to one of these."""

    class Units(models.TextChoices):
        IMPERIAL = "imperial", "feet and inches"
        METRIC = "metric", "metres"

    class Paper(models.TextChoices):
        A4 = "A4", "A4"
        LETTER = "letter", "US Letter"

    name = models.CharField(max_length=120)
    address = models.TextField(max_length=500, blank=True)
    mail = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    currency = models.CharField(max_length=3, default="USD")  # ISO 4217
    language = models.CharField(
        max_length=16, default="en-GB"
    )  # BCP 47: how money and dates are written
    timezone = models.CharField(max_length=64, default="UTC")  # IANA name
    units = models.CharField(max_length=8, choices=Units, default=Units.METRIC)
    paper = models.CharField(max_length=6, choices=Paper, default=Paper.A4)
    tax_number = models.CharField(max_length=40, blank=True)
    terms = models.TextField(blank=True)
    iban = models.CharField("IBAN", max_length=34, blank=True)
    bic = models.CharField("BIC", max_length=11, blank=True)
    bank_details = models.TextField(blank=True)  # where there is no IBAN
    country = models.CharField(max_length=2, blank=True)  # ISO 3166-1; see `country_of`
    logo = models.BinaryField(null=True, editable=False)  # a PNG, made anew from what was uploaded
    offer_greeting = models.TextField(max_length=1000, blank=True)
    offer_note = models.TextField(max_length=2000, blank=True)
    # Days from the due date on which a client is reminded: before it below zero.
    reminders: models.JSONField[list[int], list[int]] = models.JSONField(default=reminder_days)
    # Called off so many days before or earlier, the studio keeps so many percent of the total.
    call_off_scale: models.JSONField[list[list[str]], list[list[str]]] = models.JSONField(
        default=call_off_scale
    )
    # Payments between deposit and balance: [percent of the total, days before the event].
    stages: models.JSONField[list[list[str]], list[list[str]]] = models.JSONField(default=list)
    deposit_percent = models.DecimalField(
        max_digits=5,
        decimal_places=2,
        default=Decimal(30),
        validators=[MinValueValidator(0), MaxValueValidator(100)],
    )
    deposit_days = models.PositiveSmallIntegerField(default=7)  # after the yes
    balance_days = models.PositiveSmallIntegerField(default=14)  # before the event
    offer_days = models.PositiveSmallIntegerField(default=21)  # an offer stands this long
    late_kit_days = models.PositiveSmallIntegerField(default=7)  # late kit stops only jobs so near
    latex_days = models.PositiveSmallIntegerField(default=365)  # older balloons are told about
    version = models.PositiveIntegerField(default=1)

    def __str__(self) -> str:
        return self.name

    def day_of(self, at: datetime) -> date:
        """The day that the studio's own calendar shows at a moment, wherever the machine stands."""
        return timezone.localtime(at, ZoneInfo(self.timezone)).date()

    @property
    def paper_size(self) -> Literal["A4", "letter"]:
        return "letter" if self.paper == self.Paper.LETTER else "A4"

    def today(self) -> date:
        """The studio's own day: what is sent, priced and stocked now is of this day."""
        return self.day_of(timezone.now())


class People(BaseUserManager["Person"]):
    def create_user(self, mail: str, password: str | None = None, **facts: object) -> Person:
        person = self.model(mail=self.normalize_email(mail).lower(), **facts)
        person.set_password(password)
        person.save(using=self._db)
        return person

    def get_by_natural_key(self, username: str | None) -> Person:
        return self.get(mail__iexact=username)


class Person(AbstractBaseUser):
    """Somebody who signs in, by e-mail address."""

    mail = models.EmailField("e-mail", unique=True)
    name = models.CharField(max_length=120)
    is_active = models.BooleanField(default=True)

    USERNAME_FIELD = "mail"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]
    objects: ClassVar[People] = People()

    def __str__(self) -> str:
        return self.name or self.mail


class Membership(models.Model):
    """A person's place in a studio."""

    studio = models.ForeignKey(Studio, models.PROTECT, related_name="memberships")
    person = models.ForeignKey(Person, models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=20, choices=role_choices, default=OWNER)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["studio", "person"], name="one_membership_each")
        ]


class Tries(models.Model):
    """How often something was tried since the first time, by a name that tells nobody what (studio/tries.py)."""

    name = models.CharField(max_length=64, unique=True)
    count = models.PositiveIntegerField(default=0)
    since = models.DateTimeField(db_index=True)


class StudioRow(models.Model):
    """A row of one studio. `permission` is what a role must have to reach such rows at all."""

    permission: ClassVar[Permission | None] = None
    studio = models.ForeignKey(Studio, models.PROTECT, related_name="+", editable=False)

    class Meta:
        abstract = True


class SubmittedForm(StudioRow):
    """A form that was sent once: its key, and where its answer leads."""

    key = models.UUIDField(default=uuid.uuid4)
    leads_to = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["studio", "key"], name="submitted_once")
        ]


class OutgoingMail(StudioRow):
    """A mail waiting to go or gone: one row for each kind, object, version and recipient."""

    permission = Permission.SEE_STUDIO

    class State(models.TextChoices):
        WAITING = "waiting"
        CLAIMED = "claimed"
        SENT = "sent"
        UNKNOWN = (
            "unknown"  # the worker died, or the line broke, before the server's answer was known
        )
        REFUSED = "refused"  # the server will not have it, or it was tried often enough

    kind = models.CharField(max_length=40)
    # Names what a mail is for, as "offer:12", so that it is written once. It is compared, never read: no row is found
    # by it.
    once_key = models.CharField(max_length=80)
    to = models.EmailField()
    subject = models.CharField(max_length=200)
    body = models.TextField()
    # An address with a token in it is put in at the moment of sending: no row ever holds the token.
    link_shape = models.CharField(max_length=300, blank=True)
    link_salt = models.CharField(max_length=44, blank=True)
    stop_link = models.CharField(max_length=300, blank=True)  # one press ends letters of this kind
    attachment_name = models.CharField(max_length=80, blank=True)
    attachment = models.BinaryField(null=True)  # a PDF
    message_id = models.CharField(max_length=120, unique=True)
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    claimed_at = models.DateTimeField(null=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    try_after = models.DateTimeField(null=True)
    sent_at = models.DateTimeField(null=True)
    queued_at = models.DateTimeField(auto_now_add=True)
    error = models.TextField(blank=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["studio", "kind", "once_key", "to"], name="letter_once")
        ]

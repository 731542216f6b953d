"""Rows of the day's work: who asked, where, when, what was designed, offered, accepted and paid."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import F, Q

from jobs.design.document import Room
from jobs.design.practice import LOSS_RATES, MINUTES, Practice
from jobs.loading import Van
from jobs.rows import DueJobs, LightOffers
from studio.append_only import AppendOnly
from studio.models import Belonging, Person


class Client(Belonging):
    """Who asks and pays."""

    name = models.CharField(max_length=120)
    mail = models.EmailField("e-mail", blank=True)
    phone = models.CharField(max_length=20, blank=True)  # E.164
    version = models.PositiveIntegerField(default=1)

    def __str__(self) -> str:
        return self.name


class Venue(Belonging):
    """Where it stands. Lengths in metres; empty when nobody has measured yet."""

    name = models.CharField(max_length=120)
    address = models.TextField(max_length=500, blank=True)
    outdoors = models.BooleanField(default=False)
    ceiling_m = models.FloatField(null=True, blank=True)
    door_width_m = models.FloatField(null=True, blank=True)
    door_height_m = models.FloatField(null=True, blank=True)
    floor = models.CharField(max_length=120, blank=True)
    access = models.TextField(max_length=1000, blank=True)
    warmest_c = models.FloatField(null=True, blank=True)  # while it stands
    altitude_m = models.FloatField(null=True, blank=True)  # above sea level
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=(Q(ceiling_m__isnull=True) | Q(ceiling_m__gt=0))
                & (Q(door_width_m__isnull=True) | Q(door_width_m__gt=0))
                & (Q(door_height_m__isnull=True) | Q(door_height_m__gt=0)),
                name="venue_lengths_positive",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def room(self) -> Room:
        """The venue as the design core sees it."""
        return Room(
            ceiling_m=self.ceiling_m,
            outdoors=self.outdoors,
            door_width_m=self.door_width_m,
            door_height_m=self.door_height_m,
            floor=self.floor,
            warmest_c=self.warmest_c,
            altitude_m=self.altitude_m,
        )


class Hands(Belonging):
    """What this studio's own hands know; what is empty stands as the house's common practice has it."""

    squeeze = models.FloatField(null=True, blank=True)
    loss_professional = models.FloatField(null=True, blank=True)
    loss_party = models.FloatField(null=True, blank=True)
    run_out = models.FloatField(null=True, blank=True)
    workshop_c = models.FloatField(null=True, blank=True)
    workshop_altitude_m = models.FloatField(null=True, blank=True)
    pump_litres_s = models.FloatField(null=True, blank=True)
    learning = models.FloatField(null=True, blank=True)
    steady_after = models.PositiveSmallIntegerField(null=True, blank=True)
    allowance = models.FloatField(null=True, blank=True)
    ballast_kg = models.FloatField(null=True, blank=True)
    roll_m = models.FloatField(null=True, blank=True)
    van_long_m = models.FloatField(null=True, blank=True)
    van_wide_m = models.FloatField(null=True, blank=True)
    van_high_m = models.FloatField(null=True, blank=True)
    minutes = models.JSONField(
        default=dict, blank=True
    )  # by operation; what is missing is common practice
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["studio"], name="hands_once"),
            models.CheckConstraint(
                condition=(Q(squeeze__isnull=True) | Q(squeeze__gte=0.4) & Q(squeeze__lte=1.2)),
                name="hands_squeeze_real",
            ),
        ]

    def van(self) -> Van:
        """The studio's van, or a common small one where it has not been measured."""
        sides = {"long_m": self.van_long_m, "wide_m": self.van_wide_m, "high_m": self.van_high_m}
        return Van(**{name: side for name, side in sides.items() if side is not None})

    def practice(self) -> Practice:
        """As the design core sees it."""
        named = ("squeeze", "run_out", "workshop_c", "workshop_altitude_m", "pump_litres_s", "learning",
                 "steady_after", "allowance", "ballast_kg", "roll_m")  # fmt: skip
        said = {name: getattr(self, name) for name in named if getattr(self, name) is not None}
        lost = {"professional": self.loss_professional, "party": self.loss_party}
        return Practice(
            **said,
            loss_rates={**LOSS_RATES, **{k: v for k, v in lost.items() if v is not None}},
            minutes={**MINUTES, **{k: v for k, v in self.minutes.items() if k in MINUTES}},
        )


class Job(Belonging):
    """One celebration, from the first question to the empty van."""

    class Stage(models.TextChoices):
        ENQUIRY = "enquiry", "enquiry"
        PRICED = "priced", "priced"
        OFFERED = "offered", "offered"
        BOOKED = "booked", "booked"
        READY = "ready", "ready"
        UP = "up", "up"
        DOWN = "down", "down"
        CLOSED = "closed", "closed"
        LAPSED = "lapsed", "lapsed"
        DECLINED = "declined", "declined"
        CALLED_OFF = "called_off", "called off"

    class Latex(models.TextChoices):
        NOT_ASKED = "not_asked", "not asked yet"
        NONE = "none", "nobody known"
        KNOWN = "known", "somebody is allergic"

    number = models.PositiveIntegerField()
    client = models.ForeignKey(Client, models.PROTECT, related_name="jobs")
    venue = models.ForeignKey(Venue, models.PROTECT, related_name="jobs")
    title = models.CharField(max_length=120)
    event_start = models.DateTimeField()
    event_end = models.DateTimeField()
    access_from = models.DateTimeField(null=True, blank=True)
    clear_by = models.DateTimeField(null=True, blank=True)
    latex = models.CharField(max_length=10, choices=Latex, default=Latex.NOT_ASKED)
    notes = models.TextField(max_length=2000, blank=True)
    stage = models.CharField(max_length=10, choices=Stage, default=Stage.ENQUIRY)
    travel_km = models.DecimalField(max_digits=7, decimal_places=1, default=0)  # one way
    trips = models.PositiveSmallIntegerField(default=2)  # there and back: set-up, take-down
    margin_percent = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    discount = models.DecimalField(max_digits=10, decimal_places=3, default=0)
    extra_label = models.CharField(max_length=80, blank=True)
    extra_cost = models.DecimalField(max_digits=10, decimal_places=3, default=0)
    tolls = models.DecimalField(max_digits=10, decimal_places=3, default=0)
    venue_cost = models.DecimalField(max_digits=10, decimal_places=3, default=0)
    strike_fee = models.DecimalField(max_digits=10, decimal_places=3, default=0)
    odd_hours = models.BooleanField(default=False)
    rush = models.BooleanField(default=False)
    made_at = models.DateTimeField(auto_now_add=True)
    version = models.PositiveIntegerField(default=1)

    objects = DueJobs.as_manager()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["studio", "number"], name="job_number_once"),
            models.CheckConstraint(
                condition=Q(event_end__gte=F("event_start")), name="event_ends_after_start"
            ),
            models.CheckConstraint(
                condition=Q(margin_percent__isnull=True)
                | (Q(margin_percent__gte=0) & Q(margin_percent__lt=100)),
                name="margin_below_hundred",
            ),
            models.CheckConstraint(
                condition=Q(discount__gte=0) & Q(extra_cost__gte=0) & Q(travel_km__gte=0),
                name="job_terms_not_negative",
            ),
        ]
        indexes: ClassVar = [models.Index(fields=["studio", "event_start", "id"])]

    def __str__(self) -> str:
        return f"{self.number:04d} {self.title}"


class JobDesign(Belonging):
    """A design document of a job, without the room: that comes from the venue.

    A job has alternatives by letter; the chosen one is priced, offered and built.
    """

    job = models.ForeignKey(Job, models.PROTECT, related_name="designs")
    letter = models.CharField(max_length=1, default="A")
    name = models.CharField(max_length=60, blank=True)
    chosen = models.BooleanField(default=True)
    document: models.JSONField[Any, Any] = models.JSONField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["job", "letter"], name="design_letter_once"),
            models.UniqueConstraint(
                fields=["job"], condition=Q(chosen=True), name="design_chosen_once"
            ),
        ]


class KeptPiece(Belonging):
    """A piece that the studio begins from again: its document, and what it truly took."""

    name = models.CharField(max_length=60)
    document: models.JSONField[Any, Any] = models.JSONField()  # a design of one piece
    true_minutes = models.PositiveIntegerField(
        null=True, blank=True
    )  # of the last job that built it
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["studio", "name"], name="kept_piece_name_once")
        ]


class Shade(Belonging):
    """A colour that the studio works with."""

    name = models.CharField(max_length=60)
    hex = models.CharField(max_length=7)
    finish = models.CharField(max_length=10, default="matt")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["studio", "name"], name="shade_name_once")
        ]


class RoomPhoto(Belonging):
    """A photograph of the venue as a job's picture stands before it, and how large it is."""

    job = models.OneToOneField(Job, models.PROTECT, related_name="photo")
    jpeg = models.BinaryField()
    wide_px = models.PositiveIntegerField()
    high_px = models.PositiveIntegerField()
    # Two points on it (pixels from the left and the top) and how far apart they truly are; then where the
    # middle of the wall meets the floor.
    first_x = models.FloatField(null=True)
    first_y = models.FloatField(null=True)
    second_x = models.FloatField(null=True)
    second_y = models.FloatField(null=True)
    apart_m = models.FloatField(null=True)
    foot_x = models.FloatField(null=True)
    foot_y = models.FloatField(null=True)


class Offer(AppendOnly, Belonging):
    """A proposal version that was sent: kept as it was, never computed again."""

    closed_to_crew = True

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
        return {choice["letter"]: choice for choice in self.choices}[letter]


class PackTick(Belonging):
    """Something of a job lies packed, in a box or loose."""

    job = models.ForeignKey(Job, models.PROTECT, related_name="ticks")
    key = models.CharField(max_length=200)
    at = models.DateTimeField(auto_now_add=True)
    who = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints: ClassVar = [models.UniqueConstraint(fields=["job", "key"], name="packed_once")]


class ClientLink(Belonging):
    """A client's way in. The token itself is not kept: only its hash, and a salt to derive it anew."""

    closed_to_crew = True

    offer = models.ForeignKey(Offer, models.PROTECT, related_name="links")
    salt = models.CharField(max_length=44)
    token_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(auto_now_add=True)
    withdrawn_at = models.DateTimeField(null=True)


class Acceptance(AppendOnly, Belonging):
    """The client's yes."""

    offer = models.OneToOneField(Offer, models.PROTECT, related_name="acceptance")
    name = models.CharField(max_length=120)
    at = models.DateTimeField()
    address = models.GenericIPAddressField(null=True)
    agent = models.CharField(max_length=300, blank=True)
    pdf_sha256 = models.CharField(max_length=64)  # of the version that was accepted
    wording = models.TextField()  # what stood beside the tick
    choice = models.CharField(
        max_length=1, blank=True
    )  # the alternative's letter, where there was a choice


class Payment(AppendOnly, Belonging):
    """Money that came or went back. A mistake is put right by another entry."""

    closed_to_crew = True

    class How(models.TextChoices):
        TRANSFER = "transfer", "bank transfer"
        CASH = "cash", "cash"
        CARD = "card", "card, on the studio's own terminal"
        CHEQUE = "cheque", "cheque"
        OTHER = "other", "other"

    job = models.ForeignKey(Job, models.PROTECT, related_name="payments")
    on = models.DateField()
    amount = models.DecimalField(
        max_digits=12, decimal_places=3
    )  # negative: given back or put right
    how = models.CharField(max_length=8, choices=How, default=How.TRANSFER)
    reference = models.CharField(max_length=80, blank=True)
    entered_at = models.DateTimeField(auto_now_add=True)
    entered_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(condition=~Q(amount=0), name="payment_not_nothing")
        ]


class Happening(AppendOnly, Belonging):
    """One line of a job's log, sealed into a chain."""

    job = models.ForeignKey(Job, models.PROTECT, related_name="happenings")
    at = models.DateTimeField()
    who = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    what = models.CharField(max_length=300)
    data: models.JSONField[Any, Any] = models.JSONField(default=dict)  # what is vouched for
    # Each line seals the one before it (jobs/records.py); lines from before the seals have none.
    before = models.CharField(max_length=64, blank=True)
    sha256 = models.CharField(max_length=64, blank=True)

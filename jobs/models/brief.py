"""Who asks, where it stands, and the job itself."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from jobs.design.document import Room
from jobs.job_stage import Stage
from jobs.models.querysets import DueJobs
from pricing.models import Holder
from studio.models import StudioRow


class Client(StudioRow):
    """Who asks and pays."""

    name = models.CharField(max_length=120)
    mail = models.EmailField("e-mail", blank=True)
    phone = models.CharField(max_length=20, blank=True)  # E.164
    address = models.TextField(max_length=500, blank=True)  # stands on invoices
    country = models.CharField(max_length=2, blank=True)  # ISO 3166-1; empty: the studio's
    tax_number = models.CharField(max_length=40, blank=True)
    reminders_stopped_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    def __str__(self) -> str:
        return self.name


class Venue(StudioRow):
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


class Job(StudioRow):
    """One celebration, from the first question to the empty van."""

    Stage = Stage

    class Latex(models.TextChoices):
        NOT_ASKED = "not_asked", "not asked yet"
        NONE = "none", "nobody known"
        KNOWN = "known", "somebody is allergic"

    class Tax(models.TextChoices):
        USUAL = "usual", "as usual"
        REVERSE = "reverse", "reverse charge: the client accounts for it"
        EXEMPT = "exempt", "exempt"

    class Lost(models.TextChoices):
        PRICE = "price", "the price"
        DATE = "date", "the date was taken"
        OTHER_STUDIO = "other_studio", "another studio"
        PLANS = "plans", "plans changed"
        SILENCE = "silence", "no answer"
        OURS = "ours", "we said no"

    number = models.PositiveIntegerField()
    client = models.ForeignKey(Client, models.PROTECT, related_name="jobs")
    venue = models.ForeignKey(Venue, models.PROTECT, related_name="jobs")
    title = models.CharField(max_length=120)
    # What stock and kit are held for in the stores; made when the job first holds something (jobs/day/reserving.py).
    holder = models.OneToOneField(
        Holder, models.PROTECT, null=True, editable=False, related_name="job"
    )
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
    crew = models.PositiveSmallIntegerField(default=1)  # people who go
    # Of the balloons that can travel built, how many the workshop builds; None: as the house finds best.
    built_percent = models.PositiveSmallIntegerField(null=True, blank=True)
    tax_treatment = models.CharField(max_length=8, choices=Tax, default=Tax.USUAL)
    tax_reason = models.CharField(max_length=200, blank=True)  # why exempt, as the law words it
    # The last day on which supplies and kit are held without a deposit; None: not held, or booked.
    held_until = models.DateField(null=True, blank=True)
    closed_owing = models.BooleanField(
        default=False
    )  # money was still to be paid when it was closed
    lost_why = models.CharField(max_length=12, choices=Lost, blank=True)
    lost_words = models.CharField(max_length=200, blank=True)
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

"""The day: what lies packed, and what happened."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from jobs.models.brief import Job
from studio.append_only import AppendOnly
from studio.models import Person, StudioRow
from studio.permissions import Permission


class PackTick(StudioRow):
    """Something of a job lies packed, in a box or loose."""

    job = models.ForeignKey(Job, models.PROTECT, related_name="ticks")
    key = models.CharField(max_length=200)
    at = models.DateTimeField(auto_now_add=True)
    who = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints: ClassVar = [models.UniqueConstraint(fields=["job", "key"], name="packed_once")]


class LogEntry(AppendOnly, StudioRow):
    """One line of a job's log, sealed into a chain."""

    job = models.ForeignKey(Job, models.PROTECT, related_name="log_entries")
    at = models.DateTimeField()
    who = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    what = models.CharField(max_length=300)
    data: models.JSONField[Any, Any] = models.JSONField(default=dict)  # what is vouched for
    # Each line seals the one before it (jobs/records.py); lines from before the seals have none.
    before = models.CharField(max_length=64, blank=True)
    sha256 = models.CharField(max_length=64, blank=True)


class Cancellation(AppendOnly, StudioRow):
    """An event that was called off after the yes: what the studio keeps by its scale, and what goes back."""

    permission = Permission.SEE_MONEY

    job = models.OneToOneField(Job, models.PROTECT, related_name="cancellation")
    on = models.DateField()
    days_before = models.IntegerField()
    kept_percent = models.DecimalField(max_digits=5, decimal_places=2)
    kept = models.DecimalField(max_digits=12, decimal_places=3)  # of the total, tax included
    refund = models.DecimalField(max_digits=12, decimal_places=3)  # of what was paid
    why = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField(auto_now_add=True)
    who = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(kept__gte=0, refund__gte=0), name="call_off_not_below_zero"
            )
        ]


class EventMove(AppendOnly, StudioRow):
    """An event that was moved to another day."""

    job = models.ForeignKey(Job, models.PROTECT, related_name="event_moves")
    from_start = models.DateTimeField()
    to_start = models.DateTimeField()
    why = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField(auto_now_add=True)
    who = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")


class TimeTaken(AppendOnly, StudioRow):
    """Work on a job as it was: minutes of everybody together. A mistake is taken back by another line."""

    class Place(models.TextChoices):
        WORKSHOP = "workshop", "workshop"
        SITE = "site", "on site"

    job = models.ForeignKey(Job, models.PROTECT, related_name="times_taken")
    place = models.CharField(max_length=8, choices=Place)
    people = models.PositiveSmallIntegerField()
    minutes = models.IntegerField()  # people × minutes each; below zero where it takes a line back
    on = models.DateField()
    words = models.CharField(max_length=120, blank=True)
    of = models.OneToOneField("self", models.PROTECT, null=True, related_name="taken_back")
    at = models.DateTimeField(auto_now_add=True)
    who = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(of__isnull=True, minutes__gt=0) | Q(of__isnull=False, minutes__lt=0),
                name="time_taken_or_taken_back",
            )
        ]

    @property
    def each(self) -> int:
        """Minutes of one of them."""
        return abs(self.minutes) // self.people

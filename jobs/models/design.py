"""What is designed: alternatives, kept pieces, shades, the photograph behind them."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from jobs.models.brief import Job
from studio.models import StudioRow


class JobDesign(StudioRow):
    """A design document of a job, without the room: that comes from the venue.

    A job has alternatives by letter; the chosen one is priced, offered and built.
    """

    job = models.ForeignKey(Job, models.PROTECT, related_name="designs")
    letter = models.CharField(max_length=1, default="A")
    name = models.CharField(max_length=60, blank=True)
    chosen = models.BooleanField(default=True)
    document: models.JSONField[Any, Any] = models.JSONField()
    # What the client may tick or leave: [{name, parts, only_with, not_with}] (jobs/options.py).
    options: models.JSONField[Any, Any] = models.JSONField(default=list)
    version = models.PositiveIntegerField(default=1)
    # The page that saved it last ("" for none that says so), and which of its saves that was.
    hand = models.CharField(max_length=36, blank=True, default="")
    step = models.PositiveIntegerField(default=0)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["job", "letter"], name="design_letter_once"),
            models.UniqueConstraint(
                fields=["job"], condition=Q(chosen=True), name="design_chosen_once"
            ),
        ]


class SavedPiece(StudioRow):
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


class Shade(StudioRow):
    """A colour that the studio works with."""

    name = models.CharField(max_length=60)
    hex = models.CharField(max_length=7)
    finish = models.CharField(max_length=10, default="matt")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["studio", "name"], name="shade_name_once")
        ]


class RoomPhoto(StudioRow):
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

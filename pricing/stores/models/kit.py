"""The hire kit: every single frame, stand, pump and weight, and who has it when."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import F, Q
from django.utils.timezone import localtime, now

from pricing.stores.models.holder import Holder
from studio.append_only import AppendOnly
from studio.models import Person, StudioRow


class KitItem(StudioRow):
    """One thing that goes out and comes back. Ten weights are ten rows with one key and name."""

    key = models.CharField(max_length=120)  # as designs ask for it: "frame/ring"
    name = models.CharField(max_length=120)
    mark = models.CharField(max_length=20, blank=True)  # what tells it from its like: "no. 2"
    condition = models.CharField(max_length=200, blank=True)
    out_of_use = models.BooleanField(default=False)
    service_on = models.DateField(null=True, blank=True)  # looked over at the latest
    hours = models.DecimalField(max_digits=8, decimal_places=1, default=0)  # run so far, of a pump
    service_hours = models.DecimalField(max_digits=8, decimal_places=1, null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        indexes: ClassVar = [models.Index(fields=["studio", "key"], name="kit_by_key")]

    def __str__(self) -> str:
        return f"{self.name} {self.mark}".strip()


class KitBooking(StudioRow):
    """An item promised from leaving the shop until it is back and cleaned.

    No two bookings of an item that are not back share an instant, and none for the next days (`late_days`) is
    made while one is late: the database holds that (`pricing/stores/kit_guard.py`).
    """

    item = models.ForeignKey(KitItem, models.PROTECT, related_name="bookings")
    holder = models.ForeignKey(Holder, models.PROTECT, related_name="+")
    out_from = models.DateTimeField()
    back_until = models.DateTimeField()
    returned_at = models.DateTimeField(null=True)
    # Of the studio as it was booked: late kit is refused when it is needed within so many days.
    late_days = models.PositiveSmallIntegerField(default=7)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(back_until__gt=F("out_from")), name="kit_out_then_back"
            )
        ]
        indexes: ClassVar = [models.Index(fields=["item", "out_from"], name="kit_when")]

    @property
    def is_late(self) -> bool:
        """It should be back by now, and nobody has checked it in."""
        return self.returned_at is None and self.back_until <= now()

    @property
    def held_by(self) -> str:
        """Who has it, and whether it should be here."""
        late = f" (still out, due back {localtime(self.back_until):%d %B %Y})"
        return f"{self.holder.title}{late if self.is_late else ''}"


class KitWish(StudioRow):
    """So many of a key that a job asks of the kit, whether or not they could be booked."""

    holder = models.ForeignKey(Holder, models.PROTECT, related_name="+")
    key = models.CharField(max_length=120)
    count = models.PositiveIntegerField()
    # Lengths in metres by which the frame that is asked for is known; empty where any will do.
    sizes_m: models.JSONField[Any, Any] = models.JSONField(default=list)
    out_from = models.DateTimeField()
    back_until = models.DateTimeField()


class KitNote(AppendOnly, StudioRow):
    """What was found, mended or broken."""

    class Kind(models.TextChoices):
        CONDITION = "condition", "condition"
        SERVICE = "service", "looked over"
        CHARGED = "charged", "came back broken, charged to the client"
        SPOILED = "spoiled", "came back broken, our loss"

    item = models.ForeignKey(KitItem, models.PROTECT, related_name="notes")
    kind = models.CharField(max_length=9, choices=Kind, default=Kind.CONDITION)
    what = models.CharField(max_length=300)
    holder = models.ForeignKey(Holder, models.PROTECT, null=True, related_name="+")  # who had it
    # What the client is charged, before tax; the newest note of an item and a job holds. None: not said yet.
    amount = models.DecimalField(max_digits=9, decimal_places=3, null=True)
    at = models.DateTimeField(auto_now_add=True)
    who = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")

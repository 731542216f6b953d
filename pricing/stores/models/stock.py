"""What lies on the shelves, as moves, and what is promised to jobs."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from pricing.stores.models.buying import PurchaseOrder
from pricing.stores.models.holder import Holder
from studio.append_only import AppendOnly
from studio.models import Person, StudioRow


class StockMove(AppendOnly, StudioRow):
    """So much came, went or was found; what is on hand is the sum. Keys are those that designs ask for."""

    class Kind(models.TextChoices):
        BOUGHT = "bought", "bought"
        USED = "used", "used"
        SPOILED = "spoiled", "spoiled"
        COUNTED = "counted", "put right by a count"
        RETURNED = "returned", "came back from a job"
        MOVED = "moved", "moved to another shelf"

    key = models.CharField(max_length=160)
    shelf = models.CharField(max_length=40, blank=True)
    change = models.DecimalField(max_digits=12, decimal_places=3)  # pieces, metres or cubic metres
    kind = models.CharField(max_length=8, choices=Kind)
    aged_from = models.DateField()  # the day the lot came: latex is used oldest first
    why = models.CharField(max_length=200, blank=True)
    holder = models.ForeignKey(Holder, models.PROTECT, null=True, related_name="+")  # who took it
    order = models.ForeignKey(
        PurchaseOrder, models.PROTECT, null=True, related_name="+"
    )  # it came with
    at = models.DateTimeField(auto_now_add=True)
    who = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(condition=~Q(change=0), name="stock_move_not_nothing")
        ]
        indexes: ClassVar = [models.Index(fields=["studio", "key"], name="stock_by_key")]


class Reservation(StudioRow):
    """What a job will take from the shelves, spares included."""

    holder = models.ForeignKey(Holder, models.PROTECT, related_name="+")
    key = models.CharField(max_length=160)
    label = models.CharField(max_length=200)
    unit = models.CharField(max_length=4, default="each")
    quantity = models.DecimalField(max_digits=12, decimal_places=3)
    needed_by = models.DateField()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["holder", "key"], name="reserved_once"),
            models.CheckConstraint(condition=Q(quantity__gt=0), name="reserved_something"),
        ]

"""Suppliers, the packs and kits they sell, orders and what came of them."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from studio.append_only import AppendOnly
from studio.models import Person, StudioRow
from studio.permissions import Permission


class Supplier(StudioRow):
    permission = Permission.SEE_PRICES

    name = models.CharField(max_length=80)
    mail = models.EmailField("e-mail", blank=True)
    delivery = models.DecimalField(max_digits=9, decimal_places=3, default=0)  # for each order
    minimum = models.DecimalField(max_digits=9, decimal_places=3, default=0)  # goods of one order
    lead_days = models.PositiveSmallIntegerField(default=3)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["studio", "name"], name="supplier_name_once"),
            models.CheckConstraint(
                condition=Q(delivery__gte=0) & Q(minimum__gte=0), name="supplier_makes_sense"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Pack(StudioRow):
    """What a supplier sells at one price: so many of one supply, or a mixed kit of several.

    A content's key may stop before the colour ("balloon/11 in"): the pack then comes in any colour.
    """

    permission = Permission.SEE_PRICES

    class Grade(models.TextChoices):
        NONE = "", "not graded"
        PROFESSIONAL = "professional", "professional"
        PARTY = "party", "party"

    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="packs")
    code = models.CharField(max_length=60)
    name = models.CharField(max_length=120)
    contents: models.JSONField[Any, Any] = models.JSONField()  # {key: how many}
    price = models.DecimalField(max_digits=10, decimal_places=3)  # before tax
    lead_days = models.PositiveSmallIntegerField(null=True, blank=True)  # None: the supplier's
    least = models.PositiveSmallIntegerField(default=1)  # packs that are sold at the least
    grade = models.CharField(max_length=12, choices=Grade, blank=True)
    valid_from = models.DateField()
    valid_until = models.DateField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["studio", "supplier", "code", "valid_from"], name="pack_code_once"
            ),
            models.CheckConstraint(
                condition=Q(price__gt=0) & Q(least__gte=1), name="pack_makes_sense"
            ),
        ]  # fmt: skip


class PurchaseOrder(StudioRow):
    """What was asked of one supplier. Its papers are frozen when it is sent."""

    permission = Permission.SEE_PRICES

    number = models.PositiveIntegerField()
    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="orders")
    delivery = models.DecimalField(max_digits=9, decimal_places=3, default=0)
    needed_by = models.DateField(null=True)
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    sent_at = models.DateTimeField(null=True)
    pdf = models.BinaryField(null=True)
    given_up_at = models.DateTimeField(null=True)  # what has not come is not waited for

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["studio", "number"], name="order_number_once")
        ]


class OrderLine(StudioRow):
    permission = Permission.SEE_PRICES

    order = models.ForeignKey(PurchaseOrder, models.PROTECT, related_name="lines")
    code = models.CharField(max_length=60)
    name = models.CharField(max_length=200)
    contents: models.JSONField[Any, Any] = (
        models.JSONField()
    )  # of one pack, keys as designs ask for them
    price = models.DecimalField(max_digits=10, decimal_places=3)  # of one pack
    lead_days = models.PositiveSmallIntegerField(
        null=True
    )  # of the pack then; None: the supplier's
    count = models.PositiveIntegerField()

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(count__gte=1) & Q(price__gte=0), name="line_makes_sense"
            )
        ]

    @property
    def cost(self) -> Decimal:
        return self.price * self.count


class Receipt(AppendOnly, StudioRow):
    """Packs of a line that came (below zero: an entry put right)."""

    permission = Permission.SEE_PRICES

    line = models.ForeignKey(OrderLine, models.PROTECT, related_name="receipts")
    count = models.IntegerField()
    at = models.DateTimeField(auto_now_add=True)
    who = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(condition=~Q(count=0), name="receipt_not_nothing")
        ]


class Trial(StudioRow):
    """A sheet that somebody brought, looked at row by row before anything changes."""

    permission = Permission.SEE_PRICES

    kind = models.CharField(max_length=12)
    name = models.CharField(max_length=120)
    content = models.TextField()
    row_count = models.PositiveIntegerField()
    checked = models.PositiveIntegerField(default=0)
    fault_count = models.PositiveIntegerField(default=0)
    new_count = models.PositiveIntegerField(default=0)
    changed_count = models.PositiveIntegerField(default=0)
    faults: models.JSONField[Any, Any] = models.JSONField(default=list)  # [row, column, sentence]
    changes: models.JSONField[Any, Any] = models.JSONField(default=list)  # [row, what, how]
    seen: models.JSONField[Any, Any] = models.JSONField(default=list)
    at = models.DateTimeField(auto_now_add=True)
    done_at = models.DateTimeField(null=True)

    @property
    def percent(self) -> int:
        return 100 * self.checked // self.row_count

"""What is asked and what is paid."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from jobs.models.brief import Job
from studio.append_only import AppendOnly
from studio.models import Person, StudioRow
from studio.permissions import Permission


class Payment(AppendOnly, StudioRow):
    """Money that came or went back. A mistake is put right by another entry."""

    permission = Permission.SEE_MONEY

    class How(models.TextChoices):
        TRANSFER = "transfer", "bank transfer"
        CASH = "cash", "cash"
        CARD = "card", "card, on the studio's own terminal"
        CHEQUE = "cheque", "cheque"
        OTHER = "other", "other"

    class Kind(models.TextChoices):
        CAME = "came", "came in"
        REFUND = "refund", "given back"
        BOUNCED = "bounced", "bounced"
        PUT_RIGHT = "put_right", "puts an entry right"

    job = models.ForeignKey(Job, models.PROTECT, related_name="payments")
    kind = models.CharField(max_length=9, choices=Kind, default=Kind.CAME)
    of = models.ForeignKey("self", models.PROTECT, null=True, related_name="righted_by")
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


class Invoice(AppendOnly, StudioRow):
    """An invoice or a credit note, as it went out. Numbers run without gaps in each studio."""

    permission = Permission.SEE_MONEY

    class Kind(models.TextChoices):
        INVOICE = "invoice", "invoice"
        CREDIT = "credit", "credit note"

    job = models.ForeignKey(Job, models.PROTECT, related_name="invoices")
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.INVOICE)
    number = models.PositiveIntegerField()
    of = models.ForeignKey("self", models.PROTECT, null=True, related_name="credits")
    why = models.CharField(max_length=200, blank=True)
    issued_on = models.DateField()
    due_on = models.DateField()
    net = models.DecimalField(max_digits=12, decimal_places=3)
    tax = models.DecimalField(max_digits=12, decimal_places=3)
    total = models.DecimalField(max_digits=12, decimal_places=3)
    paid = models.DecimalField(max_digits=12, decimal_places=3)  # before it was issued
    groups: models.JSONField[Any, Any] = models.JSONField()  # [{code, name, percent, net, tax}]
    pdf = models.BinaryField()
    pdf_sha256 = models.CharField(max_length=64)
    xml = models.TextField()  # "" where the currency has more decimals than EN 16931 can say
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["studio", "number"], name="invoice_number_once")
        ]

    @property
    def written(self) -> str:
        return f"{self.number:05d}"

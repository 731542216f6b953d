"""The price book as rows: what is bought, hired out, worked for and taxed, each from a day on."""

from __future__ import annotations

from datetime import date
from typing import ClassVar, Self

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q

from pricing.core.supply_keys import TYPED, parse_key
from studio.models import StudioRow
from studio.permissions import Permission


class FromADay[Row: InForce](models.QuerySet[Row]):
    def in_force(self, on: date) -> Self:
        """Rows that have begun by a date, newest first."""
        return self.filter(valid_from__lte=on).order_by("-valid_from", "-pk")


class InForce(StudioRow):
    """A row that holds from a day on, until a newer one does: what was quoted before keeps its figures."""

    permission = Permission.SEE_PRICES
    valid_from = models.DateField()
    is_example = models.BooleanField(default=False, editable=False)  # ours, nobody confirmed it yet
    objects = FromADay.as_manager()

    class Meta:
        abstract = True


class Supply(StudioRow):
    """Something that is counted: used up, or hired out and brought back."""

    class Use(models.TextChoices):
        CONSUMABLE = "consumable", "used up"
        HIRE = "hire", "hire kit"

    class Unit(models.TextChoices):
        EACH = "each", "each"
        METRE = "m", "metre"
        CUBIC_METRE = "m³", "cubic metre"

    key = models.CharField(
        max_length=120,
        validators=[
            RegexValidator(
                TYPED,
                "Key: expected words parted by slashes such as balloon/11 in, got something else.",
            )
        ],
    )
    name = models.CharField(max_length=120)
    use = models.CharField(max_length=10, choices=Use, default=Use.CONSUMABLE)
    unit = models.CharField(max_length=4, choices=Unit, default=Unit.EACH)
    shelf = models.CharField(max_length=40, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["studio", "key"], name="supply_key_once")
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def group(self) -> str:
        return parse_key(self.key).kind


class Price(InForce):
    """What a pack of a supply costs, or what a hire is reckoned at, before tax."""

    supply = models.ForeignKey(Supply, models.PROTECT, related_name="prices")
    pack_count = models.DecimalField(max_digits=9, decimal_places=3)
    pack_price = models.DecimalField(max_digits=10, decimal_places=3)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["supply", "valid_from"], name="one_price_a_day"),
            models.CheckConstraint(
                condition=Q(pack_count__gt=0) & Q(pack_price__gte=0), name="price_makes_sense"
            ),
        ]


class RateCard(InForce):
    """Hourly rates, travel, overhead, margin, tax."""

    workshop_hour = models.DecimalField(max_digits=9, decimal_places=3)
    site_hour = models.DecimalField(max_digits=9, decimal_places=3)
    travel_km = models.DecimalField(max_digits=7, decimal_places=3)
    overhead_percent = models.DecimalField(max_digits=5, decimal_places=2)
    margin_percent = models.DecimalField(max_digits=5, decimal_places=2)
    minimum_charge = models.DecimalField(max_digits=10, decimal_places=3, default=0)
    travel_hour = models.DecimalField(max_digits=9, decimal_places=3, default=0)
    spoil_percent = models.DecimalField(max_digits=5, decimal_places=2, default=0)
    odd_hours_percent = models.DecimalField(max_digits=5, decimal_places=2, default=0)
    risk_percent = models.DecimalField(max_digits=5, decimal_places=2, default=0)
    rush_percent = models.DecimalField(max_digits=5, decimal_places=2, default=0)
    floor_margin_percent = models.DecimalField(max_digits=5, decimal_places=2, default=0)
    round_to = models.DecimalField(max_digits=6, decimal_places=2, default=0)
    tax_name = models.CharField(max_length=20, default="VAT")
    tax_percent = models.DecimalField(max_digits=6, decimal_places=3)
    whole_packs = models.BooleanField(
        default=False
    )  # a job pays for whole packs, not for what it uses
    tax_inside = models.BooleanField(default=False)  # prices are rounded with the tax in them
    tax_by_line = models.BooleanField(default=False)  # tax rounded on each line, not once a group
    # On labour, travel and extras where the law tells them apart; empty: the same.
    work_tax_percent = models.DecimalField(max_digits=6, decimal_places=3, null=True, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["studio", "valid_from"], name="one_rate_card_a_day"),
            models.CheckConstraint(
                condition=Q(margin_percent__gte=0)
                & Q(margin_percent__lt=100)
                & Q(tax_percent__gte=0)
                & Q(tax_percent__lte=100)
                & (
                    Q(work_tax_percent__isnull=True)
                    | Q(work_tax_percent__gte=0, work_tax_percent__lte=100)
                )
                & Q(workshop_hour__gte=0)
                & Q(site_hour__gte=0)
                & Q(travel_km__gte=0)
                & Q(overhead_percent__gte=0)
                & Q(minimum_charge__gte=0),
                name="rates_make_sense",
            ),
        ]

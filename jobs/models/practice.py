"""What a studio's own hands know."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from jobs.day.loading import Van
from jobs.design.practice import LOSS_RATES, MINUTES, Practice
from studio.models import StudioRow


class StudioPractice(StudioRow):
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

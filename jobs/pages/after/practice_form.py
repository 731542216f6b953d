"""What the studio's hands know: squeeze, losses, minutes; and what a finished run teaches."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from django import forms
from django.utils.text import slugify

from jobs.design.clusters import pitch_m
from jobs.design.practice import LOSS_RATES, MINUTES, PRACTICE, squeeze_from
from jobs.design.values import Balls, Recipe
from jobs.models import StudioPractice
from jobs.pages.brief.brief_form import BriefPart
from jobs.pages.fields import CountField, HeatField, InStudioUnits, LengthField, ShareField

if TYPE_CHECKING:
    from studio.models import Studio


def minutes_field(operation: str) -> str:
    """The name of an operation's field; ids are made of it, and those have no spaces.

    >>> minutes_field("inflate and size, up to 6 in")
    'minutes-inflate-and-size-up-to-6-in'
    """
    return f"minutes-{slugify(operation)}"


MINUTES_FIELDS = {minutes_field(operation): operation for operation in MINUTES}


def usual(value: Any) -> str:
    return f"Usual: {value}."


class PracticeForm(BriefPart):
    """Empty fields stand as usual. One field for the minutes of each operation follows."""

    squeeze = ShareField(
        required=False, label="Squeeze", help_text=f"Real over rigid pitch. {usual('80 %')}"
    )
    loss_professional = ShareField(required=False, label="Lost, professional grade")
    loss_party = ShareField(required=False, label="Lost, party grade")
    run_out = ShareField(
        required=False,
        label="Chance of running out",
        help_text=f"That spares may leave. {usual('5 %')}",
    )
    workshop_c = HeatField(required=False, label="Workshop’s warmth")
    workshop_altitude_m = LengthField(
        required=False, label="Workshop above sea level", at_most_m=5000.0
    )
    pump_litres_s = forms.FloatField(
        required=False, min_value=0.1, max_value=100, label="Electric pump, litres a second",
        help_text=usual(PRACTICE.pump_litres_s),
    )  # fmt: skip
    learning = ShareField(
        required=False, label="Learning", help_text=f"Time of the 2nd over the 1st. {usual('95 %')}"
    )
    steady_after = CountField(
        required=False, min_value=1, max_value=1000, label="Steady after",
        help_text=f"Repeats of a cluster. {usual(PRACTICE.steady_after)}",
    )  # fmt: skip
    allowance = ShareField(
        required=False, label="Rest allowance", help_text=f"On working minutes. {usual('11 %')}"
    )
    ballast_kg = forms.FloatField(
        required=False, min_value=0.5, max_value=500, label="One ballast weight, kg",
        help_text=usual(f"{PRACTICE.ballast_kg:g} kg"),
    )  # fmt: skip
    roll_m = LengthField(required=False, label="Ribbon on a roll")
    van_long_m = LengthField(required=False, label="Van inside, length")
    van_wide_m = LengthField(required=False, label="Van inside, width")
    van_high_m = LengthField(required=False, label="Van inside, height")

    class Meta:
        model = StudioPractice
        fields: ClassVar = [
            "squeeze", "loss_professional", "loss_party", "run_out", "workshop_c",
            "workshop_altitude_m", "pump_litres_s", "learning", "steady_after", "allowance",
            "ballast_kg", "roll_m", "van_long_m", "van_wide_m", "van_high_m",
        ]  # fmt: skip

    LIMITS: ClassVar[dict[str, tuple[float, float]]] = {
        "squeeze": (0.4, 1.2), "loss_professional": (0, 0.5), "loss_party": (0, 0.5),
        "run_out": (0.001, 0.5), "learning": (0.5, 1), "allowance": (0, 1),
    }  # fmt: skip

    def __init__(self, *args: Any, studio: Studio, **options: Any) -> None:
        super().__init__(*args, studio=studio, **options)
        for name, rate in (("loss_professional", "professional"), ("loss_party", "party")):
            self.fields[name].help_text = usual(f"{LOSS_RATES[rate]:.0%}")
        for name, steady in MINUTES.items():
            self.fields[minutes_field(name)] = forms.FloatField(
                required=False, min_value=0, max_value=600, label=name.capitalize(),
                help_text=usual(f"{steady:g}"), initial=self.instance.minutes.get(name),
            )  # fmt: skip

    @property
    def practice_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.Meta.fields]

    @property
    def minute_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in MINUTES_FIELDS]

    def clean(self) -> dict[str, Any]:
        kept = super().clean() or self.cleaned_data
        for name, (low, high) in self.LIMITS.items():
            value = kept.get(name)
            if value is not None and not low <= value <= high:
                label = self.fields[name].label
                self.add_error(
                    name,
                    f"{label}: expected {low * 100:g} % to {high * 100:g} %, got {value * 100:g} %.",
                )
        return kept

    def standing(self, row: Any, name: str) -> Any:
        if name in MINUTES_FIELDS:
            return row.minutes.get(MINUTES_FIELDS[name])
        return super().standing(row, name)

    def writable(self) -> dict[str, Any]:
        """Real columns, and the minutes as one of them."""
        named = {k: v for k, v in super().writable().items() if k not in MINUTES_FIELDS}
        said = {kept: self.cleaned_data.get(name) for name, kept in MINUTES_FIELDS.items()}
        return {**named, "minutes": {k: v for k, v in said.items() if v is not None}}


class FinishedRun(InStudioUnits, forms.Form):
    """A run that was built, and the squeeze that it shows."""

    length_m = LengthField(label="Run’s length")
    clusters = CountField(label="Clusters used", min_value=2, max_value=5000)
    balls = CountField(label="Balloons in each", min_value=2, max_value=12, initial=8)
    blown_m = LengthField(label="Blown to")

    def __init__(self, *args: Any, studio: Studio, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fit(studio)

    def squeeze(self) -> float:
        """Raises ValueError where the figures make none."""
        cleaned = self.cleaned_data
        balls = Balls(count=cleaned["balls"], size="36 in", blown_m=cleaned["blown_m"])
        rigid = pitch_m(Recipe(name="cluster", balls=(balls,)), 1.0)
        return squeeze_from(
            length_m=cleaned["length_m"], clusters=cleaned["clusters"], rigid_pitch_m=rigid
        )

"""What is frozen of a proposal when it is sent, and read for ever: named values, each with one reader and one writer.

What is stored is JSON, and what was stored stays as it is. Its shape grew, and the readers take every one of them:

- at first an offer had figures, costs, payments and one design;
- then choices by letter, each with those four, and later what is ticked of which extras;
- in the figures: the scale of a call-off; in a tax group: why nothing is asked, rounding by line, what it covers;
- in the costs: how many balloons, metres and minutes it holds, then the balloons by colour;
- beside the costs of the first choice: when and where the event is, then the job's terms.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, PlainSerializer

from jobs.design.document import Design
from jobs.design.options import Option
from pricing.core.cancelling import Scale
from pricing.core.instalments import Due, plan_as_data, plan_from_data
from pricing.core.quote import ClientFigures
from pricing.core.quote_data import (
    Costing,
    costing_data,
    figures_data,
    figures_from,
)

# Equal amounts look equal: no needless zeros, no exponent.
PlainDecimal = Annotated[
    Decimal, PlainSerializer(lambda value: f"{value.normalize():f}", return_type=str)
]


@dataclass(frozen=True, slots=True, kw_only=True)
class OfferedChoice:
    """One way to have it, as the client reads it: an alternative with some of its extras."""

    letter: str  # of the alternative, then the places of what is ticked: "A", "A13"; "" where there is no choice
    name: str
    ticked: tuple[str, ...]
    options: tuple[Option, ...]  # of the alternative
    figures: ClientFigures
    call_off: Scale | None  # that is agreed with it; None where the proposal named none
    plan: tuple[Due, ...]

    @property
    def extras(self) -> tuple[str, ...]:
        """Names of everything that can be ticked."""
        return tuple(option.name for option in self.options)


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What a way holds, counted when it was sent, so that nothing is counted again years later."""

    balls: int
    metres: Decimal
    minutes: Decimal
    colours: Mapping[str, int]  # balloons of each; empty where they were not kept


@dataclass(frozen=True, slots=True, kw_only=True)
class OfferedEvent:
    """When and where, as the proposal says it in the studio's zone."""

    starts: datetime
    ends: datetime
    venue: str


class JobTerms(BaseModel):
    """The fields of a job that its price was made from. Amounts are in the studio's currency."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    travel_km: PlainDecimal
    trips: int
    crew: int
    tolls: PlainDecimal
    venue_cost: PlainDecimal
    odd_hours: bool
    rush: bool
    strike_fee: PlainDecimal
    margin_percent: PlainDecimal | None
    extra_label: str
    extra_cost: PlainDecimal
    discount: PlainDecimal
    tax_treatment: str
    tax_reason: str


def choice_from(data: Mapping[str, Any]) -> OfferedChoice:
    """A choice as the client reads it; its costs, contents and design have readers of their own."""
    figures: Mapping[str, Any] = data["figures"]
    return OfferedChoice(
        letter=data["letter"],
        name=data["name"],
        ticked=tuple(data.get("ticked", ())),
        options=tuple(Option.model_validate(option) for option in data.get("options", ())),
        figures=figures_from(figures),
        call_off=Scale.read(figures["call_off"]) if "call_off" in figures else None,
        plan=plan_from_data(data["schedule"], figures["currency"]),
    )


def only_choice(figures: Mapping[str, Any], schedule: Sequence[Mapping[str, Any]]) -> OfferedChoice:
    """The one way of an offer that leaves no choice."""
    return choice_from({"letter": "", "name": "", "figures": figures, "schedule": schedule})


def choice_data(
    choice: OfferedChoice, costing: Costing, contents: Contents, design: Design
) -> dict[str, Any]:
    """Everything that is frozen of one way."""
    return {
        "letter": choice.letter,
        "name": choice.name,
        "ticked": list(choice.ticked),
        "options": [option.model_dump(mode="json") for option in choice.options],
        "figures": choice_figures_data(choice),
        "owner_figures": {**costing_data(costing), **contents_data(contents)},
        "schedule": plan_as_data(choice.plan),
        "design": design.model_dump(mode="json"),
    }


def choice_figures_data(choice: OfferedChoice) -> dict[str, Any]:
    scale = {} if choice.call_off is None else {"call_off": choice.call_off.rows()}
    return {**figures_data(choice.figures), **scale}


def contents_data(contents: Contents) -> dict[str, Any]:
    return {
        "balls": str(contents.balls), "metres": str(contents.metres), "minutes": str(contents.minutes),
        "colours": dict(contents.colours),
    }  # fmt: skip


def contents_from(owner_figures: Mapping[str, Any]) -> Contents | None:
    """None where they were not kept."""
    if "balls" not in owner_figures:
        return None
    return Contents(
        balls=int(owner_figures["balls"]),
        metres=Decimal(owner_figures["metres"]),
        minutes=Decimal(owner_figures["minutes"]),
        colours=dict(owner_figures.get("colours", {})),
    )


def event_data(event: OfferedEvent) -> dict[str, str]:
    return {
        "starts": event.starts.isoformat(), "ends": event.ends.isoformat(), "venue": event.venue,
    }  # fmt: skip


def event_from(owner_figures: Mapping[str, Any]) -> OfferedEvent | None:
    """None where it was not kept."""
    if "event" not in owner_figures:
        return None
    told: Mapping[str, str] = owner_figures["event"]
    return OfferedEvent(
        starts=datetime.fromisoformat(told["starts"]),
        ends=datetime.fromisoformat(told["ends"]),
        venue=told["venue"],
    )


def terms_data(terms: JobTerms) -> dict[str, Any]:
    return terms.model_dump(mode="json")


def terms_from(owner_figures: Mapping[str, Any]) -> JobTerms | None:
    """None where they were not kept."""
    return JobTerms.model_validate(owner_figures["terms"]) if "terms" in owner_figures else None

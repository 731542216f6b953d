"""What the client may choose between: alternatives by letter, each with its extras, every way priced whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from jobs.design.document import Design
from jobs.design.options import Option, option_faults, ways_of_options, why_not_optional, with_only
from jobs.design.picture import draw
from jobs.design.working import Worked, work_out
from jobs.inputs import placed_in_room, practice_of, quote_for
from jobs.models import Job, JobDesign, Offer
from jobs.proposal.frozen import OfferedChoice, choice_data
from jobs.proposal.included import Included, included
from jobs.proposal.last_sold import contents_in
from pricing.core.cancelling import Scale
from pricing.core.instalments import Due, plan_instalments, stages_from_data
from pricing.core.money import Money, write_money
from pricing.core.quote import BeyondPrice, ClientFigures, Quote
from pricing.core.quote_data import costing_of

if TYPE_CHECKING:
    from studio.access import Access


class CannotOffer(ValueError):
    """Why this job cannot be offered yet, as a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PricedChoice:
    """One way to have it: an alternative with some of its extras."""

    letter: str  # of the alternative, then the places of what is ticked: "A", "A13"
    name: str
    ticked: tuple[str, ...]
    options: tuple[Option, ...]  # of the alternative
    worked: Worked
    quote: Quote
    plan: tuple[Due, ...]
    pieces: tuple[Included, ...]
    call_off: Scale  # that is agreed with it

    @property
    def figures(self) -> ClientFigures:
        return self.quote.for_client()

    @property
    def offered(self) -> OfferedChoice:
        """As the client reads it."""
        return OfferedChoice(
            letter=self.letter, name=self.name, ticked=self.ticked, options=self.options,
            figures=self.figures, call_off=self.call_off, plan=self.plan,
        )  # fmt: skip

    def as_data(self) -> dict[str, Any]:
        """What is frozen of it."""
        costing, contents = costing_of(self.quote), contents_in(self.worked)
        return choice_data(self.offered, costing, contents, self.worked.design)


@dataclass(frozen=True, slots=True, kw_only=True)
class Extra:
    """An option as the client reads it."""

    name: str
    adds: Money  # to the total, by itself or with what it cannot be without
    rule: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """An alternative: without extras, with everything that goes together, and every way between."""

    ways: tuple[PricedChoice, ...]
    extras: tuple[Extra, ...]
    picture: str
    full_picture: str  # with the most extras; "" where there are none

    @property
    def base(self) -> PricedChoice:
        return self.ways[0]


def key_of(letter: str, ticked: Sequence[int]) -> str:
    """How a way is named in records: the letter, and the options counted from 1.

    >>> key_of("B", (0, 2))
    'B13'
    """
    return letter + "".join(str(n + 1) for n in ticked)


def options_of(row: JobDesign) -> tuple[Option, ...]:
    return tuple(Option.model_validate(option) for option in row.options)


def offered_of(access: Access, job: Job, row: JobDesign, *, on: date, under: str = "") -> Offered:
    """An alternative with its extras. Raises CannotOffer for a way that cannot be built or priced."""
    design, options = placed_in_room(row.document, job), options_of(row)
    named = "" if row.chosen else f"Alternative {row.letter}: "
    if wrong := option_faults(design, options):
        raise CannotOffer(named + " ".join(wrong))
    made = tuple(
        choice_of(access, job, row, with_only(design, options, way), way, on=on)
        for way in ways_of_options(options)
    )
    drawn = [
        draw(some.worked, units=access.units, prefix=f"offer{some.letter}", under=under)
        for some in (made[0], made[-1])[: len(made)]
    ]
    return Offered(
        ways=made, extras=extras_of(options, made), picture=drawn[0], full_picture=drawn[1] if drawn[1:] else "",
    )  # fmt: skip


def extras_of(options: tuple[Option, ...], made: Sequence[PricedChoice]) -> tuple[Extra, ...]:
    """What each option adds to the smallest way that it can be added to."""
    totals = {frozenset(choice.ticked): choice.figures.total for choice in made}
    extras = []
    for option in options:
        with_it = min((some for some in totals if option.name in some), key=len)
        without = max((some for some in totals if some < with_it), key=len)
        rule = f"only with “{option.only_with}”" if option.only_with else ""
        if option.not_with:
            rule = ", ".join(filter(None, [rule, f"not with “{option.not_with}”"]))
        extras.append(Extra(name=option.name, adds=totals[with_it] - totals[without], rule=rule))
    return tuple(extras)


def choice_of(
    access: Access, job: Job, row: JobDesign, design: Design, way: Sequence[int], *, on: date
) -> PricedChoice:
    """One way, counted, priced and planned."""
    options = options_of(row)
    worked = work_out(design, units=access.units, practice=practice_of(access))
    ticked = tuple(options[n].name for n in way)
    named = "" if row.chosen else f"Alternative {row.letter}: "
    named += f"with {', '.join(ticked)}: " if ticked else ""
    stops = [f.sentence for f in worked.takeoff.findings if f.weight == "stop"]
    if stops:
        raise CannotOffer(f"{named}The design does not fit: " + " ".join(stops))
    try:
        quote = quote_for(access, job, worked, on=on)
    except BeyondPrice as reason:
        raise CannotOffer(f"{named}{reason}") from None
    if not quote.is_complete:
        raise CannotOffer(
            f"{named}The price book has no price for: " + ", ".join(quote.unpriced) + "."
        )
    figures, studio = quote.for_client(), access.studio
    event_on = studio.day_of(job.event_start)
    plan = plan_instalments(
        figures.total, figures.deposit, offered_on=on, event_on=max(event_on, on),
        deposit_days=studio.deposit_days, balance_days=studio.balance_days,
        stages=stages_from_data(studio.stages),
    )  # fmt: skip
    return PricedChoice(
        letter=key_of(row.letter, way), name=row.name, ticked=ticked, options=options, worked=worked,
        quote=quote, plan=plan, pieces=included(worked, access.units),
        call_off=Scale.read(studio.call_off_scale),
    )  # fmt: skip


def letter_of(ways: Sequence[OfferedChoice], letter: str, ticked: Sequence[str]) -> tuple[str, str]:
    """The letter of the way that a client chose of an offer, and ""; or "" and why it is not on offer."""
    for way in ways:
        if way.letter[:1] == letter and set(way.ticked) == set(ticked):
            return way.letter, ""
    known = next((way.options for way in ways if way.letter == letter), ())
    names = [option.name for option in known]
    if unknown := [name for name in ticked if name not in names]:
        return "", f"Extras: expected those of choice {letter}, got “{unknown[0]}”."
    return "", why_not_optional(known, [names.index(name) for name in ticked])


def wording_of(access: Access, offer: Offer, letter: str = "") -> str:
    """What stands beside the tick; with the choice made, it is kept with the yes."""
    if offer.leaves_choice and not letter:
        return f"I accept proposal {offer.number} with the choice made above, for its total, and its terms."
    choice = offer.choice(letter)
    chosen = f", choice {letter[0]}," if len(offer.alternatives) > 1 else ""
    if choice.ticked:
        chosen += " with " + " and ".join(f"“{name}”" for name in choice.ticked)
    total = written_total(access, choice)
    return f"I accept proposal {offer.number}{chosen} for a total of {total}, and its terms."


def written_total(access: Access, choice: OfferedChoice) -> str:
    return write_money(choice.figures.total, access.studio.language)

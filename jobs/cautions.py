"""Cautions, and the papers they stand on. Our own words, the United States' choking text excepted. Pure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jobs.design.room import TAKE_DOWN_WIND
from studio.countries import country_of

if TYPE_CHECKING:
    from studio.measure import Units
    from studio.models import Studio

# The words of 15 U.S.C. §1278(b)(2)(A) and 16 CFR 1500.19(b)(2), public law. In the United States they stand on what
# describes balloons for sale, and by 15 U.S.C. §1278(c) and 16 CFR 1500.20 on a page where balloons can be ordered.
CHOKING = (
    "WARNING: CHOKING HAZARD—Children under 8 yrs. can choke or suffocate on uninflated or broken balloons. "
    "Adult supervision required. Keep uninflated balloons from children. Discard broken balloons at once."
)
CHOKING_ELSEWHERE = (
    "Choking hazard: a small child can choke on a balloon that is not blown up, or on a piece of a burst one. "
    "Keep both out of reach, watch children near the décor, and clear burst balloons away at once."
)
LATEX = "The balloons are natural-rubber latex, which can cause allergic reactions. Tell us of anybody it concerns."
LATEX_CREW = "Natural-rubber latex: ask before anybody new handles balloons; stop at the first sign of a reaction."
EXITS = (
    "Exits, their signs, alarms, detectors and sprinklers stay clear. The venue and the fire authority decide "
    "what may be fixed and where."
)
RELEASE = "Balloons are never let go outdoors; many places forbid it."
LADDER = (
    "Ladder: one out for four up, three points of contact, never the top of a step ladder, somebody holding it. "
    "Local rules for work at height come first."
)
LIFT = "Ballast and frames: lift with two, keep the way clear, mind fingers at the joints."


def choking(studio: Studio) -> str:
    """What the law of the United States words where a studio sells there, and our own words elsewhere."""
    return CHOKING if country_of(studio) == "US" or studio.currency == "USD" else CHOKING_ELSEWHERE


def wind(units: Units) -> str:
    """When wind ends it, in the studio's own units."""
    return (
        "Outdoors, wind and weather decide: we may build lower, move the piece, or take it down at once, and do so "
        f"no later than at {TAKE_DOWN_WIND[units]}. A competent person confirms the ballast on the day."
    )


def for_client(*, outdoors: bool, units: Units) -> tuple[str, ...]:
    """What stands on the proposal and beside the client's yes, the choking text apart."""
    return (LATEX, EXITS, *((wind(units), RELEASE) if outdoors else ()))


def for_crew(*, outdoors: bool, ladder: bool, units: Units) -> tuple[str, ...]:
    """What stands on the lists that crew work from."""
    return (
        CHOKING,
        LATEX_CREW,
        EXITS,
        LIFT,
        *((LADDER,) if ladder else ()),
        *((wind(units), RELEASE) if outdoors else ()),
    )

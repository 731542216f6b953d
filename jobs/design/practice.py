"""What a studio's hands know: squeeze, losses, minutes. Common practice, no source, unless said otherwise.

The studio's own finished jobs are to correct these; until then they stand.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

# Minutes for one of each operation. Common practice, no source.
MINUTES: Mapping[str, float] = MappingProxyType(
    {
        "inflate and size, up to 6 in": 0.20,
        "inflate and size, up to 12 in": 0.25,
        "inflate and size, larger": 1.0,
        "tie a pair": 0.15,
        "twist a quad": 0.15,
        "join an eight": 0.15,
        "make another cluster": 0.40,
        "place a slipped cluster": 0.40,
        "place a locked cluster": 0.60,
        "place a tied cluster": 1.00,
        "lay a skirt cluster": 0.75,
        "set an accent": 0.75,
        "set a feature": 2.0,
        "set up a frame part": 3.0,
        "tape a joint": 0.75,
        "wrap a metre of greenery": 2.0,
        "set a fastener": 0.4,
        "hang a ribbon tail": 0.75,
        "finesse a cluster": 0.2,
        "load": 20.0,
        "unload and carry in": 20.0,
        "take down a cluster": 0.15,
        "take down a frame part": 2.0,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    squeeze: float = 0.8  # real pitch over rigid pitch: about two quads of 9–10 in balloons a foot
    stem_m: float = 0.03  # what a greenery stem adds to the tube when it is wrapped
    loss_rate: float = 0.03  # balloons lost before the event, professional grade
    run_out: float = 0.05  # accepted chance that spares do not suffice
    joint_tape_m: float = 0.15
    pole_reach_m: float = 2.0  # work above this needs a ladder
    feet_ballast: int = 2  # ballast weights for a piece that stands outdoors
    allowance: float = (
        0.11  # rest and personal allowance on working minutes (ILO work study, from memory)
    )
    minutes: Mapping[str, float] = field(default_factory=lambda: MINUTES)


PRACTICE = Practice()

"""The take-off: everything the design uses, the minutes, and what it must answer for."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from jobs.design.sizing import Sizing
    from pricing.core.need import Labour, Need
    from pricing.core.supply_keys import SupplyKey


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something the design must answer for."""

    code: str  # our own, e.g. "ceiling", "doorway"
    weight: Literal[
        "stop", "care", "note"
    ]  # stop: cannot be built so; care: somebody must decide; note: told
    piece: int | None  # index, None for the whole design
    sentence: str  # with numbers
    mend: str = ""  # what would mend it


@dataclass(frozen=True, slots=True, kw_only=True)
class KitToPack:
    """A tool, a reusable part or a safety thing that must be in the van."""

    name: str
    count: int
    group: Literal["frame", "tools", "safety"]
    why: str  # what in the design asks for it
    key: SupplyKey | None = None  # of a thing that a studio may keep in its hire kit


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """Something to do that is no cluster, for the build sheet."""

    what: str
    where: str = ""
    how: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeOff:
    needs: tuple[Need, ...]
    labour: tuple[Labour, ...]
    sizing: tuple[Sizing, ...]
    findings: tuple[Finding, ...]
    kit: tuple[KitToPack, ...]
    ball_count: int
    cluster_count: int

    @property
    def minutes(self) -> Decimal:
        return sum((work.minutes for work in self.labour), Decimal(0))

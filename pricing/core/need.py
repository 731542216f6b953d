"""What a design asks of the price book: the one type that passes from counts to price."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from pricing.core.supply_keys import SupplyKey

type Unit = Literal["each", "m", "m³"]
type Use = Literal["consumable", "hire"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """One counted line.

    `key` names the supply; the price book answers with the most particular price that covers it.
    `spare` is carried on top of `quantity` and is shown apart from it.
    """

    key: SupplyKey
    label: str  # in the studio's words: "11 in balloon, ivory"
    quantity: Decimal  # exact count, or metres; never negative
    unit: Unit = "each"
    use: Use = "consumable"
    spare: Decimal = Decimal(0)
    cuts_mm: tuple[
        tuple[int, int], ...
    ] = ()  # (length, how many) of what is cut from rolls, longest first


@dataclass(frozen=True, slots=True, kw_only=True)
class Labour:
    """Minutes of one kind of work, where it is done."""

    operation: str
    place: Literal["workshop", "site"]
    times: Decimal  # how often, or how many metres
    minutes: Decimal  # in all, allowance included

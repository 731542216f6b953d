"""Single balloons over the floor, on gas or on sticks."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from math import ceil
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field

from jobs.design.gas import RIBBON_KG_M, net_lift_kg, volume_m3
from jobs.design.parts.base import (
    BALLS_A_METRE,
    Box,
    LoosePart,
    Operation,
    Ranks,
    Setting,
    WorkStage,
)
from jobs.design.parts.making import across_floor
from jobs.design.picture_plane import FAINT, Thing, View
from jobs.design.picture_soft import draw_ribbon, ribbon_ink
from jobs.design.soft import Ribbon, whole_mm
from jobs.design.supports.base import Across, Size
from jobs.design.takeoff import Finding, KitToPack, Work
from jobs.design.values import Name, Nominal, Some, Weights, Width, nominal_m
from jobs.design.wording import plural
from pricing.core.need import Need
from pricing.core.supply_keys import SupplyKey
from studio.measure import Units, write_cut, write_diameter, write_length

if TYPE_CHECKING:
    from jobs.design.compose import Laying
    from jobs.design.composition import Cluster
    from jobs.design.document import Piece
    from jobs.design.working import Worked

FLOATER_ROWS = 4  # deep; what is more crowded hangs lower instead


class Floaters(LoosePart):
    """Single balls over the floor, on gas with a ribbon to a weight, or on sticks."""

    key: ClassVar[str] = "floaters"
    words: ClassVar[str] = "single balloons"
    ranks: ClassVar[Ranks] = Ranks(screen=5, work=10, words=5)
    always_written: ClassVar[bool] = True
    with_garland: ClassVar[bool] = True
    sheet_heading: ClassVar[str] = "Greenery and ribbon"
    boxes: ClassVar[dict[str, Box]] = {"gas": "gas", "weight": "fixings", "stick": "soft"}
    cluster_part: ClassVar[str] = "floater"
    placed_by: ClassVar[str] = "set a floater"
    operations: ClassVar[tuple[Operation, ...]] = (
        Operation(name="set a floater", minutes=0.75, stage=WorkStage.PLACING),
    )
    ties_each: ClassVar[int] = 0
    apart: ClassVar[bool] = True
    sway: ClassVar[float] = 0.3
    lowering: ClassVar[str] = "Floaters on strings {} shorter clear it."

    count: Some = Field(title="How many", examples=[5])
    size: Nominal = Field(default="11 in", title="Size")
    blown_m: Size = Field(default=0.27, title="Blown to")
    on: Literal["helium", "stick"] = Field(default="helium", title="On")
    # Floor to the neck: the length of ribbon or stick.
    height_m: Size = Field(default=1.8, title="Neck above the floor")
    per_weight: Annotated[int, Field(ge=1, le=50)] = Field(default=3, title="On one weight")
    width_mm: Width = Field(default=5, title="Ribbon width, mm")
    colour: Name = Field(default="ivory", title="Ribbon colour")
    centre_m: Across = Field(default=0.0, title="Centre")
    spread_m: Size = Field(default=1.0, title="Spread over")  # width of floor that they stand over
    weights: Weights = Field(default_factory=dict, title="Own shares")

    @property
    def on_gas(self) -> bool:
        return self.on == "helium"

    def crowds(self, setting: Setting) -> Iterator[tuple[str, float, float]]:
        yield "count", self.count, max(self.spread_m, 1.0) * BALLS_A_METRE / 8

    def lay(self, laying: Laying) -> Iterator[Cluster]:
        """Evenly over their width in two rows; the crowded in up to four, then also lower ones under them."""
        count = self.count
        dealt = laying.coloured([[(self.size, self.blown_m)]] * count, self.weights)
        x = ((np.arange(count) + 0.5) / count - 0.5) * self.spread_m + self.centre_m
        lines = ceil(count * self.blown_m / self.spread_m - 1e-9)  # that lie ball by ball
        rows = min(max(lines, 2), FLOATER_ROWS)
        levels = min(ceil(lines / rows), 1 + int(self.height_m / self.blown_m))
        y = -0.1 - self.blown_m * (np.arange(count) % rows)
        lower = self.blown_m * (np.arange(count) // rows % max(levels, 1))
        z = self.height_m + self.blown_m / 2 - lower
        for mine, *at in zip(dealt, x.tolist(), y.tolist(), z.tolist(), strict=True):
            yield laying.loose(self, self.size, mine, *at)

    def ribbons(self, setting: Setting) -> Iterator[Ribbon]:
        if self.on_gas:
            yield Ribbon(
                piece=setting.index, width_mm=self.width_mm, colour=self.colour,
                cut_mm=whole_mm(self.height_m + 2 * setting.practice.knot_m), count=self.count,
            )  # fmt: skip

    def needs(self, setting: Setting, units: Units) -> Iterator[Need]:
        """Gas at the pressure outside, weights; or sticks."""
        if not self.on_gas:
            yield Need(
                key=SupplyKey("stick", "floater"),
                label="stick for a balloon",
                quantity=Decimal(self.count),
            )
            return
        litres = ceil(self.count * volume_m3(self.blown_m) * 1000)
        weights = ceil(self.count / self.per_weight)
        yield Need(
            key=SupplyKey("gas", "helium"),
            label="helium",
            quantity=Decimal(litres) / 1000,
            unit="m³",
        )
        yield Need(
            key=SupplyKey("weight", "floater"),
            label="weight for floaters",
            quantity=Decimal(weights),
        )

    def tools(self, setting: Setting) -> Iterator[KitToPack]:
        if self.on_gas:
            name = "cylinder of helium with filler and strap"
            yield KitToPack(name=name, count=1, group="tools", why="floaters")

    def findings(self, setting: Setting, units: Units) -> Iterator[Finding]:
        if not self.on_gas:
            return
        name, room = setting.piece.name, setting.design.room
        lift = net_lift_kg(
            self.blown_m,
            nominal_m(self.size),
            celsius=20.0 if room.warmest_c is None else room.warmest_c,
            altitude_m=room.altitude_m or 0.0,
        )
        if lift - RIBBON_KG_M * self.height_m <= 0:
            yield Finding(
                code="sinks",
                weight="stop",
                piece=setting.index,
                sentence=f"{name}: a {self.size} balloon at {write_diameter(self.blown_m, units)} lifts "
                f"{max(lift, 0) * 1000:.1f} g, less than its ribbon.",
                mend="A larger balloon or a shorter ribbon.",
            )
        yield Finding(
            code="helium",
            weight="care",
            piece=setting.index,
            sentence=f"{name}: helium. Keep the cylinder upright, tied and in fresh air; never breathe the gas.",
            mend="Nothing is let go outdoors: every floater is on its weight and comes back down.",
        )

    def told(self, setting: Setting, worked: Worked, units: Units) -> Iterator[str]:
        way = "floating on ribbons" if self.on_gas else "standing on sticks"
        yield f"{self.count} single {plural(self.count, 'balloon')} {way}"

    def where(self, cluster: Cluster, piece: Piece, units: Units) -> str:
        return across_floor(cluster, piece, units)

    def held(self, cluster: Cluster) -> str:
        return "ribbon and weight" if self.on_gas else "on a stick"

    def build_lines(self, setting: Setting, units: Units) -> Iterator[Work]:
        for ribbon in self.ribbons(setting):
            up = write_length(self.height_m, units)
            yield Work(
                what=f"ribbon {self.width_mm} mm, {self.colour}: cut {ribbon.count} × "
                f"{write_cut(ribbon.cut_mm, units)}",
                how=f"A knot at the neck, {up} of ribbon, a knot at the weight.",
            )

    def draw(self, setting: Setting, worked: Worked, view: View) -> Iterator[Thing]:
        """From each neck to its weight on the floor, a shared one for several; or a stick. From the front only."""
        if view != "front":
            return
        necks = list(self._necks(setting, worked))
        if not self.on_gas:
            for x, z in necks:
                d = f"M{100 * x:.1f} {-100 * z:.1f}V0"
                stick = f'<path stroke="{FAINT}" stroke-opacity="1" stroke-width=".6" d="{d}"/>'
                yield Thing(setting.index, -0.2, stick)
            return
        ink = ribbon_ink(setting.design, self.colour)
        for first in range(0, len(necks), self.per_weight):
            group = necks[first : first + self.per_weight]
            foot = 100 * sum(x for x, _ in group) / len(group)
            for x, z in group:
                d = f"M{100 * x:.1f} {-100 * z:.1f}Q{foot:.1f} {-50 * z:.1f} {foot:.1f} -4"
                yield draw_ribbon(
                    setting.index, d, -0.2, ink=ink, width_mm=self.width_mm, least=0.5
                )
            weight = f'<path d="M{foot - 4:.1f} 0l2-5h4l2 5z" fill="{FAINT}"/>'
            yield Thing(setting.index, -0.19, weight)

    def _necks(self, setting: Setting, worked: Worked) -> Iterator[tuple[float, float]]:
        """Of each of them: (x, z)."""
        rest = worked.settled
        for i, cluster in enumerate(worked.composition.clusters):
            if cluster.piece == setting.index and cluster.maker is self:
                ball = int(np.searchsorted(rest.cluster, i))
                x, _, z = rest.centres_m[ball]
                yield float(x), float(z - rest.radii_m[ball])

"""Single stems between the balloons."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from pydantic import Field

from jobs.design.parts.base import (
    Box,
    LoosePart,
    Operation,
    Ranks,
    Saving,
    Setting,
    Times,
    WorkStage,
    how_many,
    left_out,
)
from jobs.design.picture_plane import Thing, View, on_path, project
from jobs.design.picture_soft import draw_leaves
from jobs.design.takeoff import Work
from jobs.design.values import Name, PerMetre, Some
from pricing.core.need import Need
from pricing.core.supply_keys import SupplyKey

if TYPE_CHECKING:
    from jobs.design.working import Worked
    from studio.measure import Units


class Stems(LoosePart):
    """Single stems tucked between the balloons of the runs."""

    key: ClassVar[str] = "stems"
    words: ClassVar[str] = "sprigs of greenery"
    heading: ClassVar[str] = "greenery stems"
    ranks: ClassVar[Ranks] = Ranks(screen=7, work=6, words=7)
    always_written: ClassVar[bool] = True
    switch: ClassVar[tuple[str, ...]] = ("count", "per_m")
    sheet_heading: ClassVar[str] = "Greenery and ribbon"
    boxes: ClassVar[dict[str, Box]] = {"stem": "soft"}
    operations: ClassVar[tuple[Operation, ...]] = (
        Operation(name="tuck a stem", minutes=0.3, stage=WorkStage.GREENING),
    )
    savings: ClassVar[tuple[Saving, ...]] = (
        Saving(seen=7, words="greenery left out", less=left_out),
    )

    count: Some | None = Field(default=None, title="How many", examples=[8])
    per_m: PerMetre | None = Field(default=None, title="Or so many a metre")
    plant: Name = Field(default="mixed leaf", title="Plant")

    def stems(self, setting: Setting) -> int:
        """How many there are."""
        return how_many(self.count, self.per_m, setting.run_m)

    def needs(self, setting: Setting, units: Units) -> Iterator[Need]:
        yield Need(
            key=SupplyKey("stem", self.plant),
            label=f"greenery stem, {self.plant}",
            quantity=Decimal(self.stems(setting)),
        )

    def work(self, setting: Setting) -> Iterator[Times]:
        yield "tuck a stem", "site", self.stems(setting)

    def told(self, setting: Setting, worked: Worked, units: Units) -> Iterator[str]:
        yield f"Sprigs of greenery ({self.plant}) between the balloons"

    def build_lines(self, setting: Setting, units: Units) -> Iterator[Work]:
        yield Work(
            what=f"{self.stems(setting)} × stem of {self.plant}",
            where="along the runs",
            how="Tuck them in last, between the balloons, leaves all one way.",  # common practice, no source
        )

    def draw(self, setting: Setting, worked: Worked, view: View) -> Iterator[Thing]:
        """Three leaves for every stem, before the runs."""
        piece, index, count = setting.piece, setting.index, self.stems(setting)
        rng = np.random.default_rng([setting.design.seed, 11, index])
        runs = [
            (c.x_m, 0.0, c.z_m)
            for c in worked.composition.clusters
            if c.piece == index and c.part == "run"
        ]
        at = (
            np.array(runs)
            if runs
            else on_path(piece, piece.support.points(np.linspace(0, piece.support.length_m, 40)))
        )
        at = np.repeat(at[np.linspace(0, len(at) - 1, count).astype(int)], 3, axis=0)
        at[:, 1] += 0.35
        lean = rng.uniform(0, 360, len(at))
        yield from draw_leaves(index, project(at, view), lean, rng, long=1.6)

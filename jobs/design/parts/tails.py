"""Hanging ribbon."""

from __future__ import annotations

from collections.abc import Iterator
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
    left_out,
)
from jobs.design.picture_plane import Thing, View
from jobs.design.picture_soft import draw_ribbon, ribbon_ink
from jobs.design.soft import Ribbon, whole_mm
from jobs.design.supports.base import Size
from jobs.design.takeoff import Work
from jobs.design.values import Name, Some, Width
from jobs.design.wording import plural
from studio.measure import Units, write_cut, write_length

if TYPE_CHECKING:
    from jobs.design.working import Worked


class Tails(LoosePart):
    """Hanging ribbon."""

    key: ClassVar[str] = "tails"
    words: ClassVar[str] = "hanging ribbons"
    heading: ClassVar[str] = "ribbon tails"
    ranks: ClassVar[Ranks] = Ranks(screen=8, work=7, words=10)
    always_written: ClassVar[bool] = True
    sheet_heading: ClassVar[str] = "Greenery and ribbon"
    boxes: ClassVar[dict[str, Box]] = {"ribbon": "soft"}
    operations: ClassVar[tuple[Operation, ...]] = (
        Operation(name="hang a ribbon tail", minutes=0.75),
    )
    savings: ClassVar[tuple[Saving, ...]] = (
        Saving(seen=1, words="ribbon tails and bows left out", less=left_out),
    )

    count: Some = Field(title="Ribbon tails", examples=[3])
    length_m: Size = Field(title="Each as long as", examples=[0.7])
    width_mm: Width = Field(default=10, title="Ribbon width, mm")
    colour: Name = Field(default="ivory", title="Ribbon colour")

    def ribbons(self, setting: Setting) -> Iterator[Ribbon]:
        yield Ribbon(
            piece=setting.index, width_mm=self.width_mm, colour=self.colour,
            cut_mm=whole_mm(self.length_m), count=self.count,
        )  # fmt: skip

    def work(self, setting: Setting) -> Iterator[Times]:
        yield "hang a ribbon tail", "site", self.count

    def told(self, setting: Setting, worked: Worked, units: Units) -> Iterator[str]:
        long = write_length(self.length_m, units)
        yield f"{self.count} {self.colour} {plural(self.count, 'ribbon')}, each {long} long"

    def build_lines(self, setting: Setting, units: Units) -> Iterator[Work]:
        cut = write_cut(whole_mm(self.length_m), units)
        yield Work(
            what=f"ribbon {self.width_mm} mm, {self.colour}: cut {self.count} × {cut}",
            how="Hang as tails, ends cut aslant.",
        )

    def draw(self, setting: Setting, worked: Worked, view: View) -> Iterator[Thing]:
        """From the low end of the first run, never through the floor. From the front only."""
        if view != "front":
            return
        x, z = _low_end(setting)
        cut_m = whole_mm(self.length_m) / 1000
        ink = ribbon_ink(setting.design, self.colour)
        for i in range(self.count):
            at = 100 * x + (i - (self.count - 1) / 2) * 5
            low = max(0.01, z - cut_m * (1 - 0.04 * (i % 3)))
            half, top, end = (z - low) * 50, -100 * z, -100 * low
            sway = 4 * (-1) ** i
            d = (
                f"M{at:.1f} {top:.1f}q{sway} {half / 2:.1f} 0 {half:.1f}"
                f"q{-sway} {half / 2:.1f} 0 {end - top - half:.1f}"
            )
            yield draw_ribbon(setting.index, d, 0.5 + i / 1000, ink=ink, width_mm=self.width_mm)


def _low_end(setting: Setting) -> tuple[float, float]:
    """Where ribbon hangs from: the first run's start on a ring, its middle elsewhere; (x, z) in the room."""
    support, stretches = setting.piece.support, setting.stretches
    s = stretches[0].start_s_m if stretches else support.length_m / 2
    if stretches and not support.closed:
        s = (stretches[0].start_s_m + stretches[0].end_s_m) / 2
    ((x, z),) = support.points(np.array([s % (support.length_m + 1e-9)]))
    return float(x) + setting.piece.at_m, float(z)

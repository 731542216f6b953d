"""Bows of ribbon."""

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
from jobs.design.values import Loops, Name, Some, Width
from jobs.design.wording import plural
from studio.measure import Units, write_cut, write_length

if TYPE_CHECKING:
    from jobs.design.practice import Practice
    from jobs.design.working import Worked


class Bows(LoosePart):
    """Bows of ribbon: loops round a knot, two ends hanging."""

    key: ClassVar[str] = "bows"
    words: ClassVar[str] = "bows"
    ranks: ClassVar[Ranks] = Ranks(screen=10, work=9, words=9)
    always_written: ClassVar[bool] = True
    sheet_heading: ClassVar[str] = "Greenery and ribbon"
    boxes: ClassVar[dict[str, Box]] = {"ribbon": "soft"}
    operations: ClassVar[tuple[Operation, ...]] = (Operation(name="tie a bow", minutes=3.0),)
    savings: ClassVar[tuple[Saving, ...]] = (
        Saving(seen=1, words="ribbon tails and bows left out", less=left_out),
    )

    count: Some = Field(title="How many", examples=[2])
    loops: Loops = Field(default=4, title="Loops")
    loop_m: Size = Field(default=0.12, title="Each loop as long as")  # knot to the loop's far end
    end_m: Size = Field(default=0.3, title="Each end as long as")
    width_mm: Width = Field(default=25, title="Ribbon width, mm")
    colour: Name = Field(default="ivory", title="Ribbon colour")

    def cut_mm(self, practice: Practice) -> int:
        """Ribbon in one bow: out and back for every loop, two ends, a knot (common practice, no source)."""
        return whole_mm(self.loops * 2 * self.loop_m + 2 * self.end_m + practice.knot_m)

    def ribbons(self, setting: Setting) -> Iterator[Ribbon]:
        yield Ribbon(
            piece=setting.index, width_mm=self.width_mm, colour=self.colour,
            cut_mm=self.cut_mm(setting.practice), count=self.count,
        )  # fmt: skip

    def work(self, setting: Setting) -> Iterator[Times]:
        yield "tie a bow", "workshop", self.count

    def told(self, setting: Setting, worked: Worked, units: Units) -> Iterator[str]:
        yield f"{self.count} {self.colour} {plural(self.count, 'bow')}"

    def build_lines(self, setting: Setting, units: Units) -> Iterator[Work]:
        cut = write_cut(self.cut_mm(setting.practice), units)
        loop, end = write_length(self.loop_m, units), write_length(self.end_m, units)
        yield Work(
            what=f"ribbon {self.width_mm} mm, {self.colour}: cut {self.count} × {cut}",
            how=f"Bows of {self.loops} loops, {loop} each, with two ends of {end}; tied in the workshop.",
        )

    def draw(self, setting: Setting, worked: Worked, view: View) -> Iterator[Thing]:
        """Spread over the piece's path, loops in pairs and two ends. From the front only."""
        if view != "front":
            return
        piece, ink = setting.piece, ribbon_ink(setting.design, self.colour)
        at = (np.arange(self.count) + 0.5) / self.count * piece.support.length_m
        for x, z in piece.support.points(at):
            x_cm, y_cm = 100 * (x + piece.at_m), -100 * z
            strokes = [*self._loops(x_cm, y_cm), *self._ends(x_cm, y_cm)]
            for depth_m, d in strokes:
                yield draw_ribbon(setting.index, d, depth_m, ink=ink, width_mm=self.width_mm)

    def _loops(self, x_cm: float, y_cm: float) -> Iterator[tuple[float, str]]:
        out = 100 * self.loop_m
        for loop in range(self.loops):
            a = np.pi * (loop + 0.5) / self.loops + (np.pi if loop % 2 else 0)
            ux, uy = out * np.cos(a), -out * abs(np.sin(a)) * 0.6
            yield (
                0.55,
                (
                    f"M{x_cm:.1f} {y_cm:.1f}q{ux - uy / 3:.1f} {uy + ux / 3:.1f} {ux:.1f} {uy:.1f}"
                    f"q{-ux * 0.7 - uy / 4:.1f} {-uy * 0.7 + ux / 4:.1f} {-ux:.1f} {-uy:.1f}"
                ),
            )

    def _ends(self, x_cm: float, y_cm: float) -> Iterator[tuple[float, str]]:
        end = 100 * self.end_m
        for side in (-1, 1):
            d = f"M{x_cm:.1f} {y_cm:.1f}q{side * 3} {end / 2:.1f} {side * end * 0.3:.1f} {end:.1f}"
            yield 0.54, d

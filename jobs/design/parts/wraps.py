"""Ribbon wound round bare tube."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from pydantic import Field

from jobs.design.parts.base import Box, LoosePart, Operation, Ranks, Setting, Times
from jobs.design.picture_plane import Thing, View
from jobs.design.picture_soft import draw_ribbon, ribbon_ink
from jobs.design.places import stretch_of
from jobs.design.soft import Ribbon, helix, in_rolls, whole_mm
from jobs.design.stretch import Stretch
from jobs.design.takeoff import Work
from jobs.design.values import Name, Pitch, Place, Width
from studio.measure import Units, write_cut, write_length

if TYPE_CHECKING:
    from jobs.design.working import Worked


class Wrap(LoosePart):
    """Ribbon wound round a stretch of bare tube."""

    key: ClassVar[str] = "wraps"
    words: ClassVar[str] = "ribbon round the frame"
    heading: ClassVar[str] = "ribbon round the tube"
    row_words: ClassVar[str] = "a wrap"
    most: ClassVar[int] = 10
    ranks: ClassVar[Ranks] = Ranks(screen=9, work=8, words=8)
    always_written: ClassVar[bool] = True
    with_garland: ClassVar[bool] = True
    sheet_heading: ClassVar[str] = "Greenery and ribbon"
    boxes: ClassVar[dict[str, Box]] = {"ribbon": "soft"}
    operations: ClassVar[tuple[Operation, ...]] = (
        Operation(name="wrap a metre of ribbon", minutes=0.6),
    )

    start: Place = Field(title="From", examples=[{"share": 0}])
    end: Place = Field(title="To", examples=[{"share": 1}])
    pitch_m: Pitch = Field(default=0.1, title="One turn every")
    width_mm: Width = Field(default=25, title="Ribbon width, mm")
    colour: Name = Field(default="ivory", title="Ribbon colour")

    def stretch(self, setting: Setting) -> Stretch:
        return stretch_of(setting.piece.support, self.start, self.end)

    def ribbons(self, setting: Setting) -> Iterator[Ribbon]:
        """A helix round the tube and a knot at each end; as many whole rolls as it takes, and the rest."""
        turn = helix(setting.piece.support.tube_m, self.pitch_m)
        wound_m = self.stretch(setting).length_m * turn + 2 * setting.practice.knot_m
        for cut, count in in_rolls(whole_mm(wound_m), setting.practice):
            yield Ribbon(
                piece=setting.index, width_mm=self.width_mm, colour=self.colour, cut_mm=cut,
                count=count,
            )  # fmt: skip

    def work(self, setting: Setting) -> Iterator[Times]:
        for ribbon in self.ribbons(setting):
            yield "wrap a metre of ribbon", "site", ribbon.count * ribbon.cut_mm / 1000

    def told(self, setting: Setting, worked: Worked, units: Units) -> Iterator[str]:
        yield f"Frame wrapped in {self.colour} ribbon"

    def build_lines(self, setting: Setting, units: Units) -> Iterator[Work]:
        cuts = self.ribbons(setting)
        many = ", ".join(f"{r.count} × {write_cut(r.cut_mm, units)}" for r in cuts)
        turns = write_length(self.pitch_m, units)
        yield Work(
            what=f"ribbon {self.width_mm} mm, {self.colour}: cut {many}",
            where=self.stretch(setting).said(units),
            how=f"Wind it round the bare tube, one turn every {turns}, a knot at each end.",
        )

    def draw(self, setting: Setting, worked: Worked, view: View) -> Iterator[Thing]:
        """A slanted stroke over the tube at every turn. From the front only."""
        if view != "front":
            return
        piece, stretch = setting.piece, self.stretch(setting)
        turns = max(1, round(stretch.length_m / self.pitch_m))
        s = stretch.start_s_m + (np.arange(turns) + 0.5) / turns * stretch.length_m
        s %= piece.support.length_m + 1e-9
        half = 50 * max(piece.support.tube_m, 0.016)
        slant = 25 * self.pitch_m
        ink = ribbon_ink(setting.design, self.colour)
        at = zip(piece.support.points(s), piece.support.directions(s), strict=True)
        for (x, z), (ux, uz) in at:
            x_cm, y_cm = 100 * (x + piece.at_m), -100 * z
            dx, dy = slant * ux - half * uz, -slant * uz - half * ux
            d = f"M{x_cm - dx:.1f} {y_cm - dy:.1f}l{2 * dx:.1f} {2 * dy:.1f}"
            yield draw_ribbon(setting.index, d, 0.02, ink=ink, width_mm=self.width_mm)

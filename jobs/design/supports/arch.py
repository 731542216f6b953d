"""A half-ellipse arch standing on the floor."""

from __future__ import annotations

from functools import cached_property
from math import asin, pi
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field
from scipy.special import ellipe, ellipeinc

from jobs.design.supports.base import FramePart, NoSuchPlace, Side, Size, Support


class Arch(Support):
    """Half an ellipse of tube. The path starts at the left foot."""

    label: ClassVar[str] = "arch"

    kind: Literal["arch"] = "arch"
    curve: Literal["half-ellipse"] = "half-ellipse"
    span_m: Size = Field(title="Span", description="Foot to foot.")
    rise_m: Size = Field(title="Rise", description="Floor to the top of the curve.")

    @cached_property
    def _axes(self) -> tuple[float, float]:
        return self.span_m / 2, self.rise_m

    def _from_top_m(self, angle: NDArray[np.float64]) -> NDArray[np.float64]:
        """Length from the crown to the ellipse's parameter angle, measured from the crown.

        x = a sin t, z = b cos t: L(t) = a E(t | 1 − b²/a²) (DLMF 19.2.5; 19.30(i) for the whole).
        """
        a, b = self._axes
        return np.asarray(a * ellipeinc(angle, 1 - (b / a) ** 2), dtype=np.float64)

    @cached_property
    def _half_m(self) -> float:
        a, b = self._axes
        return float(a * ellipe(1 - (b / a) ** 2))

    @property
    def length_m(self) -> float:
        """Half the circumference of the ellipse, 2aE(m) with m = 1 − b²/a²."""
        return 2 * self._half_m

    def _angles(self, s_m: NDArray[np.float64]) -> NDArray[np.float64]:
        """Invert the arc length by Newton's method inside a bracket; good to 1e-12 m."""
        a, b = self._axes
        target = np.asarray(s_m, dtype=np.float64) - self._half_m
        low, high = np.full_like(target, -pi / 2), np.full_like(target, pi / 2)
        angle = np.clip(target / self._half_m, -1, 1) * pi / 2
        for _ in range(60):
            miss = self._from_top_m(angle) - target
            low, high = np.where(miss < 0, angle, low), np.where(miss > 0, angle, high)
            step = angle - miss / np.sqrt((a * np.cos(angle)) ** 2 + (b * np.sin(angle)) ** 2)
            angle = np.where((step >= low) & (step <= high), step, (low + high) / 2)
            if np.abs(miss).max(initial=0.0) < 1e-12:
                break
        return angle

    def points(self, s_m: NDArray[np.float64]) -> NDArray[np.float64]:
        a, b = self._axes
        angle = self._angles(s_m)
        return np.column_stack([a * np.sin(angle), b * np.cos(angle)])

    def s_at_height(self, height_m: float, side: Side) -> float:
        if not 0 <= height_m <= self.rise_m:
            raise NoSuchPlace(
                f"expected a height from 0 to {self.rise_m:.2f} m, got {height_m:.2f} m"
            )
        from_top = float(self._from_top_m(np.array(pi / 2 - asin(height_m / self.rise_m))))
        return self._half_m - from_top if side == "left" else self._half_m + from_top

    def frame_parts(self) -> tuple[FramePart, ...]:
        """Parts of equal tube length; the largest chord and the largest width decide."""
        chords, widths = [], []
        for i in range(self.part_count):
            s = np.linspace(i, i + 1, 65) * self.length_m / self.part_count
            along, across = _box(self.points(s))
            chords.append(along)
            widths.append(across)
        return (
            FramePart(
                name="arch section" if self.part_count > 1 else "arch",
                length_m=max(chords) + self.tube_m,
                width_m=max(widths) + self.tube_m,
                thickness_m=self.tube_m,
                count=self.part_count,
            ),
        )

    @property
    def top_m(self) -> float:
        return self.rise_m + self.tube_m / 2

    @property
    def width_m(self) -> float:
        return self.span_m + self.tube_m

    @property
    def words(self) -> str:
        return "arch"

    @property
    def kit_key(self) -> str:
        return "frame/arch"


def _box(points: NDArray[np.float64]) -> tuple[float, float]:
    """Longest and narrowest side of the narrowest box round points, turned every degree."""
    turn = np.radians(np.arange(180))
    shadows = points @ np.vstack([np.cos(turn), np.sin(turn)])
    widths = np.ptp(shadows, axis=0)
    narrow = int(widths.argmin())
    return float(widths[(narrow + 90) % 180]), float(widths[narrow])

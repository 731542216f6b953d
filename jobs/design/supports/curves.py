"""Plane curves measured by their own length: what the path of every support is made of.

A point is (x, z) in metres: x to the right, z up. `s` is the length from the curve's start, metres.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import atan2, ceil, floor, hypot, pi, sinh

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import ellipe, ellipeinc

type Array = NDArray[np.float64]
type Point = tuple[float, float]
ACROSS, UP = 0, 1
SAME_M = 1e-9  # lengths closer than this are one


class Curve(ABC):
    """A curve that knows its exact length, its points, its directions and where it turns back."""

    @property
    @abstractmethod
    def length_m(self) -> float:
        """Length of the whole curve."""

    @abstractmethod
    def points(self, s_m: Array) -> Array:
        """Points, shape (n, 2), at lengths s, shape (n,)."""

    @abstractmethod
    def directions(self, s_m: Array) -> Array:
        """Unit tangents, shape (n, 2), the way of the path."""

    @abstractmethod
    def turns(self, axis: int) -> tuple[float, ...]:
        """Lengths inside the curve between which it only rises or only falls along an axis."""

    def crossings(self, level_m: float, axis: int = UP) -> list[float]:
        """Lengths at which the curve stands at a level of an axis; none where it runs along the level."""
        ends = np.array([0.0, *sorted(self.turns(axis)), self.length_m])
        found: list[float] = []
        for (a, z_a), (b, z_b) in pairwise(
            zip(ends.tolist(), self.points(ends)[:, axis].tolist(), strict=True)
        ):
            low, high = min(z_a, z_b), max(z_a, z_b)
            if high - low < SAME_M or not low - SAME_M <= level_m <= high + SAME_M:
                continue
            s = self._solve(min(max(level_m, low), high), a, b, axis)
            if not found or s - found[-1] > SAME_M:
                found.append(s)
        return found

    def _solve(self, level_m: float, a: float, b: float, axis: int) -> float:
        def miss(s: float) -> float:
            return float(self.points(np.array([s]))[0, axis]) - level_m

        for end in (a, b):
            if abs(miss(end)) < 1e-12:
                return end
        return float(brentq(miss, a, b, xtol=1e-12))

    @cached_property
    def box(self) -> tuple[Point, Point]:
        """Lower left and upper right corner of the box round the curve."""
        s = np.array([0.0, *self.turns(ACROSS), *self.turns(UP), self.length_m])
        at = self.points(s)
        (x0, z0), (x1, z1) = at.min(axis=0).tolist(), at.max(axis=0).tolist()
        return (x0, z0), (x1, z1)


@dataclass(frozen=True)
class Line(Curve):
    """A straight line."""

    start: Point
    end: Point

    @property
    def length_m(self) -> float:
        return hypot(self.end[0] - self.start[0], self.end[1] - self.start[1])

    def points(self, s_m: Array) -> Array:
        share = np.asarray(s_m)[:, None] / self.length_m
        start, end = np.asarray(self.start, float), np.asarray(self.end, float)
        points: Array = start + share * (end - start)
        return points

    def directions(self, s_m: Array) -> Array:
        way = (np.asarray(self.end) - np.asarray(self.start)) / self.length_m
        return np.tile(way, (len(s_m), 1))

    def turns(self, axis: int) -> tuple[float, ...]:
        return ()


@dataclass(frozen=True)
class Arc(Curve):
    """Part of a circle: from an angle (radians, anticlockwise from the right) over a signed sweep."""

    centre: Point
    radius_m: float
    start: float
    sweep: float

    @property
    def length_m(self) -> float:
        return self.radius_m * abs(self.sweep)

    def _angles(self, s_m: Array) -> Array:
        return self.start + np.asarray(s_m) * (self.sweep / self.length_m)

    def points(self, s_m: Array) -> Array:
        a = self._angles(s_m)
        return np.asarray(self.centre) + self.radius_m * np.column_stack([np.cos(a), np.sin(a)])

    def directions(self, s_m: Array) -> Array:
        a, way = self._angles(s_m), 1.0 if self.sweep > 0 else -1.0
        return np.column_stack([-way * np.sin(a), way * np.cos(a)])

    def turns(self, axis: int) -> tuple[float, ...]:
        """Where x (angles kπ) or z (angles π/2 + kπ) is at an extreme."""
        off = 0.0 if axis == ACROSS else pi / 2
        low, high = sorted((self.start, self.start + self.sweep))
        angles = (off + k * pi for k in range(ceil((low - off) / pi), floor((high - off) / pi) + 1))
        found = (abs(a - self.start) * self.radius_m for a in angles)
        return tuple(sorted(s for s in found if SAME_M < s < self.length_m - SAME_M))


@dataclass(frozen=True)
class HalfEllipse(Curve):
    """The upper half of an ellipse with semi-axes a (across) and b (up), from left to right."""

    a_m: float
    b_m: float

    def _from_top_m(self, angle: Array) -> Array:
        """Length from the crown to the parameter angle t, where x = a sin t, z = b cos t.

        L(t) = a E(t | 1 − b²/a²) (DLMF 19.2.5; 19.30(i) for the whole).
        """
        return np.asarray(
            self.a_m * ellipeinc(angle, 1 - (self.b_m / self.a_m) ** 2), dtype=np.float64
        )

    @cached_property
    def _half_m(self) -> float:
        return float(self.a_m * ellipe(1 - (self.b_m / self.a_m) ** 2))

    @property
    def length_m(self) -> float:
        """Half the circumference, 2aE(m) with m = 1 − b²/a²."""
        return 2 * self._half_m

    def _angles(self, s_m: Array) -> Array:
        """Invert the arc length by Newton's method inside a bracket; good to 1e-12 m."""
        a, b = self.a_m, self.b_m
        target = np.asarray(s_m, dtype=np.float64) - self._half_m
        low, high = np.full_like(target, -pi / 2), np.full_like(target, pi / 2)
        angle = np.clip(target / self._half_m, -1, 1) * pi / 2
        for _ in range(60):
            miss = self._from_top_m(angle) - target
            low, high = np.where(miss < 0, angle, low), np.where(miss > 0, angle, high)
            step = angle - miss / np.hypot(a * np.cos(angle), b * np.sin(angle))
            angle = np.where((step >= low) & (step <= high), step, (low + high) / 2)
            if np.abs(miss).max(initial=0.0) < 1e-12:
                break
        return angle

    def points(self, s_m: Array) -> Array:
        angle = self._angles(s_m)
        return np.column_stack([self.a_m * np.sin(angle), self.b_m * np.cos(angle)])

    def directions(self, s_m: Array) -> Array:
        angle = self._angles(s_m)
        return _unit(np.column_stack([self.a_m * np.cos(angle), -self.b_m * np.sin(angle)]))

    def turns(self, axis: int) -> tuple[float, ...]:
        return (self._half_m,) if axis == UP else ()


@dataclass(frozen=True)
class Catenary(Curve):
    """A chain's curve between two points at one height, from left to right.

    `sag_m` > 0 hangs below the ends; < 0 stands above them, as a bent rod does. `end_z_m` is the ends' height.
    a solves a(cosh(S/2a) − 1) = |sag|; the length is 2a sinh(S/2a).
    """

    span_m: float
    sag_m: float
    end_z_m: float

    @cached_property
    def _a_m(self) -> float:
        """Solved in u = S/2a as 2 sinh²(u/2)/u = 2|sag|/S, which keeps its digits for a shallow curve."""
        goal = 2 * abs(self.sag_m) / self.span_m
        u = brentq(lambda u: 2 * sinh(u / 2) ** 2 / u - goal, 1e-9, 60.0, xtol=1e-15, rtol=1e-14)
        return self.span_m / (2 * float(u))

    @property
    def length_m(self) -> float:
        return 2 * self._a_m * sinh(self.span_m / (2 * self._a_m))

    def points(self, s_m: Array) -> Array:
        a, sign = self._a_m, 1.0 if self.sag_m > 0 else -1.0
        x = a * np.arcsinh((np.asarray(s_m) - self.length_m / 2) / a)
        over = a * (np.cosh(x / a) - 1) - abs(self.sag_m)  # 0 at the ends, −sag in the middle
        return np.column_stack([x, self.end_z_m + sign * over])

    def directions(self, s_m: Array) -> Array:
        slope = (np.asarray(s_m) - self.length_m / 2) / self._a_m
        sign = 1.0 if self.sag_m > 0 else -1.0
        return _unit(np.column_stack([np.ones_like(slope), sign * slope]))

    def turns(self, axis: int) -> tuple[float, ...]:
        return (self.length_m / 2,) if axis == UP else ()


GAUSS_X, GAUSS_W = np.polynomial.legendre.leggauss(16)
BEZIER_STEPS = 48


@dataclass(frozen=True)
class Bezier(Curve):
    """A cubic Bézier curve. Its length has no closed form: Gauss–Legendre over 48 steps of 16 points."""

    p0: Point
    p1: Point
    p2: Point
    p3: Point

    @cached_property
    def _power(self) -> Array:
        """Coefficients of t⁰ to t³, shape (4, 2)."""
        p0, p1, p2, p3 = (
            np.asarray(p, dtype=np.float64) for p in (self.p0, self.p1, self.p2, self.p3)
        )
        return np.array([p0, 3 * (p1 - p0), 3 * (p0 - 2 * p1 + p2), p3 - 3 * p2 + 3 * p1 - p0])

    def _speeds(self, t: Array) -> Array:
        _, c1, c2, c3 = self._power
        t = t[..., None]
        return np.asarray(np.linalg.norm(c1 + 2 * c2 * t + 3 * c3 * t * t, axis=-1))

    def _part_m(self, start: Array, end: Array) -> Array:
        """Length between parameters, elementwise."""
        half = (end - start) / 2
        at = (start + end)[:, None] / 2 + half[:, None] * GAUSS_X
        return np.asarray(half * (self._speeds(at) @ GAUSS_W))

    @cached_property
    def _table(self) -> tuple[Array, Array]:
        t = np.linspace(0, 1, BEZIER_STEPS + 1)
        return t, np.concatenate([[0.0], np.cumsum(self._part_m(t[:-1], t[1:]))])

    @property
    def length_m(self) -> float:
        return float(self._table[1][-1])

    def _parameters(self, s_m: Array) -> Array:
        """Invert the length by Newton's method inside the table's bracket."""
        knots, lengths = self._table
        s = np.clip(np.asarray(s_m, dtype=np.float64), 0, self.length_m)
        i = np.clip(np.searchsorted(lengths, s, side="right") - 1, 0, BEZIER_STEPS - 1)
        begin, left = knots[i], s - lengths[i]
        low, high = begin.copy(), knots[i + 1].copy()
        step_m = (lengths[i + 1] - lengths[i]).clip(1e-15)
        t = begin + (high - low) * left / step_m
        for _ in range(60):
            miss = self._part_m(begin, t) - left
            if np.abs(miss).max(initial=0.0) < 1e-12:
                break
            low, high = np.where(miss < 0, t, low), np.where(miss > 0, t, high)
            step = t - miss / self._speeds(t).clip(1e-12)
            t = np.where((step >= low) & (step <= high), step, (low + high) / 2)
        return np.asarray(t)

    def points(self, s_m: Array) -> Array:
        t = self._parameters(s_m)[:, None]
        c0, c1, c2, c3 = self._power
        return np.asarray(c0 + t * (c1 + t * (c2 + t * c3)))

    def directions(self, s_m: Array) -> Array:
        t = self._parameters(s_m)[:, None]
        _, c1, c2, c3 = self._power
        return _unit(np.asarray(c1 + 2 * c2 * t + 3 * c3 * t * t))

    def turns(self, axis: int) -> tuple[float, ...]:
        """Real roots of the derivative, a quadratic."""
        _, c1, c2, c3 = self._power[:, axis]
        roots = np.roots(np.trim_zeros(np.array([3 * c3, 2 * c2, c1]), "f"))
        inside = np.sort(
            np.array([r.real for r in roots if abs(r.imag) < 1e-12 and 0 < r.real < 1])
        )
        return tuple(self._part_from_start(inside)) if len(inside) else ()

    def _part_from_start(self, t: Array) -> Iterator[float]:
        knots, lengths = self._table
        i = np.clip(np.searchsorted(knots, t, side="right") - 1, 0, BEZIER_STEPS - 1)
        yield from (lengths[i] + self._part_m(knots[i], t)).tolist()


@dataclass(frozen=True)
class Chain(Curve):
    """Curves end to end."""

    parts: tuple[Curve, ...]

    @cached_property
    def _starts_m(self) -> Array:
        return np.concatenate([[0.0], np.cumsum([part.length_m for part in self.parts])])

    @property
    def length_m(self) -> float:
        return float(self._starts_m[-1])

    def _which(self, s: Array) -> NDArray[np.intp]:
        return np.clip(np.searchsorted(self._starts_m, s, side="right") - 1, 0, len(self.parts) - 1)

    def _each(self, s_m: Array, name: str) -> Array:
        s = np.asarray(s_m, dtype=np.float64)
        which, out = self._which(s), np.empty((len(s), 2))
        for i in np.unique(which):
            mine = which == i
            inside = np.clip(s[mine] - self._starts_m[i], 0, self.parts[i].length_m)
            out[mine] = getattr(self.parts[i], name)(inside)
        return out

    def points(self, s_m: Array) -> Array:
        return self._each(s_m, "points")

    def directions(self, s_m: Array) -> Array:
        return self._each(s_m, "directions")

    def turns(self, axis: int) -> tuple[float, ...]:
        inner = (
            float(start) + s
            for start, part in zip(self._starts_m, self.parts, strict=False)
            for s in part.turns(axis)
        )
        return tuple(sorted([*inner, *self._starts_m[1:-1].tolist()]))


def polyline(points: tuple[Point, ...]) -> Curve:
    """Straight lines from point to point."""
    return Chain(tuple(Line(a, b) for a, b in pairwise(points)))


def smooth(points: tuple[Point, ...]) -> Curve:
    """A smooth curve through points: centripetal Catmull–Rom, which makes no loops between them.

    (C. Yuksel, S. Schaefer, J. Keyser, Computer-Aided Design 2011; from memory.)
    """
    if len(points) == 2:
        return polyline(points)
    at = [np.asarray(p, dtype=np.float64) for p in points]
    at = [2 * at[0] - at[1], *at, 2 * at[-1] - at[-2]]
    return Chain(tuple(_between(*at[i : i + 4]) for i in range(len(points) - 1)))


def _between(p0: Array, p1: Array, p2: Array, p3: Array) -> Bezier:
    d1, d2, d3 = (float(np.sqrt(np.linalg.norm(b - a))) for a, b in ((p0, p1), (p1, p2), (p2, p3)))
    b1 = (d1**2 * p2 - d2**2 * p0 + (2 * d1**2 + 3 * d1 * d2 + d2**2) * p1) / (3 * d1 * (d1 + d2))
    b2 = (d3**2 * p1 - d2**2 * p3 + (2 * d3**2 + 3 * d3 * d2 + d2**2) * p2) / (3 * d3 * (d3 + d2))
    return Bezier(*((float(p[0]), float(p[1])) for p in (p1, b1, b2, p2)))


def arc_over(span_m: float, rise_m: float) -> Arc:
    """The circular arc from (−span/2, 0) over its crown to (span/2, 0); a rise above span/2 makes a major arc.

    R = (S²/4 + f²)/2f.
    """
    radius = (span_m**2 / 4 + rise_m**2) / (2 * rise_m)
    half = atan2(span_m / 2, radius - rise_m)
    return Arc((0.0, rise_m - radius), radius, pi / 2 + half, -2 * half)


def _unit(way: Array) -> Array:
    return np.asarray(way / np.linalg.norm(way, axis=1, keepdims=True).clip(1e-12))

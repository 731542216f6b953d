"""Clusters along a length: how many, where, how large. Pure arithmetic on a straightened run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

from jobs.design.clusters import pitch_m
from jobs.design.document import Run
from jobs.design.practice import Practice
from jobs.design.values import Recipe

type Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """The clusters of one run in order; arrays of one length."""

    recipes: tuple[Recipe, ...]
    at_m: Array  # centres, from the run's start
    scale: Array  # ball diameter over the recipe's own
    pitch_m: Array  # length that each takes
    tightness: float  # real pitch over that of rigid balls that touch


@dataclass(frozen=True, slots=True)
class Taper:
    """Ball size along a run of length L, linear from 1 at the thick end to t at the thin one.

    A cluster of size f takes f times its length, so a run is even in τ(s) = ∫ ds/f: all its clusters are
    laid there at full size and brought back. For f = 1 − (1 − t)s/L, τ = −L ln f/(1 − t).
    """

    thin: float
    thick: str

    def even_m(self, length_m: float) -> float:
        """Length of the run in τ: L·ln(1/t)/(1 − t), whichever end is thick."""
        return length_m * (log(1 / self.thin) / (1 - self.thin) if self.thin < 1 else 1.0)

    def back(self, tau_m: Array, length_m: float) -> tuple[Array, Array]:
        """Lengths along the run, and sizes there, from lengths in τ."""
        if self.thin >= 1:
            return tau_m, np.ones_like(tau_m)
        if self.thick == "in the middle":
            half = length_m / 2
            first = tau_m <= self.even_m(half)
            up = half - self._falling(self.even_m(half) - tau_m, half)
            down = half + self._falling(tau_m - self.even_m(half), half)
            s = np.where(first, up, down)
            size = self.thin + (1 - self.thin) * (1 - np.abs(2 * s / length_m - 1))
        elif self.thick == "at the end":
            s = length_m - self._falling(self.even_m(length_m) - tau_m, length_m)
            size = self.thin + (1 - self.thin) * s / length_m
        else:
            s = self._falling(tau_m, length_m)
            size = 1 - (1 - self.thin) * s / length_m
        return s, size

    def _falling(self, tau_m: Array, length_m: float) -> Array:
        rate = 1 - self.thin
        return np.asarray(
            length_m * (1 - np.exp(-np.clip(tau_m, 0, None) * rate / length_m)) / rate
        )


def lay(
    run: Run,
    recipes: Mapping[str, Recipe],
    length_m: float,
    feature_at_m: Mapping[str, tuple[float, ...]],
    practice: Practice,
) -> Laid:
    """Fill a run's length with its pattern, evenly; at least one cluster.

    The last cluster is left out when less than half of it would fit, so a longer run never has fewer.
    A run told how many it has takes them, closer or wider. In front only, one layer covers half the
    section, so a cluster takes twice the length. `feature_at_m` gives, by recipe, lengths from the start.
    """
    pattern = [recipes[name] for name in run.pattern]
    every = [(f.every, recipes[f.recipe]) for f in run.features if f.every]
    wide = (2 if run.lies == "in front" else 1) / run.fullness
    taper = Taper(run.taper, run.thick)
    even_m = taper.even_m(length_m)
    shortest = min(pitch_m(r, practice.squeeze) for r in [*pattern, *(r for _, r in every)]) * wide
    most = run.clusters or int(even_m / shortest) + 2
    order = _sequence(pattern, every, most)
    each = {r.name: pitch_m(r, practice.squeeze) for r in order}
    pitches = np.array([each[r.name] for r in order]) * wide
    ends = np.cumsum(pitches)
    count = run.clusters or max(1, int(np.searchsorted(ends - pitches / 2, even_m, side="right")))
    stretch = even_m / float(ends[count - 1])
    middles = (ends - pitches / 2)[:count] * stretch
    at, size = taper.back(middles, length_m)
    chosen = _stand_in(order[:count], at, recipes, feature_at_m)
    return Laid(
        recipes=tuple(chosen),
        at_m=at,
        scale=size,
        pitch_m=pitches[:count] * stretch * size,
        tightness=stretch * wide * practice.squeeze / (2 if run.lies == "in front" else 1),
    )


def _sequence(pattern: list[Recipe], every: list[tuple[int, Recipe]], most: int) -> list[Recipe]:
    order = [pattern[i % len(pattern)] for i in range(most)]
    for step, recipe in every:
        order[step - 1 :: step] = [recipe] * len(order[step - 1 :: step])
    return order


def _stand_in(
    order: list[Recipe],
    at: Array,
    recipes: Mapping[str, Recipe],
    wanted: Mapping[str, tuple[float, ...]],
) -> list[Recipe]:
    """Features at places take the nearest cluster's stand, each one of its own while there are any."""
    taken: set[int] = set()
    for name, places in wanted.items():
        for place in places:
            nearest = np.abs(at - place).argsort(kind="stable").tolist()
            mine = next((n for n in nearest if n not in taken), nearest[0])
            taken.add(mine)
            order[mine] = recipes[name]
    return order

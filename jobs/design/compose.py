"""Document → composition: every cluster with its place, its balls and their colours.

One list feeds everything after it: the counts tally it, the picture draws it, the build follows it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from math import gcd

import numpy as np
from numpy.typing import NDArray

from jobs.design.along import lay
from jobs.design.clusters import outer_m
from jobs.design.composition import Ball as Ball
from jobs.design.composition import Cluster as Cluster
from jobs.design.composition import Composition as Composition
from jobs.design.document import Design, Run
from jobs.design.palette import deal
from jobs.design.parts import LoosePart, Setting
from jobs.design.places import s_of, stretch_of
from jobs.design.practice import Practice
from jobs.design.stretch import Stretch
from jobs.design.values import Hold, Place, Recipe

type Array = NDArray[np.float64]
type Dealt = dict[tuple[int, ...], list[int]]  # by weights: balls of each colour so far
type Sizes = list[tuple[str, float]]  # of a cluster's balls: nominal size, finished diameter
LEVEL = 0.5  # a tube that goes across more than this part of its way is level to the hand


def compose(design: Design, practice: Practice) -> Composition:
    """Lay every cluster, strand and ribbon of a design out. Raises NoSuchPlace for a place off a support."""
    recipes = {recipe.name: recipe for recipe in design.recipes}
    dealt: Dealt = {}
    layings = [
        Laying(design, recipes, index, practice, dealt) for index in range(len(design.pieces))
    ]
    clusters = [cluster for laying in layings for cluster in laying.clusters()]
    parts = tuple(settings_of(design, practice))
    return Composition(
        clusters=tuple(clusters),
        ribbons=tuple(ribbon for part, setting in parts for ribbon in part.ribbons(setting)),
        parts=parts,
        stretches=tuple(laying.stretches for laying in layings),
        tightness=tuple(tuple(laying.tightness) for laying in layings),
    )


def settings_of(design: Design, practice: Practice) -> Iterator[tuple[LoosePart, Setting]]:
    """Every loose part with what is round it, piece by piece, in the order of work."""
    seen: Counter[type[LoosePart]] = Counter()
    for index, piece in enumerate(design.pieces):
        for part in piece.loose_parts():
            yield (
                part,
                Setting(
                    design=design,
                    piece=piece,
                    index=index,
                    number=seen[type(part)],
                    practice=practice,
                ),
            )
            seen[type(part)] += 1


class Laying:
    """The clusters of one piece as they are laid, in the order of work: runs, then each loose part."""

    def __init__(
        self,
        design: Design,
        recipes: Mapping[str, Recipe],
        index: int,
        practice: Practice,
        dealt: Dealt,
    ) -> None:
        self.dealt = dealt
        self.palette, self.recipes = design.palette, recipes
        self.index, self.piece, self.practice = index, design.pieces[index], practice
        self.rng = np.random.default_rng([design.seed, index])
        runs, support = self.piece.runs, self.piece.support
        self.stretches = tuple(stretch_of(support, r.start, r.end) for r in runs)
        self.tightness: list[float] = []
        self.made: dict[tuple[str, float, int], Ball] = {}

    @property
    def run_m(self) -> float:
        """Length of all runs; of the whole support where there are none."""
        return sum(s.length_m for s in self.stretches) or self.piece.support.length_m

    def clusters(self) -> Iterator[Cluster]:
        for number, (run, stretch) in enumerate(zip(self.piece.runs, self.stretches, strict=True)):
            yield from self.on_run(number, run, stretch)
        for part in self.piece.loose_parts():
            yield from part.lay(self)

    def coloured(
        self, sizes: Sequence[Sizes], weights: Mapping[str, int]
    ) -> list[tuple[Ball, ...]]:
        """Balls for each cluster's sizes, in an unlike order.

        Colours go by their shares of all balls so far, in the whole design, that have the same weights.
        """
        given = [weights.get(c.name, 0) if weights else c.weight for c in self.palette]
        common = gcd(*given) or 1
        shares = tuple(weight // common for weight in given)
        so_far = self.dealt.setdefault(shares, [0] * len(shares))
        colours = deal(shares, sum(map(len, sizes)), self.rng, so_far)
        for colour in colours:
            so_far[colour] += 1
        order = iter(colours)
        return [
            tuple(self.ball(size, blown, next(order)) for size, blown in mine) for mine in sizes
        ]

    def ball(self, size: str, blown_m: float, colour: int) -> Ball:
        """Equal balls are one value."""
        key = (size, blown_m, colour)
        if key not in self.made:
            self.made[key] = Ball(size=size, blown_m=blown_m, colour=self.palette[colour])
        return self.made[key]

    def on_run(self, number: int, run: Run, stretch: Stretch) -> Iterator[Cluster]:
        support = self.piece.support
        wanted = {
            f.recipe: tuple((s_of(support, p) - stretch.start_s_m) % support.length_m for p in f.at)
            for f in run.features
        }
        laid = lay(run, self.recipes, stretch.length_m, wanted, self.practice)
        self.tightness.append(laid.tightness)
        sizes = [
            self.sized(recipe, scale)
            for recipe, scale in zip(laid.recipes, laid.scale.tolist(), strict=True)
        ]
        balls = self.coloured(sizes, run.weights)
        s = (stretch.start_s_m + laid.at_m) % (support.length_m + 1e-9)
        points, ways = support.points(s), support.directions(s)
        rows = zip(
            laid.recipes,
            balls,
            s.tolist(),
            points.tolist(),
            ways.tolist(),
            laid.pitch_m.tolist(),
            strict=True,
        )
        for recipe, mine, along, (x, z), (across, _), pitch in rows:
            yield Cluster(
                piece=self.index, maker=run, run=number, recipe=recipe.name, balls=mine,
                hold=self.hold(run.hold, z, across), s_m=along, x_m=self.piece.at_m + x, y_m=0.0, z_m=z,
                pitch_m=pitch, lies=run.lies,
            )  # fmt: skip

    def sized(self, recipe: Recipe, scale: float) -> list[tuple[str, float]]:
        """Nominal size and finished diameter of each ball; a taper goes by the template's holes."""
        step = self.practice.template_m
        return [
            (b.size, b.blown_m if scale >= 1 else max(step, round(b.blown_m * scale / step) * step))
            for b in recipe.balls
            for _ in range(b.count)
        ]

    def hold(self, wanted: Hold, z_m: float, across: float) -> Hold:
        """Where a level tube is too near the floor to twist a lock round it, the cluster is tied."""
        low = z_m < self.practice.twist_clear_m and abs(across) > LEVEL
        return "tied" if low and wanted == "locked" else wanted

    def loose(
        self, part: LoosePart, recipe: str, balls: tuple[Ball, ...], x: float, y: float, z: float
    ) -> Cluster:
        """A cluster that stands or hangs by itself, at (x, y, z) from the piece's centre line on the floor."""
        return Cluster(
            piece=self.index, maker=part, run=-1, recipe=recipe, balls=balls, hold="tied", s_m=0.0,
            x_m=self.piece.at_m + x, y_m=y, z_m=z, pitch_m=0.0,
        )  # fmt: skip

    def set_along(
        self,
        part: LoosePart,
        recipe: str,
        sizes: Sequence[Sizes],
        weights: Mapping[str, int],
        at: Sequence[Place] = (),
    ) -> Iterator[Cluster]:
        """Spread evenly, a little at random, in front of the runs (of the whole support where there are none).

        The first of them stand at places, where some are given.
        """
        support, count = self.piece.support, len(sizes)
        stretches = self.stretches or (Stretch(start_s_m=0, end_s_m=support.length_m),)
        ends = np.cumsum([s.length_m for s in stretches])
        along = (np.arange(count) + self.rng.uniform(0.2, 0.8, count)) / count * ends[-1]
        which = np.searchsorted(ends, along, side="right").clip(max=len(stretches) - 1)
        begun = np.concatenate([[0.0], ends[:-1]])
        first = np.array([s.start_s_m for s in stretches])
        s = (first[which] + along - begun[which]) % (support.length_m + 1e-9)
        given = [s_of(support, place) for place in at][:count]
        s[: len(given)] = given
        which[: len(given)] = [self.run_at(place) for place in given]
        dealt = self.coloured(sizes, weights)
        reach = [self.reach_m(run) for run in range(len(stretches))]
        out = [max(blown_m for _, blown_m in balls) / 2 for balls in sizes]
        rows = zip(dealt, out, s.tolist(), which.tolist(), support.points(s).tolist(), strict=True)
        for mine, half, s_m, run, (x, z) in rows:
            yield Cluster(
                piece=self.index, maker=part, run=run if self.stretches else -1, recipe=recipe,
                balls=mine, hold="tied", s_m=s_m, x_m=self.piece.at_m + x,
                y_m=0.8 * (reach[run] + half), z_m=z, pitch_m=0.0,
            )  # fmt: skip

    def run_at(self, s_m: float) -> int:
        """The run that lies at a place, or the first where none does."""
        turn = self.piece.support.length_m if self.piece.support.closed else 0.0
        here = [
            i
            for i, stretch in enumerate(self.stretches)
            if any(stretch.start_s_m <= s_m + t <= stretch.end_s_m for t in (0.0, turn))
        ]
        return here[0] if here else 0

    def reach_m(self, run: int) -> float:
        """How far the clusters of a run stand out from the tube."""
        if not self.piece.runs:
            return self.piece.support.tube_m / 2
        recipes = [self.recipes[name] for name in self.piece.runs[run].pattern]
        return max(
            outer_m(min(r.ball_count, 12), max(b.blown_m for b in r.balls)) / 2 for r in recipes
        )

"""Document → composition: every cluster with its place, its balls and their colours.

One list feeds everything after it: the counts tally it, the picture draws it, the build follows it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import ceil, gcd
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from jobs.design.along import lay
from jobs.design.clusters import heap_balls, mean_ball_m, outer_m
from jobs.design.document import (
    Accents,
    Colour,
    Design,
    Features,
    Hold,
    Lies,
    Piece,
    Recipe,
    Run,
    Skirt,
)
from jobs.design.palette import deal
from jobs.design.places import s_of, stretch_of
from jobs.design.practice import Practice
from jobs.design.soft import Ribbon, Strands, measure_greenery, measure_ribbons
from jobs.design.stretch import Stretch

type Array = NDArray[np.float64]
type Dealt = dict[tuple[int, ...], list[int]]  # by weights: balls of each colour so far
type Part = Literal["run", "skirt", "feature", "accent", "topper", "floater"]
MINI_BALLS = 8  # a mini is two quads of small balls (common practice, no source)
FLOATER_ROWS = 4  # deep; what is more crowded hangs lower instead
LEVEL = 0.5  # a tube that goes across more than this part of its way is level to the hand


@dataclass(frozen=True, slots=True, kw_only=True)
class Ball:
    size: str  # nominal: "11 in"
    blown_m: float  # finished diameter
    colour: Colour


@dataclass(frozen=True, slots=True, kw_only=True)
class Cluster:
    """One cluster, its centre before the balls settle, and what it is made of."""

    piece: int  # index in the document
    part: Part
    run: int  # index of the run it sits on; -1 for none
    recipe: str
    balls: tuple[Ball, ...]
    hold: Hold
    s_m: float  # along the support; 0 for what is not on it
    x_m: float  # in the room, from the middle of the wall
    y_m: float  # toward the viewer from the support's plane
    z_m: float  # above the floor
    pitch_m: float  # length that it takes along the support
    lies: Lies = "all round"


@dataclass(frozen=True, slots=True, kw_only=True)
class Composition:
    clusters: tuple[Cluster, ...]
    strands: tuple[Strands, ...]
    ribbons: tuple[Ribbon, ...]
    stretches: tuple[tuple[Stretch, ...], ...]  # per piece, per run
    tightness: tuple[
        tuple[float, ...], ...
    ]  # likewise: real pitch over that of balls that just touch
    stems: tuple[tuple[str, int], ...]  # per piece with any: plant, count


def compose(design: Design, practice: Practice) -> Composition:
    """Lay every cluster, strand and ribbon of a design out. Raises NoSuchPlace for a place off a support."""
    recipes = {recipe.name: recipe for recipe in design.recipes}
    dealt: Dealt = {}
    builders = [
        _PieceBuilder(design, recipes, index, piece, practice, dealt)
        for index, piece in enumerate(design.pieces)
    ]
    clusters = [cluster for builder in builders for cluster in builder.clusters()]
    pieces = list(enumerate(design.pieces))
    return Composition(
        clusters=tuple(clusters),
        strands=tuple(measure_greenery(i, p, g, practice) for i, p in pieces for g in p.greenery),
        ribbons=tuple(r for i, p in pieces for r in measure_ribbons(i, p, practice)),
        stretches=tuple(builder.stretches for builder in builders),
        tightness=tuple(tuple(builder.tightness) for builder in builders),
        stems=tuple(
            (b.piece.stems.plant, _how_many(b.piece.stems.count, b.piece.stems.per_m, b.run_m))
            for b in builders
            if b.piece.stems
        ),
    )


def _how_many(count: int | None, per_m: float | None, length_m: float) -> int:
    """A count, or so many for each metre, at least one."""
    return count or max(1, ceil((per_m or 0) * length_m - 1e-9))


class _PieceBuilder:
    """The clusters of one piece, in the order of work: runs, topper, skirt, features, accents, floaters."""

    def __init__(
        self,
        design: Design,
        recipes: Mapping[str, Recipe],
        index: int,
        piece: Piece,
        practice: Practice,
        dealt: Dealt,
    ) -> None:
        self.dealt = dealt
        self.palette, self.recipes = design.palette, recipes
        self.index, self.piece, self.practice = index, piece, practice
        self.rng = np.random.default_rng([design.seed, index])
        self.stretches = tuple(stretch_of(piece.support, r.start, r.end) for r in piece.runs)
        self.tightness: list[float] = []
        self.made: dict[tuple[str, float, int], Ball] = {}

    @property
    def run_m(self) -> float:
        """Length of all runs; of the whole support where there are none."""
        return sum(s.length_m for s in self.stretches) or self.piece.support.length_m

    def clusters(self) -> Iterator[Cluster]:
        for number, (run, stretch) in enumerate(zip(self.piece.runs, self.stretches, strict=True)):
            yield from self.on_run(number, run, stretch)
        yield from self.topper()
        if self.piece.skirt:
            yield from self.skirt(self.piece.skirt)
        if self.piece.features:
            yield from self.set_along("feature", self.piece.features, self.piece.features.count, 1)
        if accents := self.piece.accents:
            count = _how_many(accents.count, accents.per_m, self.run_m)
            yield from self.set_along("accent", accents, count, MINI_BALLS)
        yield from self.floaters()

    def coloured(
        self, sizes: list[list[tuple[str, float]]], weights: Mapping[str, int]
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
                piece=self.index, part="run", run=number, recipe=recipe.name, balls=mine,
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

    def topper(self) -> Iterator[Cluster]:
        if topper := self.piece.topper:
            (mine,) = self.coloured([[(topper.size, topper.blown_m)]], topper.weights)
            ((x, z),) = self.piece.support.points(np.array([self.piece.support.length_m])).tolist()
            yield self.loose("topper", topper.size, mine, x, 0.0, z + topper.blown_m / 2)

    def loose(
        self, part: Part, recipe: str, balls: tuple[Ball, ...], x: float, y: float, z: float
    ) -> Cluster:
        return Cluster(
            piece=self.index, part=part, run=-1, recipe=recipe, balls=balls, hold="tied", s_m=0.0,
            x_m=self.piece.at_m + x, y_m=y, z_m=z, pitch_m=0.0,
        )  # fmt: skip

    def skirt(self, skirt: Skirt) -> Iterator[Cluster]:
        recipe = self.recipes[skirt.recipe]
        count = skirt.clusters or heap_clusters(skirt, recipe, self.practice)
        outer = outer_m(recipe.ball_count, max(b.blown_m for b in recipe.balls))
        x = ((np.arange(count) + 0.5) / count - 0.5) * skirt.width_m + skirt.centre_m
        row = self.rng.permutation(np.arange(count) % 3)
        if skirt.depth_m is None:
            y = outer * (0.3 + 0.35 * row)
        else:
            y = np.maximum(skirt.depth_m * (row + 0.5) / 3, outer * 0.3)
        rise = max((skirt.height_m or 0.0) - outer, 0.0)
        z = outer / 2 + rise * self.rng.uniform(0, 1, count) * (1 - row / 3)
        dealt = self.coloured([self.sized(recipe, 1)] * count, skirt.weights)
        for mine, *at in zip(dealt, x.tolist(), y.tolist(), z.tolist(), strict=True):
            yield self.loose("skirt", recipe.name, mine, *at)

    def set_along(
        self, part: Part, what: Accents | Features, count: int, each: int
    ) -> Iterator[Cluster]:
        """Spread evenly, a little at random, in front of the runs (of the whole support where there are none)."""
        support = self.piece.support
        stretches = self.stretches or (Stretch(start_s_m=0, end_s_m=support.length_m),)
        ends = np.cumsum([s.length_m for s in stretches])
        at = (np.arange(count) + self.rng.uniform(0.2, 0.8, count)) / count * ends[-1]
        which = np.searchsorted(ends, at, side="right").clip(max=len(stretches) - 1)
        begun = np.concatenate([[0.0], ends[:-1]])
        first = np.array([s.start_s_m for s in stretches])
        s = (first[which] + at - begun[which]) % (support.length_m + 1e-9)
        given = [s_of(support, place) for place in getattr(what, "at", ())][:count]
        s[: len(given)] = given
        which[: len(given)] = [self.run_at(place) for place in given]
        dealt = self.coloured([[(what.size, what.blown_m)] * each] * count, what.weights)
        reach = [self.reach_m(run) + what.blown_m / 2 for run in range(len(stretches))]
        rows = zip(dealt, s.tolist(), which.tolist(), support.points(s).tolist(), strict=True)
        for mine, along, run, (x, z) in rows:
            yield Cluster(
                piece=self.index, part=part, run=run if self.stretches else -1,
                recipe="mini" if part == "accent" else what.size, balls=mine, hold="tied",
                s_m=along, x_m=self.piece.at_m + x, y_m=0.8 * reach[run], z_m=z, pitch_m=0.0,
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

    def floaters(self) -> Iterator[Cluster]:
        """Evenly over their width in two rows; the crowded in up to four, then also lower ones under them."""
        floaters = self.piece.floaters
        if floaters is None:
            return
        count = floaters.count
        dealt = self.coloured([[(floaters.size, floaters.blown_m)]] * count, floaters.weights)
        x = ((np.arange(count) + 0.5) / count - 0.5) * floaters.spread_m + floaters.centre_m
        lines = ceil(count * floaters.blown_m / floaters.spread_m - 1e-9)  # that lie ball by ball
        rows = min(max(lines, 2), FLOATER_ROWS)
        levels = min(ceil(lines / rows), 1 + int(floaters.height_m / floaters.blown_m))
        y = -0.1 - floaters.blown_m * (np.arange(count) % rows)
        lower = floaters.blown_m * (np.arange(count) // rows % max(levels, 1))
        z = floaters.height_m + floaters.blown_m / 2 - lower
        for mine, *at in zip(dealt, x.tolist(), y.tolist(), z.tolist(), strict=True):
            yield self.loose("floater", floaters.size, mine, *at)


def heap_clusters(skirt: Skirt, recipe: Recipe, practice: Practice) -> int:
    """Clusters that fill a skirt's width, depth and height; at least one."""
    balls = heap_balls(
        width_m=skirt.width_m,
        depth_m=skirt.depth_m or 0.0,
        height_m=skirt.height_m or 0.0,
        ball_m=mean_ball_m(recipe.balls),
        packing=practice.heap_packing,
    )
    return max(1, ceil(balls / recipe.ball_count - 1e-9))


def pieces_on_gas(design: Design) -> frozenset[int]:
    """Places of the pieces whose floaters are filled with helium, on site."""
    floating = ((i, piece.floaters) for i, piece in enumerate(design.pieces))
    return frozenset(i for i, floaters in floating if floaters and floaters.on == "helium")

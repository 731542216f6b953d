"""Document → composition: every cluster with its place, its balls and their colours.

One list feeds everything after it: the counts tally it, the picture draws it, the build follows it.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import ceil, pi, sqrt
from typing import Literal

import numpy as np

from jobs.design.clusters import outer_m, pitch_m
from jobs.design.document import (
    Accents,
    Balls,
    Colour,
    Design,
    Features,
    Greenery,
    Hold,
    Piece,
    Recipe,
    Run,
)
from jobs.design.palette import deal
from jobs.design.places import stretch_of
from jobs.design.practice import Practice
from jobs.design.stretch import Stretch

type Part = Literal["run", "skirt", "accent", "feature"]
MINI_BALLS = 8  # a mini is two quads of small balls (common practice, no source)


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
    s_m: float  # along the support; 0 for a skirt
    x_m: float  # in the room, from the middle of the wall
    y_m: float  # toward the viewer from the support's plane
    z_m: float  # above the floor
    pitch_m: float  # length that it takes along the support


@dataclass(frozen=True, slots=True, kw_only=True)
class Strands:
    """Greenery as it is cut and fastened."""

    piece: int
    plant: str
    stretch: Stretch
    needed_m: float  # length of one wrapped strand over the stretch
    lengths: int  # strand lengths end to end
    side_by_side: int
    strand_m: float
    pitch_m: float | None
    fasteners: int

    @property
    def strands(self) -> int:
        return self.lengths * self.side_by_side


@dataclass(frozen=True, slots=True, kw_only=True)
class Composition:
    clusters: tuple[Cluster, ...]
    strands: tuple[Strands, ...]
    stretches: tuple[tuple[Stretch, ...], ...]  # per piece, per run


def compose(design: Design, practice: Practice) -> Composition:
    """Lay every cluster and strand of a design out. Raises NoSuchPlace for a place off a support."""
    recipes = {recipe.name: recipe for recipe in design.recipes}
    clusters: list[Cluster] = []
    strands: list[Strands] = []
    stretches: list[tuple[Stretch, ...]] = []
    for index, piece in enumerate(design.pieces):
        builder = _PieceBuilder(design, recipes, index, piece, practice)
        clusters += builder.clusters()
        strands += [measure_greenery(index, piece, g, practice) for g in piece.greenery]
        stretches.append(builder.stretches)
    return Composition(clusters=tuple(clusters), strands=tuple(strands), stretches=tuple(stretches))


def fill(length_m: float, pitches: tuple[float, ...]) -> list[tuple[int, float]]:
    """Clusters that fill a length: (index in the pattern, centre), evenly spread; at least one.

    The pattern repeats; the last cluster is left out when less than half of it would fit, so a longer
    run never has fewer. All pitches are then stretched alike to end where the run ends.
    """
    cycle_m = sum(pitches)
    cycles = int(length_m / cycle_m)
    starts = list(np.concatenate([[0.0], np.cumsum(pitches * (cycles + 1))]))
    count = max(1, sum(1 for s, e in itertools.pairwise(starts) if (s + e) / 2 <= length_m))
    scale = length_m / starts[count]
    return [(i % len(pitches), (starts[i] + starts[i + 1]) / 2 * scale) for i in range(count)]


def measure_greenery(index: int, piece: Piece, greenery: Greenery, practice: Practice) -> Strands:
    """Strand lengths for a stretch.

    A wrapped strand runs as a helix: √(1 + (πD/p)²) metres a metre, D the tube with the stem. Lengths
    that meet overlap. Fasteners hold both ends of each length and no gap is wider than asked; strands
    side by side share them.
    """
    stretch = stretch_of(piece.support, greenery.start, greenery.end)
    across_m = piece.support.tube_m + practice.stem_m
    pitch = greenery.wrap_pitch_m
    needed_m = stretch.length_m * (sqrt(1 + (pi * across_m / pitch) ** 2) if pitch else 1.0)
    gain_m = greenery.strand_m - greenery.overlap_m
    lengths = max(1, ceil((needed_m - greenery.overlap_m) / gain_m - 1e-9))
    on_one_m = min(greenery.strand_m, needed_m)
    return Strands(
        piece=index,
        plant=greenery.plant,
        stretch=stretch,
        needed_m=needed_m,
        lengths=lengths,
        side_by_side=greenery.side_by_side,
        strand_m=greenery.strand_m,
        pitch_m=pitch,
        fasteners=lengths * (ceil(on_one_m / greenery.fastener_gap_m - 1e-9) + 1),
    )


class _PieceBuilder:
    """The clusters of one piece, in the order of work: runs, skirt, features, accents."""

    def __init__(
        self,
        design: Design,
        recipes: Mapping[str, Recipe],
        index: int,
        piece: Piece,
        practice: Practice,
    ) -> None:
        self.palette, self.recipes = design.palette, recipes
        self.index, self.piece, self.practice = index, piece, practice
        self.rng = np.random.default_rng([design.seed, index])
        self.stretches = tuple(stretch_of(piece.support, r.start, r.end) for r in piece.runs)

    def clusters(self) -> Iterator[Cluster]:
        for number, (run, stretch) in enumerate(zip(self.piece.runs, self.stretches, strict=True)):
            yield from self.on_run(number, run, stretch)
        yield from self.skirt()
        if self.piece.features:
            yield from self.set_along("feature", self.piece.features, 1)
        if self.piece.accents:
            yield from self.set_along("accent", self.piece.accents, MINI_BALLS)

    def coloured(
        self, wanted: list[tuple[Balls, ...]], weights: Mapping[str, int]
    ) -> list[tuple[Ball, ...]]:
        """Balls for each cluster; the colours of the whole list are right to one, in an unlike order."""
        flat = [(b.size, b.blown_m) for balls in wanted for b in balls for _ in range(b.count)]
        shares = [weights.get(c.name, 0) if weights else c.weight for c in self.palette]
        order = deal(shares, len(flat), self.rng)
        dealt = iter(
            Ball(size=size, blown_m=blown, colour=self.palette[i])
            for (size, blown), i in zip(flat, order, strict=True)
        )
        return [tuple(next(dealt) for b in balls for _ in range(b.count)) for balls in wanted]

    def on_run(self, number: int, run: Run, stretch: Stretch) -> Iterator[Cluster]:
        pattern = [self.recipes[name] for name in run.pattern]
        pitches = tuple(pitch_m(recipe, self.practice.squeeze) for recipe in pattern)
        places = fill(stretch.length_m, pitches)
        balls = self.coloured([pattern[i].balls for i, _ in places], run.weights)
        s = np.array([stretch.start_s_m + at for _, at in places]) % (
            self.piece.support.length_m + 1e-9
        )
        points = self.piece.support.points(s)
        for (which, _), mine, along, (x, z) in zip(places, balls, s, points, strict=True):
            yield Cluster(
                piece=self.index, part="run", run=number, recipe=pattern[which].name, balls=mine,
                hold=run.hold, s_m=float(along), x_m=self.piece.at_m + float(x), y_m=0.0, z_m=float(z),
                pitch_m=pitches[which],
            )  # fmt: skip

    def skirt(self) -> Iterator[Cluster]:
        skirt = self.piece.skirt
        if skirt is None:
            return
        recipe = self.recipes[skirt.recipe]
        outer = outer_m(recipe.ball_count, max(b.blown_m for b in recipe.balls))
        places = (np.arange(skirt.clusters) + 0.5) / skirt.clusters - 0.5
        rows = self.rng.permutation(np.arange(skirt.clusters) % 3)
        for x, row, mine in zip(
            places, rows, self.coloured([recipe.balls] * skirt.clusters, skirt.weights), strict=True
        ):
            yield Cluster(
                piece=self.index, part="skirt", run=-1, recipe=recipe.name, balls=mine, hold="tied",
                s_m=0.0, x_m=self.piece.at_m + skirt.centre_m + float(x) * skirt.width_m,
                y_m=outer * (0.3 + 0.35 * int(row)), z_m=outer / 2,
                pitch_m=skirt.width_m / skirt.clusters,
            )  # fmt: skip

    def set_along(self, part: Part, what: Accents | Features, each: int) -> Iterator[Cluster]:
        """Spread evenly, a little at random, in front of the runs (of the whole support where there are none)."""
        support = self.piece.support
        stretches = self.stretches or (Stretch(start_s_m=0, end_s_m=support.length_m),)
        ends = np.cumsum([s.length_m for s in stretches])
        at = (
            (np.arange(what.count) + self.rng.uniform(0.2, 0.8, what.count)) / what.count * ends[-1]
        )
        which = np.searchsorted(ends, at, side="right").clip(max=len(stretches) - 1)
        begun = np.concatenate([[0.0], ends[:-1]])
        first = np.array([s.start_s_m for s in stretches])
        s = (first[which] + at - begun[which]) % (support.length_m + 1e-9)
        balls = Balls(count=each, size=what.size, blown_m=what.blown_m)
        dealt = self.coloured([(balls,)] * what.count, what.weights)
        for mine, along, run, (x, z) in zip(dealt, s, which, support.points(s), strict=True):
            reach = self.reach_m(int(run)) + what.blown_m / 2
            yield Cluster(
                piece=self.index, part=part, run=int(run) if self.stretches else -1,
                recipe="mini" if part == "accent" else what.size, balls=mine, hold="tied",
                s_m=float(along), x_m=self.piece.at_m + float(x), y_m=0.8 * reach, z_m=float(z),
                pitch_m=0.0,
            )  # fmt: skip

    def reach_m(self, run: int) -> float:
        """How far the clusters of a run stand out from the tube."""
        if not self.piece.runs:
            return self.piece.support.tube_m / 2
        recipes = [self.recipes[name] for name in self.piece.runs[run].pattern]
        return max(
            outer_m(min(r.ball_count, 12), max(b.blown_m for b in r.balls)) / 2 for r in recipes
        )

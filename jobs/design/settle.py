"""Composition → balls at rest: where each counted ball is, for the picture and the room check.

Balls on a run start as flat rings round the tube, each layer turned against the last; skirts, minis and
features start as spherical codes turned at random. Then pairs that overlap by more than the squeeze allows
push each other apart, position by position, while each ball is drawn back to where it belongs.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import pi, sin, tau

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from jobs.design.clusters import CENTRES_OVER_RADIUS
from jobs.design.composition import Composition
from jobs.design.document import Design

type Array = NDArray[np.float64]

OVERLAP = 0.2  # balloons press into each other by at most this part of the sum of their radii
ROUNDS = 150  # with a pull home for most of them
MOST_ROUNDS = 600  # where balls still overlap, without a pull
TIGHT = 0.21  # an overlap that ends the further rounds
REBUILD = 6  # rounds that one list of neighbours serves
PULL = 0.01  # part of the way home in each round
LONGER = 1.06  # the reach grows so much with each list of neighbours of the further rounds
BEHIND = 0.6  # a ball in front of a board presses flat to this part of its radius


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """Balls at rest. Row i of each array is ball i; balls of a cluster follow one another."""

    centres_m: Array  # (n, 3): x along the wall, y toward the viewer, z above the floor
    radii_m: Array  # (n,)
    free_z_m: Array  # (n,) heights as if there were no ceiling: what the room check goes by
    cluster: NDArray[np.intp]  # (n,) index into Composition.clusters


def settle(design: Design, composition: Composition) -> Settled:
    """Lay every ball at rest; the same design always lies the same."""
    sizes = [len(c.balls) for c in composition.clusters]
    cluster = np.repeat(np.arange(len(sizes)), sizes)
    radii = np.array([b.blown_m / 2 for c in composition.clusters for b in c.balls])
    if not len(radii):
        return Settled(
            centres_m=np.zeros((0, 3)), radii_m=radii, free_z_m=np.zeros(0), cluster=cluster
        )
    home = _begin(design, composition)
    loose = np.repeat([c.maker.sway for c in composition.clusters], sizes)
    reach = loose * 2 * radii
    in_front = np.repeat([c.lies == "in front" for c in composition.clusters], sizes)
    back = np.where(in_front, BEHIND * radii, -np.inf)  # a wall or board stands behind
    free = _relax(home, radii, reach, back)
    centres = free
    ceiling = design.room.ceiling_m
    if ceiling and not design.room.outdoors and (free[:, 2] + radii > ceiling + 1e-6).any():
        # Too high: told as a finding, and drawn as it would be, pressed under the ceiling.
        centres = _relax(home, radii, reach, back, ceiling)
    return Settled(centres_m=centres, radii_m=radii, free_z_m=free[:, 2], cluster=cluster)


def _begin(design: Design, composition: Composition) -> Array:
    rng = np.random.default_rng(design.seed)
    frames = _frames(design, composition)
    parts: list[Array] = []
    turn = 0.0
    for cluster in composition.clusters:
        radii = np.array([b.blown_m / 2 for b in cluster.balls])
        if cluster.part == "run":
            offsets, turn = _rings(radii, cluster.pitch_m, turn)
            offsets = offsets @ frames[len(parts)]
            if cluster.lies == "in front":
                offsets[:, 1] = np.abs(offsets[:, 1])
        else:
            code = _code(len(radii)) @ _random_turn(rng)
            offsets = code * CENTRES_OVER_RADIUS[len(radii)] * radii[:, None]
        jitter = rng.normal(0, 0.06, (len(radii), 3)) * radii[:, None]
        parts.append(np.array([cluster.x_m, cluster.y_m, cluster.z_m]) + offsets + jitter)
    home = np.concatenate(parts)
    return home


def _rings(radii: Array, pitch_m: float, turn: float) -> tuple[Array, float]:
    """Flat rings along the first axis; each layer turned by half a step. Returns offsets and the next turn."""
    count = len(radii)
    layers = [count] if count <= 6 else [count // 2, count - count // 2]
    rows, done = [], 0
    for i, n in enumerate(layers):
        mine = radii[done : done + n]
        angle = turn + np.arange(n) * tau / n
        out = mine / sin(pi / n) if n > 1 else np.zeros(1)
        along = np.full(n, ((i + 0.5) / len(layers) - 0.5) * pitch_m)
        rows.append(np.column_stack([along, out * np.cos(angle), out * np.sin(angle)]))
        turn += pi / n
        done += n
    return np.concatenate(rows), turn


def _frames(design: Design, composition: Composition) -> Array:
    """For each cluster three rows: the path's direction, across it in the support's plane, toward the viewer.

    Shape (clusters, 3, 3); columns are x, y, z.
    """
    frames = np.tile(np.eye(3), (len(composition.clusters), 1, 1))
    at = np.array([c.piece for c in composition.clusters])
    s = np.array([c.s_m for c in composition.clusters])
    for index, piece in enumerate(design.pieces):
        mine = np.flatnonzero(at == index)
        if not len(mine):
            continue
        across, up = piece.support.directions(s[mine].clip(0, piece.support.length_m)).T
        zero = np.zeros_like(across)
        rows = ([across, zero, up], [-up, zero, across], [zero, zero + 1, zero])
        frames[mine] = np.array(rows).transpose(2, 0, 1)
    return frames


@cache
def _code(count: int) -> Array:
    """Unit vectors spread over a sphere: a golden spiral, pushed apart until it rests."""
    if count == 1:
        return np.zeros((1, 3))
    i = np.arange(count) + 0.5
    z, angle = 1 - 2 * i / count, pi * (1 + 5**0.5) * i
    flat = np.sqrt(1 - z**2)
    points = np.column_stack([flat * np.cos(angle), flat * np.sin(angle), z])
    for step in np.geomspace(0.2, 0.001, 400):
        gaps = points[:, None] - points[None]
        far = np.linalg.norm(gaps, axis=2) + np.eye(count)
        push = (gaps / far[..., None] ** 8).sum(axis=1)
        points = points + step * push / np.linalg.norm(push, axis=1, keepdims=True).clip(1e-9)
        points /= np.linalg.norm(points, axis=1, keepdims=True)
    return points


def _random_turn(rng: np.random.Generator) -> Array:
    """A rotation chosen evenly (a unit quaternion of normal numbers; Shoemake 1992, from memory)."""
    w, x, y, z = (q := rng.normal(size=4)) / np.linalg.norm(q)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    )


def _relax(
    home: Array, radii: Array, reach: Array, back: Array, ceiling_m: float = np.inf
) -> Array:
    """Push apart until no two balls overlap too far; where there is no room for that, to the last round.

    Balls that are still too close after the first rounds, at a corner say, may go ever farther.
    """
    at = home.copy()
    top = np.maximum(ceiling_m - radii, radii)
    at[:, 2] = at[:, 2].clip(radii, top)
    for turn in range(MOST_ROUNDS):
        if turn % REBUILD == 0:
            first, second, least = _neighbours(at, radii)
        gap = at[second] - at[first]
        far = np.sqrt(np.einsum("ij,ij->i", gap, gap))
        close = far < least
        if turn % REBUILD == 0 and turn:
            slack = 0.0005 if turn < ROUNDS else (TIGHT - OVERLAP) / (1 - OVERLAP) * least
            if not (far < least - slack).any():
                break
            if turn >= ROUNDS:
                reach = reach * LONGER
        at += _pushes(
            first[close], second[close], gap[close], least[close] / far[close].clip(1e-6), len(at)
        )
        away = home - at
        if turn < ROUNDS - 2 * REBUILD:
            at += PULL * away
        stray = np.sqrt(np.einsum("ij,ij->i", away, away))
        over = stray > reach
        at[over] = home[over] - away[over] * (reach[over] / stray[over])[:, None]
        at[:, 1] = np.maximum(at[:, 1], back)
        at[:, 2] = at[:, 2].clip(radii, top)
    return at


def _pushes(
    first: NDArray[np.intp], second: NDArray[np.intp], gap: Array, short: Array, count: int
) -> Array:
    """How far each ball is pushed by those too close to it; `short` is the least distance over the real one."""
    push = gap * (0.5 * (short - 1))[:, None]
    return np.column_stack(
        [
            np.bincount(second, push[:, axis], count) - np.bincount(first, push[:, axis], count)
            for axis in range(3)
        ]
    )


def _neighbours(at: Array, radii: Array) -> tuple[NDArray[np.intp], NDArray[np.intp], Array]:
    """Pairs that touch or nearly do, and the least distance each may have."""
    pairs = cKDTree(at).query_pairs(2.2 * float(radii.max()), output_type="ndarray")
    first, second = pairs[:, 0], pairs[:, 1]
    both = radii[first] + radii[second]
    near = np.linalg.norm(at[first] - at[second], axis=1) < 1.1 * both
    return first[near], second[near], (1 - OVERLAP) * both[near]

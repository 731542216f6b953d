"""Strokes of leaves and ribbon, for whatever is made of them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from jobs.design.picture_plane import Array, Thing

if TYPE_CHECKING:
    from jobs.design.document import Design

# From the stem over one side to the tip and back over the other, in centimetres: control, control, end of two cubic
# Béziers, each from where it begins.
LEAF = np.array([(2, -3), (6, -4), (10, 0), (-4, 3), (-8, 3), (-10, 0)], dtype=np.float64)
GREENS = ("#6f8a5c", "#5b7a52", "#86a06c", "#4f6b4a")
PLAIN_RIBBON = "#d9cbb0"  # where the palette has no colour of that name


def draw_leaves(
    piece: int, flat: Array, lean: Array, rng: np.random.Generator, long: float = 1.0
) -> Iterator[Thing]:
    """A leaf at each point of the sheet, leaning by so many degrees."""
    count = len(flat)
    sizes = long * rng.uniform(0.9, 1.5, count)
    across = flat[:, 0] + rng.normal(0, 1, count)
    fills = rng.integers(len(GREENS), size=count)
    turn = np.radians(lean)
    along = sizes[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    off = np.stack([-along[:, 1], along[:, 0]], axis=1)
    # Turned and sized here: a path by itself is drawn faster on paper than a symbol with a transform.
    curves = LEAF[None, :, :1] * along[:, None] + LEAF[None, :, 1:] * off[:, None]
    rows = zip(
        across.tolist(), flat[:, 1].tolist(), flat[:, 2].tolist(), curves.reshape(count, 12).tolist(),
        fills.tolist(), strict=True,
    )  # fmt: skip
    for x, y, depth, curve, fill in rows:
        d = f"M{x:.1f} {y:.1f}c{' '.join(f'{part:.1f}' for part in curve)}z"
        yield Thing(piece, depth, f'<path fill="{GREENS[fill]}" stroke-width=".3" d="{d}"/>')


def ribbon_ink(design: Design, colour: str) -> str:
    """How ribbon of a colour looks: as the palette says, where it has one of that name."""
    return next((c.hex for c in design.palette if c.name == colour), PLAIN_RIBBON)


def draw_ribbon(
    piece: int, d: str, depth_m: float, *, ink: str, width_mm: int, least: float = 0.8
) -> Thing:
    """Ribbon along a path of the sheet, at least so many centimetres wide."""
    width = max(width_mm / 10, least)
    return Thing(
        piece,
        depth_m,
        f'<path fill="none" stroke="{ink}" stroke-opacity="1" stroke-width="{width:.1f}" d="{d}"/>',
    )

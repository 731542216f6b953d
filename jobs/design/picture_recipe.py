"""A cluster taken apart: its rings of balls side by side, as one looks along the tube, each ball with its size."""

from __future__ import annotations

from html import escape
from itertools import accumulate
from math import cos, pi, sin, tau

from jobs.design.clusters import layers
from jobs.design.picture_plane import INK
from jobs.design.values import Recipe

APART = 1.15  # how far the balls are pulled apart, so that each is seen whole
GAP = 0.35  # between two rings, of the widest ball
TUBE_CM = 1.25
type Ball = tuple[str, float]  # nominal size, radius in centimetres


def draw_recipe(recipe: Recipe) -> str:
    """A recipe as one self-contained <svg>, true to scale within itself; its circles are its balls."""
    balls = [(b.size, b.blown_m * 50) for b in recipe.balls for _ in range(b.count)]
    ends = list(accumulate(layers(len(balls))))
    rings = [balls[end - n : end] for end, n in zip(ends, layers(len(balls)), strict=True)]
    reaches = [_reach(ring) for ring in rings]
    gap = GAP * 2 * max(radius for _, radius in balls)
    drawn, x = [], 0.0
    for n, (ring, reach) in enumerate(zip(rings, reaches, strict=True)):
        x += reach + (gap + reaches[n - 1] if n else 0)
        drawn.append(_ring(ring, x, turn=n * pi / len(ring)))
    wide, high = x + reaches[-1] + 2, 2 * max(reaches) + 2
    words = f"{recipe.name}: {len(balls)} balls in {len(rings)} ring{'s' if len(rings) > 1 else ''}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-1 {-high / 2:.1f} {wide:.1f} {high:.1f}" role="img" '
        f'font-family="Barlow Condensed, sans-serif" text-anchor="middle"><title>{escape(words)}</title>'
        f"{''.join(drawn)}</svg>"
    )


def _centre(ring: list[Ball]) -> float:
    """From the tube to a ball's middle: equal balls that touch, pulled apart."""
    widest = max(radius for _, radius in ring)
    return APART * widest / sin(pi / len(ring)) if len(ring) > 1 else 0.0


def _reach(ring: list[Ball]) -> float:
    return _centre(ring) + max(radius for _, radius in ring)


def _ring(ring: list[Ball], x: float, *, turn: float) -> str:
    out, parts = _centre(ring), []
    for i, (size, radius) in enumerate(ring):
        angle = turn - pi / 4 + i * tau / len(ring)
        cx, cy = x + out * cos(angle), out * sin(angle)
        parts.append(
            f'<circle class="ball" cx="{cx:.1f}" cy="{cy:.1f}" r="{radius:.1f}" fill="#f4ecdf" stroke="{INK}" '
            f'stroke-width=".8"/><text x="{cx:.1f}" y="{cy + radius * 0.2:.1f}" font-size="{radius * 0.6:.1f}" '
            f'fill="{INK}">{escape(size)}</text>'
        )
    if len(ring) > 1:
        parts.append(f'<circle class="tube" cx="{x:.1f}" cy="0" r="{TUBE_CM}" fill="{INK}"/>')
    return "".join(parts)

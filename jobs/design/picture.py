"""The picture: true to scale, every counted ball one circle. SVG in centimetres, the same on page and paper.

Presentation attributes only: page styles do not reach an SVG inside a paper, and the site's policy forbids
inline styles. Gradients are shared, in user space, on circles of radius 100 that are moved and scaled, since
gradients in bounding-box units lose shapes in one common PDF renderer.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from jobs.design.document import Colour
from jobs.design.picture_room import Frame, draw_dimensions, draw_room, draw_support
from jobs.design.picture_shading import gradient_stops
from jobs.design.working import Worked
from studio.measure import Units

BACK_M = -0.03  # balls whose centre lies farther back than this are drawn in shade
LEAF = "M0 0C2-3 6-4 10 0C6 3 2 3 0 0Z"


@dataclass(frozen=True, slots=True)
class Thing:
    """Something drawn at a depth: greater is nearer to the viewer."""

    depth_m: float
    svg: str


def draw(worked: Worked, *, units: Units, prefix: str = "p") -> str:
    """The design as one self-contained <svg>. `prefix` keeps ids apart when several share a page."""
    frame = Frame.round_about(worked)
    things = [
        *_balls(worked, frame, prefix),
        *_leaves(worked, frame, prefix),
        *_tails(worked, frame),
    ]
    things.sort(key=lambda thing: thing.depth_m)
    return "".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{frame.view_box}" role="img" '
            f'font-family="Barlow Condensed, sans-serif" font-size="{frame.letter:.1f}">',
            f"<title>{escape(_said(worked))}</title>",
            f"<defs>{''.join(_gradients(worked, prefix))}",
            f'<path id="{prefix}-leaf" d="{LEAF}"/></defs>',
            draw_room(worked, frame, units),
            "".join(draw_support(piece, frame) for piece in worked.design.pieces),
            '<g stroke="#2b2320" stroke-opacity=".28" stroke-width="1.6">',
            "".join(thing.svg for thing in things),
            "</g>",
            draw_dimensions(worked, frame, units),
            "</svg>",
        ]
    )


def _said(worked: Worked) -> str:
    """What a reader who does not see the picture is told."""
    pieces = ", ".join(piece.name for piece in worked.design.pieces)
    return f"{pieces}: drawn to scale with {worked.takeoff.ball_count} balloons"


def _gradients(worked: Worked, prefix: str) -> Iterator[str]:
    for i, colour in enumerate(worked.design.palette):
        for shade in (0, 1):
            stops = "".join(
                f'<stop offset="{at}" stop-color="{hex_}"'
                + (f' stop-opacity="{opacity}"' if opacity < 1 else "")
                + "/>"
                for at, hex_, opacity in gradient_stops(colour, in_shade=bool(shade))
            )
            yield (
                f'<radialGradient id="{prefix}{i}{"ab"[shade]}" gradientUnits="userSpaceOnUse" cx="0" cy="0" '
                f'r="100" fx="-34" fy="-40">{stops}</radialGradient>'
            )


def _balls(worked: Worked, frame: Frame, prefix: str) -> Iterator[Thing]:
    index = {colour.name: i for i, colour in enumerate(worked.design.palette)}
    attributes: dict[tuple[str, Colour, bool], str] = {}
    rest = worked.settled
    # Order within a cluster is the order of its balls.
    balls = [ball for cluster in worked.composition.clusters for ball in cluster.balls]
    rows = zip(balls, rest.centres_m.tolist(), rest.radii_m.tolist(), strict=True)
    for ball, (x, y, z), radius in rows:
        kind = (ball.size, ball.colour, y < BACK_M)
        if kind not in attributes:
            fill = f"{prefix}{index[ball.colour.name]}{'b' if kind[2] else 'a'}"
            attributes[kind] = (
                f'<circle class="ball" r="100" data-size={quoteattr(ball.size)} '
                f'data-colour={quoteattr(ball.colour.name)} fill="url(#{fill})" transform="translate('
            )
        svg = f'{attributes[kind]}{100 * x:.1f} {frame.down(z):.1f})scale({radius:.3f})"/>'
        yield Thing(y + radius * 0.3, svg)


def _leaves(worked: Worked, frame: Frame, prefix: str) -> Iterator[Thing]:
    """Leaves in pairs along every strand; a wrapped strand passes behind and before the tube."""
    greens = ("#6f8a5c", "#5b7a52", "#86a06c", "#4f6b4a")
    for number, strands in enumerate(worked.composition.strands):
        piece = worked.design.pieces[strands.piece]
        rng = np.random.default_rng([worked.design.seed, 7, number])
        count = max(2, int(strands.stretch.length_m / 0.055))
        for hand in range(strands.side_by_side):
            s = strands.stretch.start_s_m + np.linspace(0, strands.stretch.length_m, count)
            points = piece.support.points(s % (piece.support.length_m + 1e-9))
            turn = (s - s[0]) / (strands.pitch_m or 1e9) * 2 * np.pi * (-1) ** hand + np.pi * hand
            out = piece.support.tube_m / 2 + 0.03
            way = np.gradient(points, axis=0)
            heading = np.degrees(np.arctan2(-way[:, 1], way[:, 0]))
            for i, ((x, z), a, h) in enumerate(zip(points, turn, heading, strict=True)):
                side = 1 if i % 2 else -1
                lean = h + side * rng.uniform(25, 75)
                long = rng.uniform(0.9, 1.5)
                x_cm = 100 * (x + piece.at_m) + rng.normal(0, 1)
                z_cm = frame.down(z + out * 0.6 * float(np.cos(a)))
                fill = greens[int(rng.integers(len(greens)))]
                yield Thing(
                    out * float(np.sin(a)) + 0.001 * i % 0.01,
                    f'<use href="#{prefix}-leaf" fill="{fill}" stroke-width=".3" transform="translate('
                    f'{x_cm:.1f} {z_cm:.1f})rotate({lean:.0f})scale({long:.2f})"/>',
                )


def _tails(worked: Worked, frame: Frame) -> Iterator[Thing]:
    """Ribbon hanging from the first run's lower end, or the support's middle; never through the floor."""
    hexes = {colour.name: colour.hex for colour in worked.design.palette}
    for index, piece in enumerate(worked.design.pieces):
        if piece.tails is None:
            continue
        stretches = worked.composition.stretches[index]
        s = stretches[0].start_s_m if stretches else piece.support.length_m / 2
        if stretches and not piece.support.closed:
            s = sum((stretches[0].start_s_m, stretches[0].end_s_m)) / 2
        ((x, z),) = piece.support.points(np.array([s % (piece.support.length_m + 1e-9)]))
        fill = hexes.get(piece.tails.colour, "#d9cbb0")
        for i in range(piece.tails.count):
            at = 100 * (x + piece.at_m) + (i - (piece.tails.count - 1) / 2) * 5
            low = max(0.01, z - piece.tails.length_m * (1 - 0.04 * (i % 3)))
            half, top, end = (z - low) * 50, frame.down(z), frame.down(low)
            sway = 4 * (-1) ** i
            yield Thing(
                0.5 + i / 1000,
                f'<path fill="none" stroke="{fill}" stroke-opacity="1" stroke-width="'
                f'{max(piece.tails.width_mm / 10, 0.8):.1f}" d="M{at:.1f} {top:.1f}q{sway} {half / 2:.1f} 0 '
                f'{half:.1f}q{-sway} {half / 2:.1f} 0 {end - top - half:.1f}"/>',
            )

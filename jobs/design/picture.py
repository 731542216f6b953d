"""The picture: true to scale, every counted ball one circle. SVG in centimetres, the same on page and paper.

Presentation attributes only: page styles do not reach an SVG inside a paper, and the site's policy forbids
inline styles. Gradients are shared, in user space, on circles of radius 100 that are moved and scaled, since
gradients in bounding-box units lose shapes in one common PDF renderer.
"""

from __future__ import annotations

from collections.abc import Iterator
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from jobs.design.document import Colour
from jobs.design.picture_room import INK, Frame, draw_dimensions, draw_room, draw_support
from jobs.design.picture_shading import gradient_stops
from jobs.design.picture_soft import LEAF, Thing, draw_leaves, draw_ribbons
from jobs.design.working import Worked
from studio.measure import Units

BACK_M = -0.03  # balls whose centre lies farther back than this are drawn in shade


def draw(worked: Worked, *, units: Units, prefix: str = "p", numbered: bool = False) -> str:
    """The design as one self-contained <svg>. `prefix` keeps ids apart when several share a page.

    `numbered` writes each cluster's number of the build sheet on it.
    """
    frame = Frame.round_about(worked)
    things = [
        *_balls(worked, frame, prefix),
        *draw_leaves(worked, frame, prefix),
        *draw_ribbons(worked, frame),
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
            *(_numbers(worked, frame) if numbered else ()),
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


def _numbers(worked: Worked, frame: Frame) -> Iterator[str]:
    """Each cluster's number where its balls lie, over everything else."""
    rest = worked.settled
    count = len(worked.composition.clusters)
    sizes = np.bincount(rest.cluster, minlength=count).clip(1)
    x, z = (np.bincount(rest.cluster, rest.centres_m[:, i], count) / sizes for i in (0, 2))
    letter = min(frame.letter, 9.0)
    yield f'<g font-size="{letter:.1f}" text-anchor="middle" font-weight="600">'
    for number, (across, up) in enumerate(zip(x.tolist(), z.tolist(), strict=True), 1):
        at = f'x="{100 * across:.1f}" y="{frame.down(up) + letter / 3:.1f}"'
        # White round the figure keeps it readable on any colour; a stroke under it, as not all renderers paint first.
        yield f'<text {at} fill="none" stroke="#fff" stroke-width="{letter / 3:.1f}">{number}</text>'
        yield f'<text {at} fill="{INK}">{number}</text>'
    yield "</g>"

"""The picture: true to scale, every counted ball one circle. SVG in centimetres, the same on page and paper.

Presentation attributes only: page styles do not reach an SVG inside a paper, and the site's policy forbids
inline styles. Gradients are shared, in user space, on circles of radius 100 that are moved and scaled, since
gradients in bounding-box units lose shapes in one common PDF renderer.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal
from xml.sax.saxutils import escape, quoteattr

from jobs.design.picture_plane import Thing, View, project
from jobs.design.picture_room import Frame, draw_dimensions, draw_room, draw_support
from jobs.design.picture_shading import gradient_stops
from jobs.design.values import Colour
from jobs.design.working import Worked
from studio.measure import Units

type Shown = Literal["sheet", "plain", "live"]
WAYS = {"front": "drawn to scale", "side": "from the side", "plan": "from above"}
BACK_M = -0.03  # balls whose centre lies farther back than this are drawn in shade


def draw(
    worked: Worked,
    *,
    units: Units,
    prefix: str = "p",
    view: View = "front",
    shown: Shown = "sheet",
    under: str = "",
    over: str = "",
) -> str:
    """The design as one self-contained <svg>. `prefix` keeps ids apart when several share a page.

    Shown as a `sheet` with room and dimension lines; `plain`, the piece alone; `live`, a sheet whose balls say
    where on their run they sit. `under` and `over` are SVG of the caller's own behind and before everything, in
    the same centimetres.
    """
    plain = shown == "plain"
    role = "group" if shown == "live" else "img"  # what can be taken hold of is not inside an image
    frame = Frame.round_about(worked, view, plain=plain)
    return "".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{frame.view_box}" role="{role}" '
            f'font-family="Barlow Condensed, sans-serif" font-size="{frame.letter:.1f}">',
            f"<title>{escape(_said(worked, view))}</title>",
            f"<defs>{''.join(draw_gradients(worked, prefix))}</defs>",
            under,
            "" if plain else draw_room(worked, frame),
            *draw_pieces(worked, frame, prefix, live=shown == "live"),
            "" if plain else draw_dimensions(worked, frame, units),
            over,
            "</svg>",
        ]
    )


def draw_pieces(
    worked: Worked, frame: Frame, prefix: str, *, live: bool = False, only: int | None = None
) -> Iterator[str]:
    """Piece by piece, so that one can be moved whole (or `only` one of them); within a piece by depth."""
    things: list[list[Thing]] = [[] for _ in worked.design.pieces]
    for thing in _balls(worked, frame, prefix, live=live):
        things[thing.piece].append(thing)
    for part, setting in worked.composition.parts:
        things[setting.index] += part.draw(setting, worked, frame.view)
    for index, piece in enumerate(worked.design.pieces):
        if only not in (None, index):
            continue
        mine = sorted(things[index], key=lambda thing: thing.depth_m)
        yield f'<g data-piece="{index}">{draw_support(piece, frame)}'
        yield '<g stroke="#2b2320" stroke-opacity=".28" stroke-width="1.6">'
        yield from (thing.svg for thing in mine)
        yield "</g></g>"


def _said(worked: Worked, view: View) -> str:
    """What a reader who does not see the picture is told."""
    pieces = ", ".join(piece.name for piece in worked.design.pieces)
    return f"{pieces}: {WAYS[view]} with {worked.takeoff.ball_count} balloons"


def draw_gradients(worked: Worked, prefix: str) -> Iterator[str]:
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


def _balls(worked: Worked, frame: Frame, prefix: str, *, live: bool) -> Iterator[Thing]:
    index = {colour.name: i for i, colour in enumerate(worked.design.palette)}
    attributes: dict[tuple[str, Colour, bool], str] = {}
    rest = worked.settled
    if not len(rest.radii_m):
        return
    flat = project(rest.centres_m, frame.view)
    back = BACK_M if frame.view == "front" else float(flat[:, 2].mean())
    # Order within a cluster is the order of its balls.
    balls = [(c, ball) for c in worked.composition.clusters for ball in c.balls]
    rows = zip(balls, flat.tolist(), rest.radii_m.tolist(), strict=True)
    for (cluster, ball), (x, y, depth), radius in rows:
        kind = (ball.size, ball.colour, depth < back)
        if kind not in attributes:
            fill = f"{prefix}{index[ball.colour.name]}{'b' if kind[2] else 'a'}"
            attributes[kind] = (
                f'<circle class="ball" r="100" data-size={quoteattr(ball.size)} '
                f'data-colour={quoteattr(ball.colour.name)} fill="url(#{fill})" '
            )
        where = (
            f'data-run="{cluster.run}" data-s="{cluster.s_m:.2f}" '
            if live and cluster.part == "run"
            else ""
        )
        svg = (
            f'{attributes[kind]}{where}transform="translate({x:.1f} {y:.1f})scale({radius:.3f})"/>'
        )
        yield Thing(cluster.piece, depth + radius * 0.3, svg)

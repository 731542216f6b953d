"""The drawing sheet round the balloons: which way it is seen, room, frame, person, dimension lines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from jobs.design.document import Piece
from jobs.design.picture_plane import ACCENT, FAINT, INK, View, on_path, project
from jobs.design.supports.curves import Point
from jobs.design.working import Worked
from studio.measure import FOOT_M, Units, write_length

BAR_CM = 135.0  # a scale bar of a metre, and its name
PERSON_M = 1.7
PERSON = (  # our own outline, 170 tall, feet at 0 0: head, dress-coat shoulders, two legs
    "M-3 0L-4-44Q-5-62-4-80L-6-80Q-9-62-9-44L-10-2Q-13 0-15 0L-15-3Q-12-5-12-44Q-13-66-12-84"
    "Q-17-98-16-118Q-16-136-13-141Q-9-145-4-146L-3-151Q-7-155-7-161Q-6-170 0-170Q6-170 7-161"
    "Q7-155 3-151L4-146Q9-145 13-141Q16-136 16-118Q17-98 12-84Q13-66 12-44Q12-5 15-3L15 0"
    "Q13 0 10-2L9-44Q9-62 6-80L4-80Q5-62 4-44L3 0Z"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The sheet in centimetres, down positive: `left`, `top`, `wide`, `high` are the view box."""

    left: float
    top: float
    wide: float
    high: float
    content: tuple[float, float, float, float]  # left, right, top, bottom of frames and balloons
    view: View

    @classmethod
    def round_about(cls, worked: Worked, view: View, *, plain: bool = False) -> Frame:
        """`plain` leaves no room for person and dimension lines."""
        low, high, top, bottom = extent(worked, view)
        if plain:
            return cls(
                left=low - 6, top=top - 6, wide=high - low + 12, high=bottom - top + 12,
                content=(low, high, top, bottom), view=view,
            )  # fmt: skip
        left = min(low - 52, high - BAR_CM)  # the bar ends with what is drawn
        if view == "plan":
            return cls(
                left=left, top=top - 30, wide=high - left + 78, high=bottom - top + 80,
                content=(low, high, top, bottom), view=view,
            )  # fmt: skip
        ceiling = ceiling_cm(worked, -top)
        sheet_top = max(-top, ceiling or 0.0, 100 * PERSON_M) + 24
        return cls(
            left=left, top=-sheet_top, wide=high - left + 78, high=sheet_top + 50,
            content=(low, high, top, 0.0), view=view,
        )  # fmt: skip

    @property
    def view_box(self) -> str:
        return f"{self.left:.0f} {self.top:.0f} {self.wide:.0f} {self.high:.0f}"

    @property
    def right(self) -> float:
        return self.left + self.wide

    @property
    def letter(self) -> float:
        """Height of the lettering, cm on the drawing, so that it reads alike on every sheet."""
        return min(15.0, max(8.0, max(self.wide, self.high) / 34))


def extent(
    worked: Worked, view: View, only: int | None = None
) -> tuple[float, float, float, float]:
    """Left, right, top and bottom of frames, balloons and loose parts (of `only` one piece) on the sheet, cm."""
    corners = []
    for index, piece in enumerate(worked.design.pieces):
        if only not in (None, index):
            continue
        support = piece.support
        half = support.tube_m / 2
        corners += [
            (piece.at_m + support.left_m, -half, 0.0),
            (piece.at_m + support.right_m, half, max(support.top_m, 0.3)),
        ]
        for _, extent_m in worked.composition.extents_on(index):
            corners.append((piece.at_m + extent_m.left_m, 0.0, 0.0))
            corners.append((piece.at_m + extent_m.right_m, 0.0, extent_m.top_m))
    rest = worked.settled
    owner = np.array([c.piece for c in worked.composition.clusters], dtype=np.intp)[rest.cluster]
    mine = np.full(len(owner), fill_value=True) if only is None else owner == only
    flat = project(np.array(corners), view)[:, :2]
    low, high = flat.min(axis=0), flat.max(axis=0)
    if mine.any():
        balls, radii = project(rest.centres_m[mine], view)[:, :2], 100 * rest.radii_m[mine, None]
        low = np.minimum(low, (balls - radii).min(axis=0))
        high = np.maximum(high, (balls + radii).max(axis=0))
    return float(low[0]), float(high[0]), float(low[1]), float(high[1])


def ceiling_cm(worked: Worked, top: float) -> float | None:
    """The ceiling's height where it is near enough to be drawn."""
    room = worked.design.room
    if room.ceiling_m is None or room.outdoors:
        return None
    ceiling = 100 * room.ceiling_m
    return ceiling if ceiling < 1.4 * max(top, 100 * PERSON_M) else None


def _hatch(frame: Frame, y: float, rise: float) -> str:
    steps = np.arange(frame.left + 6, frame.right - 2, 9)
    d = "".join(f"M{x:.0f} {y:.0f}l6 {rise:.0f}" for x in steps)
    return f'<path d="{d}" stroke="{FAINT}" stroke-width=".6" fill="none"/>'


def _line(x1: float, y1: float, x2: float, y2: float, *, ink: str = INK, width: float = 1.2) -> str:
    return f'<path d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}" stroke="{ink}" stroke-width="{width}" fill="none"/>'


def draw_room(worked: Worked, frame: Frame) -> str:
    """Floor, ceiling, doorway and a person; from above only the person."""
    room = worked.design.room
    x = frame.right - 36
    if frame.view == "plan":
        y = (frame.content[2] + frame.content[3]) / 2
        return (
            f'<ellipse cx="{x:.1f}" cy="{y:.1f}" rx="22" ry="13" fill="#d8ccbb" stroke="{FAINT}" stroke-width=".8"/>'
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="8" fill="#c9bba6" stroke="{FAINT}" stroke-width=".8"/>'
        )
    parts = [_line(frame.left, 0, frame.right, 0, width=1.8), _hatch(frame, 0, 6)]
    ceiling = ceiling_cm(worked, -frame.content[2])
    if ceiling:
        parts += [
            _line(frame.left, -ceiling, frame.right, -ceiling, width=1.8),
            _hatch(frame, -ceiling, -6),
        ]
    if frame.view == "front" and room.door_width_m and room.door_height_m:
        wide, high = 100 * room.door_width_m, 100 * room.door_height_m
        left = min(x - wide / 2, frame.right - 4 - wide)
        parts.append(
            f'<path d="M{left:.1f} 0v{-high:.1f}h{wide:.1f}v{high:.1f}" fill="none" stroke="{FAINT}" '
            'stroke-width=".9" stroke-dasharray="5 3"/>'
        )
    parts.append(
        f'<path d="{PERSON}" transform="translate({x:.1f} 0)" fill="#d8ccbb" stroke="{FAINT}" stroke-width=".8"/>'
    )
    return "".join(parts)


def draw_support(piece: Piece, frame: Frame) -> str:
    """The tube as a light line in a dark one, or a board, or a line on its hooks; feet or uprights under it."""
    support = piece.support
    s = np.linspace(0, support.length_m, 193 if support.filled else 97)
    flat = project(on_path(piece, support.points(s)), frame.view)
    d = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y, _ in flat)
    if support.hung:
        at = project(on_path(piece, support.points(np.array(support.hooks_s_m))), frame.view)
        hooks = "".join(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="1.5" fill="{INK}"/>' for x, y, _ in at
        )
        return f'<path d="{d}" fill="none" stroke="{FAINT}" stroke-width=".8"/>{hooks}'
    if support.filled and frame.view == "front":
        board = f'<path d="{d}Z" fill="#f4ecdf" stroke="{INK}" stroke-width="1.2"/>'
        return board + _feet(piece, frame, 1.6)
    tube = max(100 * support.tube_m, 1.6)
    return (
        f'{_feet(piece, frame, tube)}<path d="{d}" fill="none" stroke="{INK}" stroke-width="{tube:.1f}"/>'
        f'<path d="{d}" fill="none" stroke="#e9dfcf" stroke-width="{tube * 0.45:.1f}"/>'
    )


def _feet(piece: Piece, frame: Frame, tube: float) -> str:
    """Uprights of a level rail; a plate under every other foot."""
    support = piece.support
    if frame.view == "plan":
        return ""
    feet = [(x + piece.at_m, 0.0, 0.0) for x in support.feet_x_m]
    at = [float(x) for x in project(np.array(feet).reshape(-1, 3), frame.view)[:, 0]]
    if support.level:
        low = -100 * support.top_m
        return "".join(_line(x, 0, x, low, width=tube * 0.8) for x in at)
    return "".join(f'<path d="M{round(x) - 14} 0h28v-2h-28z" fill="{INK}"/>' for x in at)


def _dimension(x1: float, y1: float, x2: float, y2: float, text: str, letter: float) -> str:
    """A dimension line with slanted ticks, its figure on the line; level or upright."""
    level = y1 == y2
    ticks = "".join(f"M{x - 2.2:.1f} {y + 2.2:.1f}l4.4-4.4" for x, y in ((x1, y1), (x2, y2)))
    x, y = (x1 + x2) / 2, (y1 + y2) / 2
    turn = "" if level else f' transform="rotate(-90 {x:.1f} {y:.1f})"'
    return (
        _line(x1, y1, x2, y2, ink=ACCENT, width=0.8)
        + f'<path d="{ticks}" stroke="{ACCENT}" stroke-width="1.3" fill="none"/>'
        + f'<text x="{x:.1f}" y="{y - 2.5:.1f}" text-anchor="middle" fill="{ACCENT}"{turn}>{text}</text>'
    )


def draw_dimensions(worked: Worked, frame: Frame, units: Units) -> str:
    """Width and height (or depth) over everything, the ceiling, and a scale bar."""
    left, right, top, bottom = frame.content
    letter = frame.letter

    def said(cm: float) -> str:
        return write_length(cm / 100, units)

    parts = [
        _dimension(left, bottom + 24, right, bottom + 24, said(right - left), letter),
        _dimension(left - 14, bottom, left - 14, top, said(bottom - top), letter),
    ]
    ceiling = ceiling_cm(worked, -top) if frame.view != "plan" else None
    if ceiling:
        x = frame.left + 20
        parts.append(_dimension(x, 0, x, -ceiling, f"ceiling {said(ceiling)}", letter))
    parts.append(_scale_bar((right, bottom + 38), units))
    return "".join(parts)


def _scale_bar(end: Point, units: Units) -> str:
    bar, name = (100 * FOOT_M * 3, "3 ft") if units == "imperial" else (100.0, "1 m")
    x, y = end[0] - bar, end[1]
    return (
        f'<path d="M{x:.1f} {y - 2}v4h{bar:.1f}v-4M{x + bar / 2:.1f} {y}v2" fill="none" stroke="{INK}" '
        f'stroke-width=".9"/><text x="{x - 4:.1f}" y="{y + 3}" text-anchor="end" fill="{INK}">{name}</text>'
    )

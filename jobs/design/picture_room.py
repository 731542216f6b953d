"""The drawing sheet round the balloons: room, frame, person for scale, dimension lines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from jobs.design.document import Piece
from jobs.design.working import Worked
from studio.measure import FOOT_M, Units, write_length

INK = "#2b2320"
FAINT = "#8a7d70"
ACCENT = "#a8432f"
PERSON_M = 1.7
PERSON = (  # our own outline, 170 tall, feet at 0 0
    "M-12 0L-9-48L-10-82C-13-92-17-108-18-124C-18-137-12-142-6-144L-5-148"
    "C-9-152-10-157-9-162C-7-168-3-170 0-170C3-170 7-168 9-162C10-157 9-152 5-148L6-144"
    "C12-142 18-137 18-124C17-108 13-92 10-82L9-48L12 0L3 0L1-46L-1-46L-3 0Z"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The sheet in centimetres, z turned down: `left`, `top`, `wide`, `high` are the view box."""

    left: float
    top: float
    wide: float
    high: float
    content: tuple[float, float, float]  # left, right and top of frames and balloons, cm

    @classmethod
    def round_about(cls, worked: Worked) -> Frame:
        lows, highs, tops = [], [], [0.3]
        for piece in worked.design.pieces:
            lows.append(piece.at_m + piece.support.left_m)
            highs.append(piece.at_m + piece.support.right_m)
            tops.append(piece.support.top_m)
        rest = worked.settled
        if len(rest.radii_m):
            lows.append(float((rest.centres_m[:, 0] - rest.radii_m).min()))
            highs.append(float((rest.centres_m[:, 0] + rest.radii_m).max()))
            tops.append(float((rest.centres_m[:, 2] + rest.radii_m).max()))
        low, high, top = 100 * min(lows), 100 * max(highs), 100 * max(tops)
        ceiling = _ceiling_cm(worked, top)
        sheet_top = max(top, ceiling or 0.0, 100 * PERSON_M) + 24
        return cls(
            left=low - 52, top=-sheet_top, wide=high - low + 52 + 78, high=sheet_top + 50,
            content=(low, high, top),
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

    @staticmethod
    def down(z_m: float) -> float:
        return -100 * float(z_m)


def _ceiling_cm(worked: Worked, top: float) -> float | None:
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


def draw_room(worked: Worked, frame: Frame, units: Units) -> str:
    """Floor, ceiling, doorway and a person."""
    room = worked.design.room
    parts = [_line(frame.left, 0, frame.right, 0, width=1.8), _hatch(frame, 0, 6)]
    ceiling = _ceiling_cm(worked, frame.content[2])
    if ceiling:
        parts += [
            _line(frame.left, -ceiling, frame.right, -ceiling, width=1.8),
            _hatch(frame, -ceiling, -6),
        ]
    x = frame.right - 36
    if room.door_width_m and room.door_height_m:
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
    points = support.points(np.linspace(0, support.length_m, 193 if support.filled else 97))
    d = "M" + "L".join(f"{100 * (x + piece.at_m):.1f} {frame.down(z):.1f}" for x, z in points)
    if support.hung:
        hooks = "".join(
            f'<circle cx="{100 * (x + piece.at_m):.1f}" cy="{frame.down(z):.1f}" r="1.5" fill="{INK}"/>'
            for x, z in support.points(np.array(support.hooks_s_m))
        )
        return f'<path d="{d}" fill="none" stroke="{FAINT}" stroke-width=".8"/>{hooks}'
    if support.filled:
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
    at = [100 * (x + piece.at_m) for x in support.feet_x_m]
    if support.level:
        low = frame.down(support.top_m)
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
    """Width and height over everything, the ceiling, and a scale bar."""
    left, right, top = frame.content
    letter = frame.letter

    def said(cm: float) -> str:
        return write_length(cm / 100, units)

    parts = [
        _dimension(left, 24, right, 24, said(right - left), letter),
        _dimension(left - 14, 0, left - 14, -top, said(top), letter),
    ]
    ceiling = _ceiling_cm(worked, top)
    if ceiling:
        x = frame.left + 20
        parts.append(_dimension(x, 0, x, -ceiling, f"ceiling {said(ceiling)}", letter))
    bar, name = (100 * FOOT_M * 3, "3 ft") if units == "imperial" else (100.0, "1 m")
    x, y = right - bar, 38
    parts.append(
        f'<path d="M{x:.1f} {y - 2}v4h{bar:.1f}v-4M{x + bar / 2:.1f} {y}v2" fill="none" stroke="{INK}" '
        f'stroke-width=".9"/><text x="{x - 4:.1f}" y="{y + 3}" text-anchor="end" fill="{INK}">{name}</text>'
    )
    return "".join(parts)

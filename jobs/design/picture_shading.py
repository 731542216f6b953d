"""How a balloon of each finish catches the light, as stops of a radial gradient."""

from __future__ import annotations

from jobs.design.values import Colour

type Stop = tuple[float, str, float]  # offset, colour, opacity

# (offset, towards white > 0 or black < 0) from the highlight to the rim
LIGHT: dict[str, tuple[tuple[float, float], ...]] = {
    "matt": ((0, 0.42), (0.22, 0.16), (0.6, 0.0), (0.9, -0.16), (1, -0.26)),
    "printed": ((0, 0.42), (0.22, 0.16), (0.6, 0.0), (0.9, -0.16), (1, -0.26)),
    "pearl": ((0, 0.75), (0.18, 0.4), (0.55, 0.08), (0.85, -0.1), (0.95, -0.02), (1, -0.2)),
    "metallic": (
        (0, 0.95),
        (0.1, 0.6),
        (0.34, 0.1),
        (0.68, -0.22),
        (0.88, -0.42),
        (0.96, -0.12),
        (1, -0.3),
    ),
    "clear": ((0, 0.8), (0.25, 0.4), (0.7, 0.2), (1, -0.15)),
}
SHADE = -0.13  # what a ball farther back loses


def gradient_stops(colour: Colour, *, in_shade: bool) -> list[Stop]:
    """Stops for one colour and finish; opacity never reaches nothing, which some renderers lose."""
    dim = SHADE if in_shade else 0.0
    opacity = 0.45 if colour.finish == "clear" else 1.0
    return [
        (at, mix(mix(colour.hex, light), dim), min(1.0, opacity + 0.4 * at * (opacity < 1)))
        for at, light in LIGHT[colour.finish]
    ]


def mix(hex_: str, light: float) -> str:
    """A colour moved towards white (light > 0) or black (light < 0) by that part of the way.

    >>> mix("#808080", 1.0), mix("#808080", -0.5)
    ('#ffffff', '#404040')
    """
    goal = 255 if light > 0 else 0
    parts = (int(hex_[i : i + 2], 16) for i in (1, 3, 5))
    return "#" + "".join(f"{round(c + (goal - c) * abs(light)):02x}" for c in parts)

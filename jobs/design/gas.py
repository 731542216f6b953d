"""Air and gas in a balloon: how it grows with heat and height, what it lifts, what a pump must give.

A balloon's skin presses so little that its volume follows the ideal gas law at the pressure outside.
"""

from __future__ import annotations

from math import pi

from studio.measure import INCH_M

KELVIN = 273.15
SEA_LEVEL_PA = 101_325.0
GAS_J_MOL_K = 8.314462618  # CODATA 2018, exact
AIR_J_KG_K = 287.05287  # ISO 2533:1975
AIR_KG_MOL, HELIUM_KG_MOL = 0.0289647, 0.0040026  # ISO 2533:1975 table 1; IUPAC atomic weights
EARTH_M = 6_356_766.0  # nominal radius, ISO 2533:1975
# A balloon of 11 in nominal weighs about 2.8 g, others by their skin's area (common practice, no source).
SKIN_KG, SKIN_OF_M = 0.0028, 11 * INCH_M
RIBBON_KG_M = 0.0008  # curling ribbon of 5 mm (common practice, no source)
# Hand pump: every stroke is the same volume, and 4 strokes bring a small balloon to 4.5 in
# (common practice, no source).
STROKE_M3 = pi / 6 * (4.5 * INCH_M) ** 3 / 4


def pressure_at(altitude_m: float) -> float:
    """Pressure in Pa at a height above sea level, by the standard atmosphere (ISO 2533:1975), to 11 km.

    ValueError outside −5 km to 11 km.

    >>> round(pressure_at(1000), 2)
    89876.28
    """
    if not -5000 <= altitude_m <= 11_000:
        raise ValueError(f"altitude_m: expected from -5000 to 11000, got {altitude_m}")
    height = EARTH_M * altitude_m / (EARTH_M + altitude_m)  # geopotential
    base: float = 1 - 0.0065 * height / 288.15
    return float(SEA_LEVEL_PA * base ** (9.80665 / (AIR_J_KG_K * 0.0065)))


def growth(
    *, from_c: float, to_c: float, from_altitude_m: float = 0.0, to_altitude_m: float = 0.0
) -> float:
    """Diameter there over diameter here: ((T₂ p₁)/(T₁ p₂))^(1/3), the ideal gas law on a sphere.

    >>> round(growth(from_c=20, to_c=35), 7)
    1.0167732
    """
    heat = (to_c + KELVIN) / (from_c + KELVIN)
    thin = pressure_at(from_altitude_m) / pressure_at(to_altitude_m)
    return float((heat * thin) ** (1 / 3))


def volume_m3(ball_m: float) -> float:
    """Of a sphere of that diameter."""
    return pi / 6 * ball_m**3


def density_kg_m3(
    molar_kg: float, *, celsius: float = 20.0, pressure_pa: float = SEA_LEVEL_PA
) -> float:
    """Of an ideal gas: pM/RT. Within 0.05 % of air and helium as they are at room temperature."""
    return pressure_pa * molar_kg / (GAS_J_MOL_K * (celsius + KELVIN))


def net_lift_kg(
    ball_m: float, nominal_m: float, *, celsius: float = 20.0, altitude_m: float = 0.0
) -> float:
    """What a ball of helium carries besides its own skin; negative where it sinks."""
    air, helium = (
        density_kg_m3(m, celsius=celsius, pressure_pa=pressure_at(altitude_m))
        for m in (AIR_KG_MOL, HELIUM_KG_MOL)
    )
    return volume_m3(ball_m) * (air - helium) - SKIN_KG * (nominal_m / SKIN_OF_M) ** 2


def strokes(ball_m: float) -> float:
    """Strokes of a hand pump to a diameter, by equal volumes.

    >>> round(strokes(6 * INCH_M), 2)
    9.48
    """
    return volume_m3(ball_m) / STROKE_M3

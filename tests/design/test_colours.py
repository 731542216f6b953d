"""Colours against published values: CSS Color 4 and the CIEDE2000 test data."""

from __future__ import annotations

import pytest
from coloraide import Color

from jobs.design.colours import alike, between, difference, nearest, oklch, suggest
from jobs.design.working import work_out
from tests.strategies import a_design, a_piece


@pytest.mark.parametrize(
    ("hex_", "expected"),
    # OKLCH computed with coloraide.
    [
        ("#ff0000", (0.6279554, 0.2576833, 29.2338803)),
        ("#ffc0cb", (0.8677385, 0.0735420, 7.0854893)),
        ("#d4af37", (0.7665278, 0.1386772, 91.0593542)),
    ],
)
def test_oklch(hex_: str, expected: tuple[float, float, float]) -> None:
    assert oklch(hex_) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(
    ("oklab", "hex_"),
    # web-platform-tests, CSS Color 4.
    [((0.7, -0.1, 0), "#4bb3a1"), ((0.5, 0.05, 0), "#7c5762")],
)
def test_css_pairs(oklab: tuple[float, float, float], hex_: str) -> None:
    assert Color("oklab", oklab).convert("srgb").to_string(hex=True) == hex_


@pytest.mark.parametrize(
    ("one", "other", "far"),
    # Sharma, Wu & Dalal 2005, table 1, rows 1 to 4: the method that `difference` uses.
    [
        ((50, 2.6772, -79.7751), (50, 0, -82.7485), 2.0425),
        ((50, 3.1571, -77.2803), (50, 0, -82.7485), 2.8615),
        ((50, 2.8361, -74.0200), (50, 0, -82.7485), 3.4412),
        ((50, -1.3802, -84.2814), (50, 0, -82.7485), 1.0000),
    ],
)
def test_ciede2000(one: tuple[float, ...], other: tuple[float, ...], far: float) -> None:
    found = Color("lab-d65", one).delta_e(Color("lab-d65", other), method="2000")
    assert found == pytest.approx(far, abs=5e-5)


def test_two_ivories_pass_for_one() -> None:
    (pair,) = alike(["#efe6d2", "#9db092", "#f0e8d8"])
    assert (pair.first, pair.second, pair.sight) == (0, 2, None)
    assert difference("#efe6d2", "#efe6d2") == 0


def test_red_and_green_of_one_lightness_are_told_for_colour_blind_eyes() -> None:
    (pair,) = alike(["#b08a5a", "#8f9a5a"])
    assert pair.sight in ("deutan", "protan")
    palette = [{"name": "tan", "hex": "#b08a5a"}, {"name": "olive", "hex": "#8f9a5a"}]
    design = a_design(a_piece({"kind": "rail", "run_m": 2, "height_m": 1}), palette=palette)
    (finding,) = (f for f in work_out(design).takeoff.findings if f.code == "alike")
    assert "tan and olive look alike to eyes with red-green" in finding.sentence


def test_a_suggestion_keeps_the_hues_and_spreads_the_lightness() -> None:
    light, middle, deep = (oklch(h) for h in suggest("#e8b9ae", "#9db092"))
    assert light[0] > 0.9 > middle[0] > deep[0]
    assert light[2] == pytest.approx(oklch("#e8b9ae")[2], abs=4)
    assert not alike(suggest("#e8b9ae", "#9db092"))


def test_between_takes_equal_steps() -> None:
    greys = [oklch(h)[0] for h in ("#ffffff", *between("#ffffff", "#000000", 3), "#000000")]
    steps = [a - b for a, b in zip(greys, greys[1:], strict=False)]
    assert steps == pytest.approx([0.25] * 4, abs=0.005)
    with pytest.raises(ValueError, match="count: expected at least 1, got 0"):
        between("#ffffff", "#000000", 0)


def test_the_nearest_colour_is_found_by_eye_not_by_number() -> None:
    assert nearest("#e8b9ae", ["#b9e8ae", "#e0b0a8", "#aeb9e8"]) == 1
    with pytest.raises(ValueError, match="at least one"):
        nearest("#e8b9ae", [])

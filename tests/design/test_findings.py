"""What a design must answer for: every finding by its code, with numbers and what would mend it."""

from __future__ import annotations

from typing import Any

import pytest

from jobs.design.document import Design
from jobs.design.takeoff import Finding
from jobs.design.working import work_out
from pricing.core.supply_keys import SupplyKey
from tests.strategies import a_design, a_piece, a_run

RAIL = {"kind": "rail", "run_m": 3.0, "height_m": 1.0}


def found(design: Design, code: str, **options: Any) -> list[Finding]:
    return [f for f in work_out(design, **options).takeoff.findings if f.code == code]


def on_a_rail(**run: Any) -> Design:
    return a_design(a_piece(RAIL, runs=[a_run(**run)]))


def test_a_run_that_is_just_filled_answers_for_nothing() -> None:
    assert not found(on_a_rail(), "thin") + found(on_a_rail(), "crowded")


def test_a_thin_run_is_told_how_many_clusters_fill_it() -> None:
    # Rigid eights of 25 cm balls touch every 42.0 cm (two layers at 2^(−1/4) d): 7 fill 3 m, 5 leave gaps.
    (finding,) = found(on_a_rail(clusters=5), "thin")
    assert "5 clusters leave gaps" in finding.sentence
    assert "143%" in finding.sentence
    assert not found(on_a_rail(clusters=int(finding.mend.split()[0])), "thin")


def test_too_many_clusters_for_the_length_are_told() -> None:
    (finding,) = found(on_a_rail(clusters=15), "crowded")
    assert "15 clusters are too many for its length" in finding.sentence
    assert not found(on_a_rail(clusters=int(finding.mend.split()[0])), "crowded")


def test_a_taper_below_the_usual_size_is_told() -> None:
    (*_, finding) = found(on_a_rail(taper=0.3), "slack")
    assert "slack: usual is 0.14 m to 0.2794 m" in finding.sentence


@pytest.mark.parametrize(
    ("room", "code", "words"),
    [
        ({"warmest_c": 35}, "grows", "1.7% wider"),
        ({"warmest_c": 5}, "shrinks", "1.7% narrower"),
        ({"altitude_m": 1500}, "grows", "6.2% wider"),
        ({"warmest_c": 21}, "", ""),
    ],
)
def test_heat_and_height_are_told(room: dict[str, float], code: str, words: str) -> None:
    # Gas law and standard atmosphere: the figures stand in test_gas.
    design = a_design(a_piece(RAIL, runs=[a_run()]), room=room)
    told = found(design, "grows") + found(design, "shrinks")
    assert [f.code for f in told] == ([code] if code else [])
    assert all(words in f.sentence for f in told)


def test_what_cannot_be_bought_is_told_by_its_name() -> None:
    gold = SupplyKey("balloon", "11 in", colour="gold")
    (finding,) = found(on_a_rail(), "not-sold", sold=lambda key: key != gold)
    assert finding.sentence.startswith("11 in balloon, gold: not in the price book")


def test_ribbon_longer_than_a_roll_is_told_and_counted_all_the_same() -> None:
    tails = {"count": 3, "length_m": 30, "width_mm": 10, "colour": "gold"}
    long = a_design(a_piece(RAIL, runs=[a_run()], tails=tails))
    (finding,) = found(long, "longer-than-a-roll")
    assert "longer than a roll of 25.00 m" in finding.sentence
    short = a_design(a_piece(RAIL, runs=[a_run()], tails={**tails, "length_m": 20}))
    assert not found(short, "longer-than-a-roll")


def test_ballast_that_presses_too_hard_is_told_with_boards_that_spread_it() -> None:
    # 80 kg on two plates of 30 cm square: 80·9.80665/(2·0.09) = 4.36 kPa. EN 1991-1-1:2002 table 6.2 gives
    # category C1 (areas with tables) as a range, 2.0 to 3.0 kN/m² (from memory): the least of it is taken.
    ring = {"kind": "ring", "diameter_m": 2, "weight_kg": 40}
    (finding,) = found(a_design(a_piece(ring), room={"outdoors": True}), "floor-load")
    assert "80 kg on 2 feet press with 4.4 kPa" in finding.sentence
    assert "45 cm square" in finding.mend  # √(4.36/2.0·0.09) = 44.3 cm and no less
    (same,) = found(
        a_design(a_piece(ring), room={"outdoors": True}), "floor-load", units="imperial"
    )
    assert 'Boards of 18" square' in same.mend  # 44.3 cm is 17.4 in, and no less
    assert "designed for no more than 2.0 kPa" in finding.sentence
    assert "ask the venue" in finding.mend
    light = {
        **ring,
        "weight_kg": 0.5,
    }  # 40.5 kg press with 2.2 kPa: within the range, above its least
    assert found(a_design(a_piece(light), room={"outdoors": True}), "floor-load")
    assert not found(a_design(a_piece(light)), "floor-load")  # indoors without the ballast


def test_a_part_too_heavy_for_one_is_told() -> None:
    panel = {"kind": "panel", "board_width_m": 1.2, "board_height_m": 2, "weight_kg": 32}
    assert "32 kg" in found(a_design(a_piece(panel)), "heavy")[0].sentence
    assert not found(a_design(a_piece({**panel, "part_count": 2})), "heavy")


def test_findings_come_with_what_stops_first() -> None:
    design = a_design(a_piece(RAIL, runs=[a_run(hold="slipped", clusters=4)], passed=True))
    weights = [f.weight for f in work_out(design).takeoff.findings]
    assert weights == sorted(weights, key=("stop", "care", "note").index)
    assert weights[0] == "stop"

"""The build sheet's lines for frame, greenery and ribbon: each thing that is counted is also told how."""

from __future__ import annotations

import re
from collections import Counter
from itertools import chain
from typing import Any

import pytest
from hypothesis import given, settings

from jobs.design.buildlines import frame_work, part_work
from jobs.design.parts.greenery import strands_of
from jobs.design.parts.stems import Stems
from jobs.design.takeoff import Work
from jobs.design.working import Worked, work_out
from tests.depth import examples
from tests.strategies import a_design, a_piece, a_run, designs, with_everything

RAIL = {"kind": "rail", "run_m": 3, "height_m": 1}
WHOLE = {"start": {"share": 0}, "end": {"share": 1}}


def lines(worked: Worked, units: Any = "metric") -> tuple[Work, ...]:
    design = worked.design
    return tuple(
        line
        for index in range(len(design.pieces))
        for line in (
            *frame_work(design, index, worked.practice, units),
            *chain(*part_work(worked.composition, index, units).values()),
        )
    )


def test_greenery_is_told_with_its_lengths_turns_ends_and_ties() -> None:
    greenery = {**WHOLE, "wrap_pitch_m": 0.5, "tuck_m": 0.1, "strand_m": 2.0, "overlap_m": 0.05}
    worked = work_out(a_design(a_piece(RAIL, greenery=[greenery])))
    (strands,) = strands_of(worked.composition)
    (line,) = (one for one in lines(worked) if "strand" in one.what)
    assert line.what == f"{strands.strands} × strand of mixed leaf, 2.00 m"
    assert line.where == "0.00 m to 3.00 m along"
    for words in (
        f"2 side by side, {strands.lengths} end to end, meeting with 0.05 m of overlap",
        "one turn every 0.50 m", "Tuck 0.10 m in at each end", f"{strands.fasteners} cable ties",
        # Common practice, no source.
        "Leaves all one way", "hide the ends between balloons", "Tie round the main stem only",
        "at both ends and in the middle",
    ):  # fmt: skip
        assert words in line.how


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ({"tails": {"count": 3, "length_m": 0.7}}, "ribbon 10 mm, ivory: cut 3 × 700 mm"),
        ({"wraps": [WHOLE]}, "one turn every 0.10 m, a knot at each end"),
        ({"bows": {"count": 2}}, "Bows of 4 loops, 0.12 m each, with two ends of 0.30 m"),
        ({"floaters": {"count": 4}}, "A knot at the neck, 1.80 m of ribbon"),
        ({"stems": {"count": 8}}, "8 × stem of mixed leaf"),
    ],
)
def test_ribbon_and_stems_are_told(part: dict[str, Any], words: str) -> None:
    worked = work_out(a_design(a_piece(RAIL, runs=[a_run()], **part)))
    assert any(words in f"{line.what} {line.how}" for line in lines(worked))


def test_a_frame_is_told_by_its_parts_joints_and_ballast() -> None:
    rail = {**RAIL, "part_count": 3}
    worked = work_out(a_design(a_piece(rail, runs=[a_run()]), room={"outdoors": True}))
    told = [line.what for line in lines(worked)]
    # A rail of 3 m in three sections: a metre each, two joints (own arithmetic).
    assert told[0] == "3 × rail section, 1.00 m long"
    assert "2 × joint" in told
    assert "2 × ballast weight, 20 kg" in told


def test_what_hangs_is_told_by_hooks_and_line() -> None:
    swag = {"kind": "swag", "span_m": 3, "sag_m": 1, "hook_m": 2.2}
    worked = work_out(a_design(a_piece(swag, runs=[a_run(hold="tied")])))
    (hooks,) = (line for line in lines(worked) if "hook" in line.what)
    assert (hooks.what, hooks.where) == ("2 × hook", "2.20 m up")
    assert "String 4.06 m of line" in hooks.how  # 3.756 m of catenary and two knots of 0.15 m


@given(designs())
@settings(max_examples=examples(25), deadline=None)
def test_all_strands_stems_and_cuts_of_the_take_off_stand_on_the_sheet(design: Any) -> None:
    worked = work_out(design)
    told = [line.what for line in lines(worked)]
    strands = sum(int(w.split(" ×")[0]) for w in told if " × strand of" in w)
    assert strands == sum(s.strands for s in strands_of(worked.composition))
    stems = sum(int(w.split(" ×")[0]) for w in told if " × stem of" in w)
    assert stems == sum(p.stems(at) for p, at in worked.composition.parts if isinstance(p, Stems))
    cuts: Counter[int] = Counter()
    for what in told:
        if what.startswith("ribbon"):
            for count, mm in re.findall(r"(\d+) × (\d+) mm", what):
                cuts[int(mm)] += int(count)
    counted: Counter[int] = Counter()
    for need in worked.takeoff.needs:
        for mm, count in need.cuts_mm:
            counted[mm] += count
    assert cuts == counted


def test_an_imperial_sheet_has_no_metres() -> None:
    worked = work_out(
        a_design(with_everything("ring"), with_everything("column")), units="imperial"
    )
    for line in lines(worked, "imperial"):
        assert not re.search(r"\d m\b", f"{line.what} {line.where} {line.how}"), line

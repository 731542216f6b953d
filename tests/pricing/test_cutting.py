"""Cutting stock against published optima, a search that tries everything, and laws."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pricing.core import cutting
from pricing.core.cutting import Cutting, cut_rolls
from tests.depth import examples

MILL = {45: 97, 36: 610, 31: 395, 14: 211}  # from the GAMS model library, "cutstock": raw width 100
# From memory, "Cutting stock problem", Wikipedia: 73 master rolls of 5600 mm, waste 0.401 %.
PAPER = {
    1380: 22, 1520: 25, 1560: 12, 1710: 14, 1820: 18, 1880: 18, 1930: 20,
    2000: 10, 2050: 12, 2100: 14, 2140: 16, 2150: 18, 2200: 20,
}  # fmt: skip

wanted_cuts = st.dictionaries(st.integers(1, 60), st.integers(0, 12), max_size=6)


def holds(found: Cutting, wanted: dict[int, int]) -> None:
    cut: Counter[int] = Counter()
    for roll in found.rolls:
        used = sum(length * n for length, n in roll.pattern)
        assert roll.times > 0
        assert used + roll.left_mm == found.roll_mm
        assert roll.left_mm >= 0
        assert [length for length, _ in roll.pattern] == sorted(dict(roll.pattern), reverse=True)
        for length, n in roll.pattern:
            cut[length] += n * roll.times
    assert cut == Counter({length: n for length, n in wanted.items() if n})
    assert len({roll.pattern for roll in found.rolls}) == len(found.rolls)


def first_fit_decreasing(wanted: dict[int, int], roll: int) -> int:
    """Cut by cut into the first roll with room, as the books tell it."""
    rooms: list[int] = []
    for length in sorted(Counter(wanted).elements(), reverse=True):
        for i, room in enumerate(rooms):
            if length <= room:
                rooms[i] -= length
                break
        else:
            rooms.append(roll - length)
    return len(rooms)


def fewest_by_trying(cuts: list[int], roll: int) -> int:
    """Every cut into every opened roll or a new one."""
    best = len(cuts)

    def put(i: int, rooms: tuple[int, ...]) -> None:
        nonlocal best
        if len(rooms) >= best:
            return
        if i == len(cuts):
            best = len(rooms)
            return
        for room in set(rooms):
            if cuts[i] <= room:
                rest = list(rooms)
                rest.remove(room)
                put(i + 1, tuple(sorted([*rest, room - cuts[i]])))
        put(i + 1, tuple(sorted([*rooms, roll - cuts[i]])))

    put(0, ())
    return best


@pytest.mark.parametrize("few_patterns", [2_000, 0], ids=["all patterns", "column generation"])
@pytest.mark.parametrize(
    ("wanted", "roll", "fewest"),
    [
        (MILL, 100, 453),  # data: GAMS model library "cutstock"; optimum computed
        ({3: 25, 5: 20, 9: 15}, 17, 19),  # a textbook's 17 ft stock; optimum computed
        (PAPER, 5600, 73),
    ],
)
def test_published_cases_come_out_at_their_optimum(
    wanted: dict[int, int],
    roll: int,
    fewest: int,
    few_patterns: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(cutting, "FEW_PATTERNS", few_patterns)
    found = cut_rolls(wanted, roll)
    assert (found.count, found.at_least, found.proven) == (fewest, fewest, True)
    holds(found, wanted)


def test_the_waste_of_a_published_case_is_as_published() -> None:
    assert cut_rolls(PAPER, 5600).left_mm / (73 * 5600) == pytest.approx(0.00401, abs=5e-6)


def test_first_fit_is_beaten_where_it_is_not_the_best() -> None:
    # 4+3+3 twice is two rolls of 10; first fit takes 4+4 and needs a third.
    assert first_fit_decreasing({4: 2, 3: 4}, 10) == 3
    found = cut_rolls([4, 4, 3, 3, 3, 3], 10)
    assert [(roll.pattern, roll.times, roll.left_mm) for roll in found.rolls] == [
        (((4, 1), (3, 2)), 2, 0)
    ]


def test_nothing_to_cut_opens_no_roll() -> None:
    assert cut_rolls({}, 25_000) == cut_rolls({300: 0}, 25_000)
    assert cut_rolls([], 25_000).count == 0


def test_a_list_and_a_table_of_the_same_cuts_agree() -> None:
    assert cut_rolls([800, 1200, 1200], 2000) == cut_rolls({1200: 2, 800: 1}, 2000)


@settings(deadline=None)
@given(wanted_cuts)
def test_laws_of_cutting(wanted: dict[int, int]) -> None:
    found = cut_rolls(wanted, 60)
    holds(found, wanted)
    first_fit = first_fit_decreasing(wanted, 60)
    assert found.proven
    assert -(-sum(a * n for a, n in wanted.items()) // 60) <= found.count <= first_fit
    assert 9 * first_fit <= 11 * found.count + 6  # FFD ≤ 11/9 OPT + 6/9 (Dósa 2007)


@settings(deadline=None)
@given(st.lists(st.integers(1, 20), max_size=9))
def test_no_search_finds_fewer(cuts: list[int]) -> None:
    assert cut_rolls(cuts, 20).count == fewest_by_trying(cuts, 20)


@settings(deadline=None, max_examples=examples(40))
@given(st.lists(st.integers(3, 12), max_size=9))
def test_no_search_finds_fewer_by_column_generation(cuts: list[int]) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(cutting, "FEW_PATTERNS", 0)
        found = cut_rolls(cuts, 20)
    fewest = fewest_by_trying(cuts, 20)
    holds(found, Counter(cuts))
    assert found.at_least <= fewest <= found.count
    assert not found.proven or found.count == fewest


@settings(deadline=None)
@given(wanted_cuts, st.integers(60, 90))
def test_a_longer_roll_never_needs_more_rolls(wanted: dict[int, int], roll: int) -> None:
    assert cut_rolls(wanted, roll).count <= cut_rolls(wanted, 60).count


def test_no_time_left_still_cuts_everything_and_does_not_boast() -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(cutting, "FEW_PATTERNS", 0)
        found = cut_rolls(MILL, 100, time_limit_s=0)
    holds(found, MILL)
    assert found.at_least <= 453 <= found.count
    assert found.proven is (found.at_least == found.count)


@pytest.mark.parametrize(
    ("cuts", "roll", "sentence"),
    [
        (
            {2600: 1},
            2500,
            "cuts_mm: expected whole mm above 0, up to the roll's 2500 mm, got 2600 mm",
        ),
        ([0], 2500, "cuts_mm: expected whole mm above 0, up to the roll's 2500 mm, got 0 mm"),
        ([1.5], 2500, "cuts_mm: expected whole mm above 0, up to the roll's 2500 mm, got 1.5 mm"),
        ({300: -1}, 2500, "cuts_mm: expected 0 or more cuts of 300 mm, got -1"),
        ([], 0, "roll_mm: expected more than 0, got 0"),
    ],
)
def test_impossible_cuts_are_refused_in_a_sentence(cuts: object, roll: int, sentence: str) -> None:
    with pytest.raises(ValueError, match=f"^{sentence}$"):
        cut_rolls(cuts, roll)  # type: ignore[arg-type]

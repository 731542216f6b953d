"""Lengths as people write them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.measure import LengthError, read_length, write_cut, write_diameter, write_length


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("7' 6\"", 2.286),
        ("7ft 6", 2.286),
        ("7 ft 6 in", 2.286),
        ("7.5 ft", 2.286),
        ("7’6”", 2.286),
        ("90 in", 2.286),
        ("7' 6 1/2\"", 2.2987),
        ("7' 6½\"", 2.2987),
        ("½ in", 0.0127),
        ("228 cm", 2.28),
        ("2.28 m", 2.28),
        ("2,28 m", 2.28),
        ("2280 mm", 2.28),
    ],
)
def test_a_length_is_read_as_people_write_it(text: str, metres: float) -> None:
    # One inch is 0.0254 m exactly: international yard and pound agreement, 1959.
    assert read_length(text, units="metric", what="Ceiling") == pytest.approx(metres, abs=1e-9)


def test_a_bare_number_is_in_the_studios_units() -> None:
    assert read_length("8", units="imperial", what="x") == pytest.approx(2.4384)
    assert read_length("2,4", units="metric", what="x") == pytest.approx(2.4)


@pytest.mark.parametrize(
    "text", ["", "tall", "-3 m", "nan", "inf", "7'' 6", "1/0 in", "2.28 m m", "9" * 400]
)
def test_garbage_gets_a_sentence_with_field_expected_and_got(text: str) -> None:
    with pytest.raises(LengthError) as refused:
        read_length(text, units="imperial", what="Ceiling height")
    assert str(refused.value).startswith("Ceiling height: expected ")
    assert f"got “{text}”" in str(refused.value)


@given(st.floats(0, 60))
def test_what_is_written_reads_back_within_half_a_step(metres: float) -> None:
    metric = read_length(write_length(metres, "metric"), units="metric", what="x")
    imperial = read_length(write_length(metres, "imperial"), units="imperial", what="x")
    assert metric == pytest.approx(metres, abs=0.005001)
    assert imperial == pytest.approx(metres, abs=0.00636)


@given(st.text(max_size=30))
def test_nothing_typed_crashes(text: str) -> None:
    try:
        assert 0 <= read_length(text, units="metric", what="x") <= 1000
    except LengthError as refused:
        assert "expected" in str(refused)


@pytest.mark.parametrize(
    ("metres", "imperial", "metric"),
    [
        # An inch is 25.4 mm: 4¼ in are 107.95 mm, which to the half inch would read 4 or 4½.
        (0.10795, '4¼"', "10.8 cm"),
        (0.1143, '4½"', "11.4 cm"),
        (0.12065, '4¾"', "12.1 cm"),
        (0.3048, '12"', "30.5 cm"),
        (0.9144, '36"', "91.4 cm"),
        (0.005, '¼"', "0.5 cm"),
    ],
)
def test_a_balloon_is_written_to_the_quarter_inch(
    metres: float, imperial: str, metric: str
) -> None:
    assert write_diameter(metres, "imperial") == imperial
    assert write_diameter(metres, "metric") == metric


@given(st.integers(1, 4000))
def test_quarters_of_an_inch_read_back_as_they_were(quarters: int) -> None:
    across_m = quarters * 0.0254 / 4
    assert read_length(
        write_diameter(across_m, "imperial"), units="imperial", what=""
    ) == pytest.approx(across_m)
    cut = write_cut(round(across_m * 1000), "imperial")
    assert read_length(cut, units="imperial", what="") == pytest.approx(across_m, abs=0.00051)

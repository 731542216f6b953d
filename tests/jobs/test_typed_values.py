"""What is typed into the fields of a job's forms: the last value that is taken, and the first that is not."""

from __future__ import annotations

import pytest
from django import forms

from jobs.models import Venue
from jobs.pages.day.move_event_form import MoveEventForm
from jobs.pages.fields import HeatField, PhoneField, PointsField
from jobs.pages.text_fields import FeaturesField, PlacesField
from studio.access import Access
from studio.measure import Units


@pytest.mark.parametrize(
    ("typed", "celsius"),
    [("-30", -30), ("−30 °C", -30), ("60", 60), ("86 °F", 30), ("12,5", 12.5), ("", None)],
)
def test_heat_is_taken_from_thirty_below_to_sixty(typed: str, celsius: float | None) -> None:
    found = HeatField(label="Warmest there", required=False).clean(typed)
    assert found == (None if celsius is None else pytest.approx(celsius))


@pytest.mark.parametrize("typed", ["-30.1", "60.1", "141 °F", "warm", "20 K"])
def test_heat_beyond_them_gets_a_sentence(typed: str) -> None:
    with pytest.raises(forms.ValidationError, match="Warmest there: expected a temperature from"):
        HeatField(label="Warmest there", required=False).clean(typed)


def test_no_phone_number_is_no_text_and_one_is_held_as_e164() -> None:
    field = PhoneField(label="Phone", required=False)
    assert field.clean("") == ""
    assert (
        field.clean("020 7946 0958") == "+442079460958"
    )  # ITU-T E.164; a number kept for drama by Ofcom


def test_an_event_moves_to_a_venue_that_is_known_or_new_or_stays(access: Access) -> None:
    hall = access.add(Venue, name="Guild Hall")
    venues = access.rows(Venue)
    start = {"start": "2031-06-01T12:00"}

    def moved_to(**typed: object) -> Venue | None:
        form = MoveEventForm({**start, **typed}, venues=venues)
        assert form.is_valid(), form.errors
        return form.rest.venue

    assert moved_to() is None
    assert moved_to(venue=hall.pk) == hall
    new = moved_to(place="Barn", address="1 Lane")
    assert new is not None
    assert (new.pk, new.name, new.address) == (None, "Barn", "1 Lane")


@pytest.mark.parametrize(
    ("units", "typed", "points"),
    [
        ("metric", "−1 m / 1.8 m; 1 m / 2 m", [(-1, 1.8), (1, 2)]),
        ("metric", "-50 cm/1", [(-0.5, 1)]),
        ("imperial", "-3 ft / 6 ft; 0 / 7", [(-0.9144, 1.8288), (0, 2.1336)]),
        ("metric", " ; ", []),
    ],
)
def test_points_are_read_and_written_across_and_up(
    units: Units, typed: str, points: list[tuple[float, float]]
) -> None:
    field = PointsField(label="Points", required=False)
    field.units = units
    found = field.clean(typed)
    assert [tuple(map(pytest.approx, p)) for p in points] == found
    again = field.clean(field.prepare_value(found))
    assert [tuple(map(pytest.approx, p)) for p in points] == again
    assert len(field.prepare_value(found).split(";")) == max(len(points), 1)


@pytest.mark.parametrize("typed", ["1 m", "1 m / 2 m / 3 m", "left / 2 m", "1 m / 2 m; / 3 m"])
def test_points_that_cannot_be_read_get_a_sentence(typed: str) -> None:
    with pytest.raises(
        forms.ValidationError, match="Points: expected points across / up such as −1 m"
    ):
        PointsField(label="Points", required=False).clean(typed)


def test_points_that_were_left_as_they_are_shown_stay_to_the_last_digit() -> None:
    field = PointsField(label="Points", required=False)
    field.current = [(-1.23456789, 2.000001)]  # type: ignore[assignment]
    assert field.clean(field.prepare_value(field.current)) == field.current


FEATURES = [
    {"recipe": "giant", "every": 5},
    {"recipe": "mini", "at": [{"share": 0.4}, {"length_m": 1.2}]},
]


def test_features_are_written_as_they_are_read() -> None:
    field = FeaturesField(label="Features", required=False)
    shown = field.prepare_value(FEATURES)
    assert shown.startswith("giant every 5; mini at 40 %, 1.20 m along")
    assert field.clean(shown) == FEATURES
    assert field.clean("") == []
    assert not field.has_changed(FEATURES, shown)
    assert field.has_changed(FEATURES, shown.replace("5", "6"))
    assert field.has_changed(FEATURES, "")
    assert not field.has_changed(None, "")


@pytest.mark.parametrize(
    ("typed", "says"),
    [("giant", "expected clusters such as “giant every 5”"), ("giant at nowhere", "Features: ")],
)
def test_features_that_cannot_be_read_get_a_sentence(typed: str, says: str) -> None:
    with pytest.raises(forms.ValidationError, match=says):
        FeaturesField(label="Features", required=False).clean(typed)


def test_places_changed_only_where_their_words_did() -> None:
    field = PlacesField(label="At", required=False)
    places = [{"share": 0.4}, {"share": 0.75}]
    assert field.clean("40 %, 75 %") == places
    assert not field.has_changed(places, "40 %, 75 %")
    assert field.has_changed(places, "40 %")
    assert field.has_changed(places, "")
    assert not field.has_changed(None, "")
    assert not field.has_changed([], None)

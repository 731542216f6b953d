"""What is typed into the fields of a job's forms: the last value that is taken, and the first that is not."""

from __future__ import annotations

import pytest
from django import forms

from jobs.models import Venue
from jobs.pages.day.move_event_form import MoveEventForm
from jobs.pages.fields import HeatField, PhoneField
from studio.access import Access


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

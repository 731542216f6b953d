"""One door to rows: studio and role."""

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from jobs.models import Job, Payment
from pricing.models import Price
from studio.door import SeatAt, seat_of
from tests.factories import JobFactory, PersonFactory


def test_a_seat_sees_its_own_studios_rows_only(seat: SeatAt, stranger: SeatAt) -> None:
    mine, theirs = JobFactory.create(studio=seat.studio), JobFactory.create(studio=stranger.studio)
    assert list(seat.rows(Job)) == [mine]
    with pytest.raises(Http404):
        seat.row(Job, pk=theirs.pk)


@pytest.mark.parametrize("model", [Payment, Price])
def test_crew_are_kept_from_prices_and_money(crew: SeatAt, model: type) -> None:
    with pytest.raises(PermissionDenied):
        crew.rows(model)
    with pytest.raises(PermissionDenied):
        crew.add(model)


def test_a_person_takes_their_seat(seat: SeatAt) -> None:
    assert seat.person is not None
    assert seat_of(seat.person) == seat
    assert seat_of(PersonFactory.create()) is None

"""One door to rows: studio and role."""

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from jobs.models import Job, Payment
from pricing.models import Price
from studio.access import Access, access_of
from tests.factories import JobFactory, PersonFactory


def test_a_seat_sees_its_own_studios_rows_only(access: Access, stranger: Access) -> None:
    mine, theirs = (
        JobFactory.create(studio=access.studio),
        JobFactory.create(studio=stranger.studio),
    )
    assert list(access.rows(Job)) == [mine]
    with pytest.raises(Http404):
        access.row(Job, pk=theirs.pk)


@pytest.mark.parametrize("model", [Payment, Price])
def test_crew_are_kept_from_prices_and_money(crew: Access, model: type) -> None:
    with pytest.raises(PermissionDenied):
        crew.rows(model)
    with pytest.raises(PermissionDenied):
        crew.add(model)


def test_a_person_reaches_their_studio(access: Access) -> None:
    assert access.person is not None
    assert access_of(access.person) == access
    assert access_of(PersonFactory.create()) is None

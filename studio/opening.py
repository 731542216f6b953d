"""Opening a studio, and seating people in it."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.db import connection, transaction

from studio.door import SeatAt
from studio.forms import PersonForm
from studio.forms_first import FROM_FIGURES, EarningForm, FirstForm
from studio.models import Person, Seat, Studio
from studio.signals import studio_opened


def studios_here() -> list[Studio]:
    """Every studio of the database; none where it has no tables yet, as in a clean clone."""
    if Studio._meta.db_table not in connection.introspection.table_names():
        return []
    return list(Studio.objects.order_by("pk"))


@transaction.atomic
def open_studio(form: FirstForm, earning: EarningForm) -> SeatAt:
    """Make the first studio and seat its owner. PermissionDenied once there is one."""
    if Studio.objects.select_for_update().exists():
        raise PermissionDenied("This studio is open already: sign in.")
    studio = form.save()
    facts = form.cleaned_data
    person = Person.objects.create_user(
        facts["person_mail"], facts["password"], name=facts["person"]
    )
    Seat.objects.create(studio=studio, person=person, role=Seat.Role.OWNER)
    seat = SeatAt(studio, person, Seat.Role.OWNER)
    told = {name: earning.cleaned_data[name] for name in FROM_FIGURES}
    studio_opened.send(sender=Studio, seat=seat, **told)
    return seat


@transaction.atomic
def seat_somebody(seat: SeatAt, form: PersonForm) -> Person:
    """Give somebody new a seat; the owner's to do."""
    if seat.role != Seat.Role.OWNER:
        raise PermissionDenied("The owner decides who has a seat.")
    facts = form.cleaned_data
    person = Person.objects.create_user(facts["mail"], facts["password"], name=facts["name"])
    Seat.objects.create(studio=seat.studio, person=person, role=facts["role"])
    return person

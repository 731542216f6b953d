"""Opening a studio, and seating people in it."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.db import connection, transaction

from studio.access import Access
from studio.forms import PersonForm
from studio.forms_first import FROM_FIGURES, EarningForm, FirstForm
from studio.models import Membership, Person, Studio
from studio.permissions import OWNER, Permission
from studio.signals import studio_opened


def studios_here() -> list[Studio]:
    """Every studio of the database; none where it has no tables yet, as in a clean clone."""
    if Studio._meta.db_table not in connection.introspection.table_names():
        return []
    return list(Studio.objects.order_by("pk"))


@transaction.atomic
def open_studio(form: FirstForm, earning: EarningForm) -> Access:
    """Make the first studio and make somebody its owner. PermissionDenied once there is one."""
    if Studio.objects.select_for_update().exists():
        raise PermissionDenied("This studio is open already: sign in.")
    studio = form.save()
    facts = form.cleaned_data
    person = Person.objects.create_user(
        facts["person_mail"], facts["password"], name=facts["person"]
    )
    Membership.objects.create(studio=studio, person=person, role=OWNER)
    access = Access(studio, person, OWNER)
    told = {name: earning.cleaned_data[name] for name in FROM_FIGURES}
    studio_opened.send(sender=Studio, access=access, **told)
    return access


@transaction.atomic
def add_member(access: Access, form: PersonForm) -> Person:
    """Make somebody new a member; the owner's to do."""
    access.require(Permission.OWN_STUDIO)
    facts = form.cleaned_data
    person = Person.objects.create_user(facts["mail"], facts["password"], name=facts["name"])
    Membership.objects.create(studio=access.studio, person=person, role=facts["role"])
    return person

"""The office: it reads and writes prices and money, and leaves the studio itself to its owner."""

from __future__ import annotations

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client as Browser
from django.urls import reverse

from jobs.models import Job, Payment
from pricing.models import Price, RateCard, Supplier
from studio.access import Access, access_of, system_access
from studio.models import Membership, OutgoingMail, Person
from studio.permissions import Permission
from tests.conftest import signed_in
from tests.factories import a_designed_job, an_access

NAMES = ("jobs:today", "jobs:money", "jobs:reports", "jobs:buying", "jobs:practice", "pricing:stores", "pricing:rates",
         "pricing:packs", "pricing:orders", "pricing:sheets", "pricing:new-kit", "studio:facts", "studio:letters")  # fmt: skip
OF_A_JOB = ("jobs:brief", "jobs:design", "jobs:price", "jobs:proposal", "jobs:payment", "jobs:statement", "jobs:build",
            "jobs:after", "jobs:postpone", "jobs:alternatives")  # fmt: skip


@pytest.fixture
def office(access: Access) -> Access:
    return an_access("office", access.studio)


@pytest.fixture
def job(access: Access) -> Job:
    return a_designed_job(access)


@pytest.mark.parametrize("name", NAMES)
def test_the_office_reads_every_page_of_the_house(office: Access, name: str) -> None:
    assert signed_in(office).get(reverse(name)).status_code == 200


@pytest.mark.parametrize("name", OF_A_JOB)
def test_and_every_page_of_a_job(office: Access, job: Job, name: str) -> None:
    assert signed_in(office).get(reverse(name, args=[job.number])).status_code == 200


@pytest.mark.parametrize("model", [Price, RateCard, Supplier, Payment])
def test_prices_and_money_are_open_to_owner_and_office_alone(
    access: Access, office: Access, crew: Access, model: type
) -> None:
    for who in (access, office, system_access(access.studio)):
        assert who.may(Permission.SEE_PRICES)
        who.require(Permission.EDIT_JOBS)
        assert list(who.rows(model)) == list(access.rows(model))
    assert not crew.may(Permission.SEE_PRICES)
    with pytest.raises(PermissionDenied, match="Prices and money are kept by the office"):
        crew.rows(model)
    with pytest.raises(PermissionDenied, match="Prices and money are kept by the office"):
        crew.add(model)
    with pytest.raises(PermissionDenied, match="The office keeps this; crew read it"):
        crew.require(Permission.EDIT_JOBS)


def test_what_is_open_to_crew_they_read_and_write(crew: Access, job: Job) -> None:
    assert list(crew.rows(Job)) == [job]
    assert crew.row(Job, pk=job.pk) == job
    assert crew.as_system().rows(Price).exists()
    assert crew.as_system().person is None


PERSON = {"name": "N", "mail": "n@example.com", "role": "owner", "password": "glue-on-fingers-8"}


def press_in(page: str) -> str:
    return page.partition('name="form_key" value="')[2].partition('"')[0]


@pytest.mark.parametrize("role", ["office", "crew"])
def test_only_the_owner_keeps_the_studios_facts_its_logo_and_its_seats(
    browser: Browser, access: Access, role: str
) -> None:
    hands = signed_in(an_access(role, access.studio))
    press = press_in(browser.get(reverse("studio:facts")).content.decode())
    before = (access.studio.name, Person.objects.count())
    assert hands.post(reverse("studio:facts"), {"name": "Taken over"}).status_code == 403
    assert hands.post(reverse("studio:logo"), {"do": "remove"}).status_code == 403
    assert hands.post(reverse("studio:people"), {**PERSON, "form_key": press}).status_code == 403
    access.studio.refresh_from_db()
    assert (access.studio.name, Person.objects.count()) == before
    assert browser.post(reverse("studio:people"), {**PERSON, "form_key": press}).status_code == 302
    assert Membership.objects.get(person__mail="n@example.com").role == "owner"


def test_the_office_sees_no_button_that_it_cannot_press(office: Access, browser: Browser) -> None:
    for who, buttons in ((browser, True), (signed_in(office), False)):
        page = who.get(reverse("studio:facts")).content.decode()
        assert ('<button class="button">Save</button>' in page) is buttons
        assert ('name="logo"' in page) is buttons
        assert ('name="role"' in page) is buttons


def test_the_office_decides_about_letters_and_crew_do_not_see_them(
    office: Access, crew: Access
) -> None:
    row = office.add(OutgoingMail, kind="x", once_key="y", to="a@example.com", subject="S", body="B", state="refused")  # fmt: skip
    at = reverse("studio:letters")
    assert signed_in(crew).get(at).status_code == 403
    assert signed_in(crew).post(at, {"letter": str(row.pk), "do": "arrived"}).status_code == 403
    signed_in(office).post(at, {"letter": str(row.pk), "do": "arrived"})
    row.refresh_from_db()
    assert row.state == "sent"


def test_a_person_of_two_studios_takes_the_first_seat(access: Access, stranger: Access) -> None:
    person = access.person
    assert person
    Membership.objects.create(studio=stranger.studio, person=person, role="crew")
    found = access_of(person)
    assert found
    assert (found.studio, found.role) == (access.studio, "owner")
    Membership.objects.filter(studio=access.studio).delete()
    found = access_of(person)
    assert found
    assert (found.studio, found.role) == (stranger.studio, "crew")
    Membership.objects.all().delete()
    assert access_of(person) is None


def test_lengths_are_in_the_studios_units(access: Access) -> None:
    for units in ("imperial", "metric"):
        access.studio.units = units
        assert access.units == units

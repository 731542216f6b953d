"""Signing in, the first start, the studio's facts."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from jobs.models import Payment
from pricing.models import PurchaseOrder, RateCard, Supplier, Supply
from studio.access import Access
from studio.models import Membership, Person, Studio
from studio.scales import write_scale, write_stages
from studio.tries import TRIES
from tests.conftest import signed_in
from tests.factories import PASSWORD, a_designed_job

FIRST = {
    "name": "Tannery Yard", "address": "2 Tannery Yard", "mail": "yard@example.com", "phone": "", "currency": "EUR",
    "language": "en-IE", "timezone": "Europe/Dublin", "units": "metric", "paper": "A4", "terms": "Ours.",
    "tax_name": "VAT", "tax_percent": "23", "hour": "31.50", "least": "150", "country": "IE", "person": "Maren", "person_mail": "Maren@Example.com",
    "password": "glue-on-fingers-7",
}  # fmt: skip


def test_with_no_studio_every_page_leads_to_the_set_up(db: None) -> None:
    assert Client().get("/").headers["Location"] == reverse("studio:first")
    assert Client().get(reverse("studio:first")).status_code == 200


def test_the_set_up_opens_the_studio_and_signs_its_owner_in(db: None) -> None:
    browser = Client()
    answer = browser.post(reverse("studio:first"), FIRST)
    assert answer.headers["Location"] == reverse("pricing:stores")
    assert browser.get(reverse("pricing:stores")).status_code == 200
    assert Membership.objects.get().role == "owner"
    assert Person.objects.get().mail == "maren@example.com"
    assert Supply.objects.count() > 10
    card = RateCard.objects.get()
    assert (card.tax_percent, card.minimum_charge) == (23, 150)
    assert card.workshop_hour == card.site_hour == Decimal("31.5")
    assert Studio.objects.get().country == "IE"
    assert not Supplier.objects.exists()  # none is made up


def test_a_weak_password_gets_a_sentence_and_loses_nothing(db: None) -> None:
    answer = Client().post(reverse("studio:first"), {**FIRST, "password": "password"})
    assert answer.status_code == 422
    assert b"Tannery Yard" in answer.content
    assert not Studio.objects.exists()


def test_the_set_up_is_closed_once_there_is_a_studio(access: Access) -> None:
    Client().post(reverse("studio:first"), FIRST)
    assert Studio.objects.count() == 1


def test_signing_in_with_the_mail_in_any_case(access: Access) -> None:
    assert access.person
    answer = Client().post(
        reverse("studio:sign-in"), {"username": access.person.mail.upper(), "password": PASSWORD}
    )
    assert answer.status_code == 302


def test_too_many_tries_are_stopped_before_any_password_is_hashed(
    access: Access, monkeypatch: Any
) -> None:
    assert access.person
    told = {"username": access.person.mail, "password": "wrong"}
    for _ in range(TRIES):
        assert b"do not belong together" in Client().post(reverse("studio:sign-in"), told).content

    def never(*_: object, **__: object) -> None:
        raise AssertionError("a password was hashed")

    monkeypatch.setattr("django.contrib.auth.forms.authenticate", never)
    answer = Client().post(reverse("studio:sign-in"), {**told, "password": PASSWORD})
    assert b"Too many tries" in answer.content


def test_a_person_without_a_seat_is_told(access: Access) -> None:
    from tests.factories import PersonFactory

    browser = Client()
    browser.force_login(PersonFactory.create())
    assert browser.get("/").status_code == 403


def facts(studio: Studio, **changes: str) -> dict[str, Any]:
    names = ["name", "address", "mail", "phone", "currency", "language", "timezone", "units", "paper", "tax_number", "deposit_percent", "deposit_days", "balance_days", "offer_days", "offer_greeting", "offer_note", "country", "latex_days", "late_kit_days", "iban", "bic", "bank_details", "terms", "version"]  # fmt: skip
    typed = {"reminders": "-7, 2, 10", "stages": write_stages(studio.stages), "call_off_scale": write_scale(studio.call_off_scale)}  # fmt: skip
    return {**{n: getattr(studio, n) for n in names}, **typed, **changes}


def test_the_owner_keeps_the_facts(browser: Client, access: Access) -> None:
    assert browser.get(reverse("studio:facts")).status_code == 200
    assert (
        browser.post(reverse("studio:facts"), facts(access.studio, name="New Yard")).status_code
        == 302
    )
    assert Studio.objects.get(pk=access.studio.pk).name == "New Yard"


def test_a_currency_stays_once_amounts_are_in_it(browser: Client, access: Access) -> None:
    page = reverse("studio:facts")
    assert browser.post(page, facts(access.studio, currency="JPY")).status_code == 302
    access.studio.refresh_from_db()
    assert access.studio.currency == "JPY"
    job = a_designed_job(access)
    access.add(Payment, job=job, on=date(2026, 5, 1), amount=500)
    access.add(PurchaseOrder, supplier=access.add(Supplier, name="Tannery Supplies"), number=1)
    answer = browser.post(page, facts(access.studio, currency="EUR", name="Newer Yard"))
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "Currency: expected JPY to stay, orders and payments are in it; got EUR." in text
    assert "Newer Yard" in text
    assert browser.post(page, facts(access.studio, name="Newer Yard")).status_code == 302


def test_a_stale_save_answers_409_with_what_differs_and_what_was_typed(
    browser: Client, access: Access
) -> None:
    typed = facts(access.studio, name="Mine")
    browser.post(reverse("studio:facts"), facts(access.studio, name="Theirs"))
    answer = browser.post(reverse("studio:facts"), typed)
    assert answer.status_code == 409
    assert b"Theirs" in answer.content
    assert b'value="Mine"' in answer.content
    assert Studio.objects.get(pk=access.studio.pk).name == "Theirs"
    # Saving again is a decision: the form that came back carries the newer version.
    assert b'name="version" value="2"' in answer.content


@pytest.mark.parametrize(
    ("typed", "kept"),
    [("-7, 2, 10", [-7, 2, 10]), ("10 2;−7  2", [-7, 2, 10]), ("", []), ("0", [0])],
)
def test_days_of_reminders_are_typed_as_people_write_them(
    browser: Client, access: Access, typed: str, kept: list[int]
) -> None:
    browser.post(reverse("studio:facts"), facts(access.studio, reminders=typed))
    assert Studio.objects.get(pk=access.studio.pk).reminders == kept
    shown = browser.get(reverse("studio:facts")).content.decode()
    assert f'value="{", ".join(map(str, kept))}"' in shown or not kept


@pytest.mark.parametrize("typed", ["a week", "7.5", "1000", "1 2 3 4 5 6 7"])
def test_other_days_get_a_sentence_and_change_nothing(
    browser: Client, access: Access, typed: str
) -> None:
    answer = browser.post(reverse("studio:facts"), facts(access.studio, reminders=typed))
    assert answer.status_code == 422
    assert "Reminders, days from the due date: expected" in answer.content.decode()
    assert f'value="{typed}"' in answer.content.decode()
    assert Studio.objects.get(pk=access.studio.pk).reminders == [-7, 2, 10]


def test_crew_keep_out_of_the_studios_facts(crew: Access) -> None:
    assert signed_in(crew).get(reverse("studio:facts")).status_code == 403


def test_somebody_new_gets_a_seat_from_the_owner_only(browser: Client, access: Access) -> None:
    from tests.factories import an_access

    told = {"name": "Jun", "mail": "jun@example.com", "role": "crew", "password": PASSWORD,
            "form_key": "7b8ef9f3-25ab-4fb4-9b07-c00a38dd7a5f"}  # fmt: skip
    office = signed_in(an_access("office", access.studio))
    assert office.post(reverse("studio:people"), told).status_code == 403
    for _ in range(2):
        assert browser.post(reverse("studio:people"), told).status_code in (302, 422)
    assert (
        Membership.objects.filter(
            studio=access.studio, person__mail="jun@example.com", role="crew"
        ).count()
        == 1
    )


def test_pages_carry_a_strict_policy(browser: Client) -> None:
    policy = browser.get("/").headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "unsafe-inline" not in policy
    assert "frame-ancestors 'none'" in policy


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"country": "qq"}, "Country: expected two letters such as GB, got “QQ”."),
        ({"offer_note": "{price}"}, "And says: expected braces round client, event, day, venue"),
    ],
)
def test_facts_that_make_no_sense_are_told(
    browser: Client, access: Access, changes: dict[str, str], told: str
) -> None:
    answer = browser.post(reverse("studio:facts"), facts(access.studio, **changes))
    assert answer.status_code == 422
    assert told in answer.content.decode()

"""Rows for tests. Everything hangs on one studio unless a test says otherwise."""

from __future__ import annotations

import json
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import factory
from django.utils import timezone
from factory.django import DjangoModelFactory

from jobs.models import Client, Job, JobDesign, Venue
from pricing.book.starter import stock_starter, stock_suppliers
from pricing.models import Holder
from studio.access import Access
from studio.models import Membership, Person, Studio

DATA = Path(__file__).parent / "data"
PASSWORD = "glue-on-fingers-7"


class StudioFactory(DjangoModelFactory):
    class Meta:
        model = Studio

    name = factory.Sequence(lambda n: f"Studio {n}")
    address = "1 Long Yard"
    mail = factory.Sequence(lambda n: f"studio{n}@example.com")
    currency = "GBP"
    language = "en-GB"
    timezone = "Europe/London"
    units = "imperial"
    terms = "The date is held once the deposit is here."


class PersonFactory(DjangoModelFactory):
    class Meta:
        model = Person
        skip_postgeneration_save = True

    mail = factory.Sequence(lambda n: f"person{n}@example.com")
    name = factory.Sequence(lambda n: f"Person {n}")
    password = factory.PostGenerationMethodCall("set_password", PASSWORD)

    @factory.post_generation
    def keep(self, create: bool, *_: Any, **__: Any) -> None:
        if create:
            self.save()


class ClientFactory(DjangoModelFactory):
    class Meta:
        model = Client

    name = factory.Sequence(lambda n: f"Client {n}")
    mail = factory.Sequence(lambda n: f"client{n}@example.com")
    phone = "+442079460958"


class VenueFactory(DjangoModelFactory):
    class Meta:
        model = Venue

    name = factory.Sequence(lambda n: f"Hall {n}")
    address = "3 Mill Bank"
    ceiling_m = 2.4384
    door_width_m = 0.84
    door_height_m = 2.03


class JobFactory(DjangoModelFactory):
    class Meta:
        model = Job

    number = factory.Sequence(lambda n: n + 1)
    title = factory.Sequence(lambda n: f"Celebration {n}")
    studio = factory.SubFactory(StudioFactory)
    client = factory.SubFactory(ClientFactory, studio=factory.SelfAttribute("..studio"))
    venue = factory.SubFactory(VenueFactory, studio=factory.SelfAttribute("..studio"))
    event_start = factory.LazyFunction(lambda: timezone.now() + timedelta(days=40))
    event_end = factory.LazyAttribute(lambda job: job.event_start + timedelta(hours=5))


def a_holder(access: Access, title: str) -> Holder:
    """What stock and kit are held for, by its title; the same one each time."""
    found: Holder | None = access.rows(Holder).filter(title=title).first()
    return found or access.add(Holder, title=title)


def an_access(role: str = "owner", studio: Studio | None = None) -> Access:
    studio = studio or StudioFactory.create()
    person = PersonFactory.create()
    Membership.objects.create(studio=studio, person=person, role=role)
    return Access(studio, person, role)


def a_stocked_access(**facts: Any) -> Access:
    """An owner's access to a studio with a starter price book that began long ago."""
    access = an_access(studio=StudioFactory.create(**facts))
    since = timezone.localdate() - timedelta(days=400)
    stock_starter(access, tax_name="VAT", tax_percent=Decimal(20), since=since)
    stock_suppliers(access, since=since)
    return access


def a_document(name: str = "shop-tenth") -> dict[str, Any]:
    """One of the kept design documents as data."""
    return json.loads((DATA / f"{name}.json").read_text())


def a_designed_job(access: Access, name: str = "shop-tenth", **facts: Any) -> Job:
    job = JobFactory.create(studio=access.studio, **facts)
    JobDesign.objects.create(
        studio=access.studio, job=job, document={**a_document(name), "room": {}}
    )
    return job


def with_a_rail(job: Job) -> Job:
    """The same job with a garland on a rail as its second piece."""
    row = job.designs.get()
    rail = a_document("lakeside")["pieces"][0]
    runs = [{**rail["runs"][0], "pattern": ["eight"]}]
    bare = {"features": None, "greenery": [], "tails": None}
    row.document["pieces"].append({**rail, **bare, "name": "Rail", "at_m": 5.0, "runs": runs})
    row.save()
    return job

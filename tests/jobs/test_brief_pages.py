"""Enquiries and briefs."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from jobs.models import Client, Job, Venue
from jobs.pages.brief import saving
from studio.access import Access
from tests.conftest import signed_in
from tests.factories import JobFactory


def enquiry(**changes: str) -> dict[str, str]:
    return {
        "form_key": str(uuid.uuid4()),
        "job-title": "Naming day", "job-event_start": "2026-08-01T14:00", "job-event_end": "2026-08-01T18:00",
        "job-access_from": "2026-08-01T10:00", "job-clear_by": "2026-08-01T20:00", "job-latex": "none",
        "job-notes": "Twins", "client-name": "Imke Sorrel", "client-mail": "imke@example.com",
        "client-phone": "020 7946 0958", "venue-name": "Old Grange", "venue-address": "Mill Bank",
        "venue-ceiling_m": "8'", "venue-door_width_m": "84 cm", "venue-door_height_m": "2,03 m",
        "venue-floor": "flagstones", "venue-access": "Two steps", **changes,
    }  # fmt: skip


def test_an_enquiry_becomes_client_venue_and_job_in_metres_and_utc(
    browser: Browser, access: Access
) -> None:
    answer = browser.post(reverse("jobs:new"), enquiry())
    job = Job.objects.get()
    assert answer.headers["Location"] == reverse("jobs:design", args=[job.number])
    assert (job.venue.ceiling_m, job.venue.door_width_m, job.venue.door_height_m) == (
        2.4384,
        0.84,
        2.03,
    )
    assert job.client.phone == "+442079460958"  # E.164, ITU-T; reference: the phonenumbers library
    # London in August is an hour before UTC (IANA tz database).
    assert job.event_start.isoformat() == "2026-08-01T13:00:00+00:00"


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("venue-ceiling_m", "quite tall", "Ceiling height: expected a length"),
        ("venue-door_width_m", "-2 m", "Narrowest door, width: expected a length"),
        ("client-phone", "ring me", "Phone: expected a phone number"),
        (
            "client-tax_number",
            "GB 980 7806 85",
            "Client’s tax number: expected one of United Kingdom",
        ),
        ("job-event_start", "soon", "Event starts: expected a date and a time"),
        ("job-event_end", "2026-08-01T09:00", "it ends before it starts"),
        ("job-clear_by", "2026-08-01T17:00", "the room must be clear before the end"),
        ("job-title", "", "What is celebrated: expected a value, got nothing"),
        # London clocks skip this hour on 29 March 2026 (IANA tz database): it does not exist.
        ("job-access_from", "2026-03-29T01:30", "couldn"),
    ],
)
def test_garbage_gets_a_sentence_and_nothing_typed_is_lost(
    browser: Browser, field: str, typed: str, says: str
) -> None:
    answer = browser.post(reverse("jobs:new"), enquiry(**{field: typed}))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert says in page.replace("&#x27;", "'")
    assert "Imke Sorrel" in page
    assert "Two steps" in page
    assert typed in page
    assert not Job.objects.exists()


def test_the_same_press_makes_one_job(browser: Browser) -> None:
    told = enquiry()
    leads = {browser.post(reverse("jobs:new"), told).headers["Location"] for _ in range(3)}
    assert len(leads) == Job.objects.count() == Client.objects.count() == 1


def test_somebody_and_somewhere_known_are_used_again(browser: Browser, access: Access) -> None:
    old = JobFactory.create(studio=access.studio)
    told = enquiry(known_client=str(old.client.pk), known_venue=str(old.venue.pk))
    browser.post(reverse("jobs:new"), {**told, "client-name": "", "venue-name": ""})
    job = Job.objects.latest("pk")
    assert (job.client, job.venue) == (old.client, old.venue)


def test_a_known_client_is_not_asked_for_again_when_something_else_is_wrong(
    browser: Browser, access: Access
) -> None:
    old = JobFactory.create(studio=access.studio)
    told = enquiry(
        **{"known_client": str(old.client.pk), "client-name": "", "venue-ceiling_m": "tall"}
    )
    page = browser.post(reverse("jobs:new"), told).content.decode()
    assert "Ceiling height: expected" in page
    assert "Client’s name: expected" not in page


def test_anothers_client_cannot_be_used(browser: Browser, stranger: Access) -> None:
    theirs = JobFactory.create(studio=stranger.studio)
    answer = browser.post(reverse("jobs:new"), enquiry(known_client=str(theirs.client.pk)))
    assert answer.status_code == 422


def test_an_enquiry_is_made_whole_or_not_at_all(
    browser: Browser, access: Access, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise RuntimeError("the log is out of reach")

    monkeypatch.setattr(saving, "write_log", fails)
    with pytest.raises(RuntimeError, match="out of reach"):
        browser.post(reverse("jobs:new"), enquiry())
    for model in (Job, Client, Venue):
        assert not access.rows(model).exists()


def test_numbers_count_up_in_each_studio(
    browser: Browser, access: Access, stranger: Access
) -> None:
    JobFactory.create(studio=stranger.studio, number=41)
    for _ in range(2):
        browser.post(reverse("jobs:new"), enquiry())
    assert list(access.rows(Job).order_by("number").values_list("number", flat=True)) == [1, 2]


def brief_of(browser: Browser, job: Job) -> dict[str, Any]:
    """The brief as the page offers it."""
    form = browser.get(reverse("jobs:brief", args=[job.number])).context["brief"]
    return {
        part.add_prefix(name): part[name].value() if part[name].value() is not None else ""
        for part in (form.client, form.venue, form.job)
        for name in part.fields
    } | {
        f"job-{n}": timezone.localtime(getattr(job, n)).strftime("%Y-%m-%dT%H:%M")
        if getattr(job, n)
        else ""
        for n in ("event_start", "event_end", "access_from", "clear_by")
    }


def test_saving_an_untouched_brief_changes_no_length_by_a_hair(
    browser: Browser, access: Access
) -> None:
    job = JobFactory.create(studio=access.studio, venue__ceiling_m=2.41333)
    told = {k: v for k, v in brief_of(browser, job).items() if v is not None and v is not False}
    assert browser.post(reverse("jobs:brief", args=[job.number]), told).status_code == 302
    assert Venue.objects.get().ceiling_m == 2.41333


def test_two_people_saving_the_second_is_told_and_overwrites_nothing(
    browser: Browser, access: Access
) -> None:
    job = JobFactory.create(studio=access.studio)
    at = reverse("jobs:brief", args=[job.number])
    told = {k: v for k, v in brief_of(browser, job).items() if v is not False}
    browser.post(at, {**told, "venue-floor": "oak"})
    answer = browser.post(at, {**told, "venue-floor": "slate"})
    assert answer.status_code == 409
    assert b"oak" in answer.content
    assert b'value="slate"' in answer.content
    assert Venue.objects.get().floor == "oak"
    assert Job.objects.get().title == job.title


def test_another_studios_job_is_no_job(browser: Browser, stranger: Access) -> None:
    theirs = JobFactory.create(studio=stranger.studio, number=777)
    assert browser.get(reverse("jobs:brief", args=[theirs.number])).status_code == 404


def test_a_job_says_what_it_waits_for(browser: Browser, crew: Access) -> None:
    job = JobFactory.create(studio=crew.studio)
    for person in (browser, signed_in(crew)):
        page = person.get(reverse("jobs:brief", args=[job.number])).content.decode()
        assert "It waits for" in page
        assert "a design" in page
        assert "somebody to ask about latex allergies" in page


def test_crew_read_a_brief_and_change_nothing(crew: Access) -> None:
    job = JobFactory.create(studio=crew.studio)
    at = reverse("jobs:brief", args=[job.number])
    assert signed_in(crew).get(at).status_code == 200
    assert signed_in(crew).post(at, {}).status_code == 403
    assert signed_in(crew).get(reverse("jobs:new")).status_code == 403


def test_the_list_filters_with_and_without_htmx(browser: Browser, access: Access) -> None:
    JobFactory.create(studio=access.studio, title="Lantern walk")
    JobFactory.create(studio=access.studio, title="Harvest supper", stage="closed")
    at = reverse("jobs:jobs")
    assert b"Harvest" not in browser.get(at).content
    assert b"Harvest" in browser.get(at, {"stage": "all"}).content
    part = browser.get(at, {"q": "lantern"}, headers={"HX-Request": "true"}).content
    assert b"Lantern walk" in part
    assert b"<html" not in part
    assert browser.post(at).status_code == 405


def test_a_long_list_is_paged_by_its_last_row(browser: Browser, access: Access) -> None:
    start = timezone.now()
    for n in range(53):
        JobFactory.create(
            studio=access.studio, title=f"Job-{n:02d}", event_start=start + timedelta(days=n // 2)
        )
    first = browser.get(reverse("jobs:jobs"))
    assert len(first.context["jobs"]) == 50
    later = browser.get(reverse("jobs:jobs"), {"after": first.context["more"]})
    titles = [job.title for job in (*first.context["jobs"], *later.context["jobs"])]
    assert titles == [f"Job-{n:02d}" for n in range(53)]
    assert browser.get(reverse("jobs:jobs"), {"after": "rubbish,x"}).status_code == 200


def test_a_clients_tax_number_is_judged_by_the_clients_country(browser: Browser) -> None:
    french = {"client-tax_number": "FR 40 303 265 045"}
    answer = browser.post(reverse("jobs:new"), enquiry(**french))
    assert answer.status_code == 422
    assert "enter FR as the country" in answer.content.decode()
    answer = browser.post(reverse("jobs:new"), enquiry(**french, **{"client-country": "fr"}))
    assert answer.status_code == 302
    assert Client.objects.get().country == "FR"


def test_a_studio_without_a_country_takes_phone_numbers_with_theirs(
    browser: Browser, access: Access
) -> None:
    access.studio.language = "en"
    access.studio.save()
    answer = browser.post(reverse("jobs:new"), enquiry())
    assert "with its country, such as +44 20 7946 0958" in answer.content.decode()
    told = {"client-phone": "+44 20 7946 0958"}
    assert browser.post(reverse("jobs:new"), enquiry(**told)).status_code == 302
    assert Client.objects.get().phone == "+442079460958"


# --- after the yes ---


def brief_before_the_yes(browser: Browser, job: Job) -> dict[str, Any]:
    """A page that was open when the client accepted."""
    told = {k: v for k, v in brief_of(browser, job).items() if v is not None and v is not False}
    Job.objects.filter(pk=job.pk).update(stage="accepted")
    return told


@pytest.mark.parametrize("stage", ["accepted", "booked", "ready", "up"])
def test_after_the_yes_day_hours_and_place_lead_to_the_move(
    browser: Browser, crew: Access, access: Access, stage: str
) -> None:
    job = JobFactory.create(studio=access.studio, stage=stage)
    at = reverse("jobs:brief", args=[job.number])
    page = browser.get(at).content.decode()
    assert reverse("jobs:postpone", args=[job.number]) in page
    for name in ("job-event_start", "job-clear_by", "venue-name", "venue-address"):
        assert f'name="{name}"' not in page
    assert 'name="venue-ceiling_m"' in page
    assert job.venue.name in page
    form = browser.get(at).context["brief"]
    told = {
        part.add_prefix(name): part[name].value()
        for part in (form.client, form.venue, form.job)
        for name in part.fields
        if part[name].value() not in (None, False)
    }
    assert browser.post(at, {**told, "job-title": "A new name"}).status_code == 302
    was = job
    job = Job.objects.get(pk=was.pk)
    assert (job.title, job.event_start, job.venue.name) == (
        "A new name", was.event_start, was.venue.name,
    )  # fmt: skip
    assert "Move the event" not in signed_in(crew).get(at).content.decode()


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("job-event_start", "2027-08-01T14:00"),
        ("job-event_end", "2027-08-02T14:00"),
        ("job-access_from", "soon"),
        ("venue-name", "Another hall"),
        ("venue-address", "Another street"),
    ],
)
def test_a_page_from_before_the_yes_is_refused_with_a_sentence(
    browser: Browser, access: Access, name: str, value: str
) -> None:
    job = JobFactory.create(studio=access.studio)
    told = brief_before_the_yes(browser, job)
    answer = browser.post(
        reverse("jobs:brief", args=[job.number]), {**told, name: value, "job-title": "A new name"}
    )
    assert answer.status_code == 422
    assert "the client has accepted. Change it with “Move the event”." in answer.content.decode()
    kept = Job.objects.get(pk=job.pk)
    assert (kept.title, kept.event_start, kept.venue.name) == (
        job.title, job.event_start, job.venue.name,
    )  # fmt: skip


@pytest.mark.parametrize("stage", ["down", "closed"])
def test_what_is_over_stands_as_it_was(browser: Browser, access: Access, stage: str) -> None:
    job = JobFactory.create(studio=access.studio)
    told, at = brief_before_the_yes(browser, job), reverse("jobs:brief", args=[job.number])
    Job.objects.update(stage=stage)
    page = browser.get(at).content.decode()
    assert "Move the event" not in page
    assert 'name="job-event_start"' not in page
    answer = browser.post(at, {**told, "job-event_start": "2027-08-01T14:00"})
    assert "Event starts: it is over, and what was agreed stands." in answer.content.decode()
    assert Job.objects.get().event_start == job.event_start


def test_a_page_from_before_the_yes_that_leaves_them_is_saved(
    browser: Browser, access: Access
) -> None:
    start = timezone.now().replace(second=0, microsecond=0) + timedelta(days=30)
    job = JobFactory.create(
        studio=access.studio, event_start=start, event_end=start + timedelta(hours=5)
    )
    told = brief_before_the_yes(browser, job)
    told["job-notes"] = "Twins"
    assert browser.post(reverse("jobs:brief", args=[job.number]), told).status_code == 302
    assert Job.objects.get(pk=job.pk).notes == "Twins"


def test_a_venue_put_right_in_one_brief_is_told_for_the_accepted_jobs_there(
    browser: Browser, access: Access
) -> None:
    agreed = JobFactory.create(studio=access.studio, stage="booked", title="Lantern walk")
    job = JobFactory.create(studio=access.studio, venue=agreed.venue)
    told = {k: v for k, v in brief_of(browser, job).items() if v is not None and v is not False}
    at = reverse("jobs:brief", args=[job.number])
    answer = browser.post(at, {**told, "venue-floor": "oak"}, follow=True)
    assert "Lantern walk" not in answer.content.decode()
    told["venue-version"] = str(Venue.objects.get(pk=agreed.venue.pk).version)
    answer = browser.post(at, {**told, "venue-address": "Another street"}, follow=True)
    assert f"accepted jobs too: {agreed}. Tell their clients." in answer.content.decode()
    log = browser.get(reverse("jobs:brief", args=[agreed.number])).content.decode()
    assert "Name or address of the venue changed in the brief of" in log

"""The design screen."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from django.test import Client as Browser
from django.urls import reverse

from jobs.design.document import Room
from jobs.design.reading import read_design
from jobs.design.starters import sketch
from jobs.design.supports import KINDS
from jobs.design.working import work_out
from jobs.models import Job, JobDesign
from jobs.pages.design.design_form import DesignForm
from jobs.pages.design.design_rows import DesignRow
from studio.access import Access
from studio.measure import write_exact, write_length
from tests.conftest import signed_in
from tests.factories import DATA, JobFactory, a_designed_job, a_document

HTMX = {"HX-Request": "true"}


def typed(sheet: DesignForm) -> dict[str, str]:
    """What a browser would send for a sheet that is laid out."""
    data = {"pieces": str(len(sheet.pieces)), "seed": str(sheet.seed)}
    parts: list[Any] = [sheet.palette, sheet.clusters]
    for piece in sheet.pieces:
        data[f"{piece.prefix}-kind"] = piece.kind
        parts += piece.forms
    for part in parts:
        if hasattr(part, "management_form"):
            data |= {b.html_name: str(b.value()) for b in part.management_form}
        for form in getattr(part, "forms", [part]):
            data |= {
                b.html_name: str(b.value()) for b in form if b.value() not in (None, "", False, {})
            }
    return data


def at(job: Job) -> str:
    return reverse("jobs:design", args=[job.number])


@pytest.fixture
def job(access: Access) -> Job:
    return a_designed_job(access)


@pytest.fixture
def data(browser: Browser, job: Job) -> dict[str, str]:
    return {**typed(browser.get(at(job)).context["sheet"]), "version": "1"}


@pytest.mark.parametrize("units", ["imperial", "metric"])
@pytest.mark.parametrize("name", ["gym-doors", "lakeside", "shop-tenth"])
def test_a_document_goes_through_the_form_and_back(access: Access, name: str, units: str) -> None:
    access.studio.units = units
    design = read_design((DATA / f"{name}.json").read_bytes())
    from django.http import QueryDict

    data = QueryDict(mutable=True)
    data.update(typed(DesignForm(access.studio, design=design)))
    back = DesignForm(access.studio, data=data)
    assert back.is_valid(), back.all_faults()
    assert back.design is not None
    before, after = design.model_dump(mode="json"), back.design.model_dump(mode="json")
    for document in (before, after):
        document.pop("room"), document.pop("title")
    assert near(before, after), (before, after)


def near(one: Any, other: Any) -> bool:
    """Equal, lengths to half a millimetre: what the units of the form can write."""
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) <= 0.0005
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(near(one[k], other[k]) for k in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(near, one, other))
    return bool(one == other)


def test_a_new_job_begins_with_a_sketch_that_fits_its_room(
    browser: Browser, access: Access
) -> None:
    job = JobFactory.create(studio=access.studio)
    assert b"Begin with" in browser.get(at(job)).content
    for kind in KINDS:
        answer = browser.post(at(job), {"do": "begin", "kind": kind})
        assert b'class="ball"' in answer.content
        worked = work_out(sketch(kind, job.venue.room()))
        assert not [f for f in worked.takeoff.findings if f.code.startswith("ceiling")]
    assert browser.post(at(job), {"do": "begin", "kind": "moon"}).status_code == 404
    assert not JobDesign.objects.exists()


def test_a_sketch_says_that_it_is_not_saved_and_never_stands_before_a_saved_design(
    browser: Browser, access: Access
) -> None:
    job = JobFactory.create(studio=access.studio)
    assert b"Not saved yet" in browser.post(at(job), {"do": "begin", "kind": "ring"}).content
    saved = a_designed_job(access)
    assert b"Not saved yet" not in browser.get(at(saved)).content
    again = browser.post(
        at(saved), {"do": "begin", "kind": "column"}
    )  # the begun page, loaded again
    assert again.status_code == 302
    assert again.headers["Location"] == at(saved)


@pytest.mark.parametrize("units", ["imperial", "metric"])
@pytest.mark.parametrize("ceiling", [None, 2.1, 2.4384, 3.0, 6.0])
@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_sketch_fits_under_any_ceiling_in_plain_lengths(
    kind: str, ceiling: float | None, units: Any
) -> None:
    design = sketch(kind, Room(ceiling_m=ceiling), units)
    worked = work_out(design)
    assert not [f for f in worked.takeoff.findings if f.code.startswith("ceiling")]
    for length in design.pieces[0].support.model_dump().values():
        if isinstance(length, float) and length > 0.1:
            assert write_exact(length, units) == write_length(length, units)


def test_a_change_is_looked_at_without_being_saved(
    browser: Browser, job: Job, data: dict[str, str]
) -> None:
    plain = browser.get(at(job)).content.decode()
    answer = browser.post(
        at(job), {**data, "do": "look", "p0-accents-count": "2"}, headers=HTMX
    ).content.decode()
    assert "<html" not in answer
    assert answer.count('class="ball"') == plain.count('class="ball"') - 6 * 8
    assert 'id="total"' in answer
    assert JobDesign.objects.get().version == 1


def test_the_page_draws_as_many_balloons_as_it_counts(browser: Browser, job: Job) -> None:
    page = browser.get(at(job))
    shown = re.search(r'clusters</th>\s*<td class="count">(\d+)', page.content.decode())
    assert shown
    assert (
        page.content.count(b'class="ball"')
        == int(shown.group(1))
        == page.context["look"].worked.takeoff.ball_count
    )


def test_saving_without_scripts(browser: Browser, job: Job, data: dict[str, str]) -> None:
    answer = browser.post(
        at(job), {**data, "p0-support-diameter_m": "7 ft", "p0-runs-0-end": "left 5 ft"}
    )
    assert answer.status_code == 302
    row = JobDesign.objects.get()
    assert row.version == 2
    assert row.document["pieces"][0]["support"]["diameter_m"] == 2.1336
    assert row.document["pieces"][0]["runs"][0]["end"]["height_m"] == 1.524


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("p0-support-diameter_m", "wide", "Across: expected a length"),
        ("p0-runs-0-end", "left 12 ft", "expected a height from 0.00 to 2.29 m, got 3.66 m"),
        ("p0-runs-0-end", "somewhere", "To: expected a place such as"),
        ("p0-runs-0-pattern", "nine", "expected one of eight, quad, got nine"),
        ("p0-runs-0-weights", "ivory", "expected colours with shares"),
        ("clusters-0-blown_m", "14 in", "bursts"),
        ("clusters-0-count", "13", "expected a whole number from 1 to 12, got “13”"),
        ("palette-0-weight", "-4", "Share: expected a whole number from 0 to 1000"),
        ("p0-greenery-0-plant", "", "Plant: expected a value, got nothing"),
    ],
)
def test_what_cannot_be_read_is_told_beside_its_field(
    browser: Browser, job: Job, data: dict[str, str], field: str, value: str, says: str
) -> None:
    changed = {**data, field: value}
    page = browser.post(at(job), changed)
    text = page.content.decode().replace("&#x27;", "'")
    assert page.status_code == 422
    assert says in text
    wrong = re.search(
        rf'id="id_{field}"[^>]*aria-invalid="true"|name="{field}"[^>]*aria-invalid="true"', text
    )
    assert wrong, f"{field} is not marked"
    assert value in text
    look = browser.post(at(job), {**changed, "do": "look"}, headers=HTMX).content.decode()
    assert "Not readable yet" in look
    assert JobDesign.objects.get().version == 1


def test_rows_and_pieces_are_added_and_taken_out_without_scripts(
    browser: Browser, job: Job, data: dict[str, str]
) -> None:
    more = browser.post(at(job), {**data, "do": "add-p0-runs"})
    assert b'name="p0-runs-1-start"' in more.content
    assert b'class="ball"' in more.content  # an empty row spoils nothing
    piece = browser.post(at(job), {**data, "do": "add-piece", "kind": "rail"})
    assert b'name="p1-support-run_m"' in piece.content
    both = {**typed(piece.context["sheet"]), "version": "1"}
    browser.post(at(job), {**both, "p0-gone": "1"})
    document = JobDesign.objects.get().document
    assert [p["support"]["kind"] for p in document["pieces"]] == ["rail"]


def test_a_stale_save_answers_409_with_what_differs(
    browser: Browser, job: Job, data: dict[str, str]
) -> None:
    browser.post(at(job), {**data, "p0-accents-count": "2"})
    answer = browser.post(at(job), {**data, "p0-accents-count": "9"})
    assert answer.status_code == 409
    assert b"pieces 1 accents count" in answer.content
    assert b'name="p0-accents-count" value="9"' in answer.content
    assert b'name="version" value="2"' in answer.content
    assert JobDesign.objects.get().document["pieces"][0]["accents"]["count"] == 2


def test_the_first_save_of_two_people_is_one(
    browser: Browser, access: Access, data: dict[str, str]
) -> None:
    job = JobFactory.create(studio=access.studio)
    assert browser.post(at(job), {**data, "version": "0"}).status_code == 302
    assert (
        browser.post(at(job), {**data, "version": "0", "p0-accents-count": "1"}).status_code == 409
    )


def test_the_ceiling_is_the_venues(browser: Browser, job: Job) -> None:
    assert b"too high" not in browser.get(at(job)).content
    job.venue.ceiling_m = 1.9
    job.venue.save()
    assert b"too high" in browser.get(at(job)).content


def test_crew_see_the_picture_and_no_price(crew: Access, access: Access) -> None:
    job = a_designed_job(access)
    page = signed_in(crew).get(at(job))
    assert page.content.count(b'class="ball"') > 100
    assert b"margin" not in page.content
    assert b"\xc2\xa3" not in page.content
    assert signed_in(crew).post(at(job), {"do": "look"}).status_code == 403


def test_the_saved_design_is_a_file_that_the_command_reads(browser: Browser, job: Job) -> None:
    answer = browser.get(reverse("jobs:design-document", args=[job.number]))
    design = read_design(answer.content)
    assert design.room.ceiling_m == job.venue.ceiling_m
    assert json.loads(answer.content)["pieces"] == a_document()["pieces"]


def test_another_studios_design_is_no_design(browser: Browser, stranger: Access) -> None:
    theirs = a_designed_job(stranger, number=888)
    assert browser.get(at(theirs)).status_code == 404
    assert browser.put(at(theirs)).status_code in (404, 405)


@pytest.mark.parametrize(
    "junk",
    [{}, {"pieces": "x"}, {"pieces": "1"}, {"pieces": "1", "p0-kind": "moon"}, {"pieces": "99"}],
)
def test_a_form_that_no_page_of_ours_sent_is_refused_calmly(
    browser: Browser, job: Job, junk: dict[str, str]
) -> None:
    assert browser.post(at(job), {**junk, "version": "1"}).status_code in (400, 422)


@pytest.mark.parametrize("said", ["9" * 30, "9" * 5000, "1001"])
def test_more_rows_than_a_design_can_have_are_refused_before_any_is_made(
    browser: Browser, job: Job, data: dict[str, str], monkeypatch: pytest.MonkeyPatch, said: str
) -> None:
    counts = [name for name in data if name.endswith("-TOTAL_FORMS")]
    assert len(counts) >= 5
    made: list[object] = []
    monkeypatch.setattr(DesignRow, "fit", lambda row, studio: made.append(row))
    for do in ("look", "save", "keep", "lay-out", "add-palette", "add-p0-runs"):
        for name in counts:
            page = browser.post(at(job), {**data, name: said, "do": do})
            assert page.status_code == 400
            assert "Rows: expected at most 1000 in a design, got" in page.content.decode()
    assert made == []


def test_as_many_rows_as_the_largest_document_has_are_no_refusal(
    browser: Browser, job: Job, data: dict[str, str]
) -> None:
    rest = sum(
        int(data[n]) for n in data if n.endswith("-TOTAL_FORMS") and n != "palette-TOTAL_FORMS"
    )
    page = browser.post(at(job), {**data, "palette-TOTAL_FORMS": str(1000 - rest), "do": "save"})
    assert page.status_code == 422
    more = {**data, "palette-TOTAL_FORMS": str(1001 - rest), "do": "save"}
    assert browser.post(at(job), more).status_code == 400

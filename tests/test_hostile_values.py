"""What nobody types: every address answers it with a page or a sentence, never with a broken one."""

from __future__ import annotations

import re
from pathlib import Path
from uuid import uuid4

import pytest
from django.core.exceptions import BadRequest
from django.test import Client, RequestFactory
from django.urls import reverse

from jobs.models import RoomPhoto
from studio.access import Access
from tests.conftest import signed_in
from tests.factories import a_designed_job
from tests.walk import Address, every_address, furnished

HOME = Path(__file__).parent.parent
VALUES = [
    "9999-12-31", "0001-01-01", "9" * 30, "9" * 5000, "nan", "٣",
    f"2026-01-01T00:00:00+00:00,{'9' * 30}", "0001-01-01T00:00:00+14:00,1",
]  # fmt: skip
PAPERS = (".pdf", ".png", ".svg", ".jpeg")
# The names that views read by themselves, past any form.
READ = {
    name
    for room in ("studio", "jobs", "pricing")
    for path in (HOME / room).rglob("*.py")
    for name in re.findall(r'(?:GET|POST|data)\.(?:get|getlist)\(\s*"([^"]+)"', path.read_text())
} - {"do", "form_key"}


@pytest.fixture
def whole(db: None) -> tuple[Client, list[Address]]:
    access = furnished()
    browser = signed_in(access)
    browser.raise_request_exception = False
    light = [at for at in every_address(access, once=True) if not at.path.endswith(PAPERS)]
    return browser, [at for at in light if at.name != "studio:sign-out"]


def test_the_names_that_views_read_are_found() -> None:
    assert {"from", "after", "q", "spot.x", "version", "shade", "out", "take"} <= READ


def test_every_address_stands_what_nobody_asks(whole: tuple[Client, list[Address]]) -> None:
    browser, addresses = whole
    broken = [
        (at.name, value[:40])
        for at in addresses
        for value in VALUES
        if browser.get(at.path, dict.fromkeys(READ, value)).status_code >= 500
    ]
    assert broken == []


def test_every_form_stands_what_nobody_types(whole: tuple[Client, list[Address]]) -> None:
    browser, addresses = whole
    broken = []
    for at in addresses:
        page = browser.get(at.path, follow=True)
        if not page.headers["Content-Type"].startswith("text/html"):
            continue
        fields = set(re.findall(r'name="([^"]+)"', page.content.decode())) | READ
        typed = {**dict.fromkeys(fields, "9" * 30), "do": "", "form_key": str(uuid4())}
        if browser.post(at.path, typed).status_code >= 500:
            broken.append(at.name)
    assert broken == []


@pytest.mark.parametrize("day", ["9999-12-31", "0001-01-01", "1999-12-31", "2101-01-01", "May", "2026-02-30"])  # fmt: skip
def test_a_day_out_of_all_reason_gets_a_sentence_and_today(browser: Client, day: str) -> None:
    page = browser.get(reverse("jobs:diary"), {"from": day})
    assert page.status_code == 200
    assert f"From: expected a day from 2000 to 2100 such as 2026-03-01, got “{day}”." in page.content.decode()  # fmt: skip


@pytest.mark.parametrize("day", ["2000-01-01", "2100-12-31"])
def test_the_first_and_the_last_day_are_in_the_diary(browser: Client, day: str) -> None:
    assert "expected a day" not in browser.get(reverse("jobs:diary"), {"from": day}).content.decode()  # fmt: skip


@pytest.mark.parametrize("name", ["jobs:jobs", "pricing:stores", "pricing:packs"])
def test_nul_in_a_search_is_refused_with_a_sentence(browser: Client, name: str) -> None:
    page = browser.get(reverse(name), {"q": "arch\0"})
    assert page.status_code == 400
    assert "a character that no text has" in page.content.decode()
    assert browser.get(reverse(name) + "?%00=x").status_code == 400
    assert browser.post(reverse("jobs:new"), {"job-title": "a\0b"}).status_code == 400


@pytest.mark.parametrize("spot", [{"spot.x": "12"}, {"spot.y": "12"}, {"spot.x": "", "spot.y": "5"}])  # fmt: skip
def test_a_spot_without_its_twin_gets_a_sentence(access: Access, spot: dict[str, str]) -> None:
    job = a_designed_job(access)
    photo = access.add(RoomPhoto, job=job, jpeg=b"x", wide_px=640, high_px=480)
    answer = signed_in(access).post(
        reverse("jobs:photo", args=[job.number]), {"do": "point", **spot}
    )
    photo.refresh_from_db()
    assert answer.status_code == 422
    assert photo.first_x is None


FRAMEWORK = re.compile(r"Resolver404|Http404|DoesNotExist|Exception|Django|CSRF|Traceback|matching query|tried", re.I)  # fmt: skip


@pytest.mark.parametrize("path", ["/nowhere/", "/jobs/999/", "/o/nobody-knows/", "/stop/nobody/", "/jobs/1/statement.doc", "/stores/99999999999999999999999/"])  # fmt: skip
def test_what_is_not_there_is_said_in_our_words(browser: Client, path: str) -> None:
    for whose in (browser, Client()):
        page = whose.get(path, follow=True)
        text = re.sub(r"<[^>]+>", " ", page.content.decode().partition("<main")[2])
        assert not FRAMEWORK.search(text), text
    assert browser.get(path).status_code == 404


def test_a_client_is_not_led_to_the_door_of_the_office(access: Access) -> None:
    page = Client().get("/o/nobody-knows/").content.decode()
    assert "This link does not open anything." in page
    assert "To Today" not in page
    assert "Ask the studio that sent it." in page


def test_a_missing_key_is_said_in_our_words(browser: Client) -> None:
    page = browser.post(reverse("studio:people"), {"name": "J", "mail": "j@example.com", "role": "crew", "password": "long-enough-words-3"})  # fmt: skip
    assert page.status_code == 400
    assert "form_key: expected the form" in page.content.decode()


def test_a_page_that_was_open_too_long_says_so(access: Access) -> None:
    strict = Client(enforce_csrf_checks=True)
    assert access.person
    strict.force_login(access.person)
    page = strict.post(reverse("jobs:new"), {})
    assert page.status_code == 403
    assert "load the page anew and press once more" in page.content.decode()
    assert not FRAMEWORK.search(page.content.decode().partition("<main")[2])


def test_what_others_raise_in_our_place_is_not_repeated() -> None:
    from studio.client_errors import not_read, sentence_of

    class Leaky(BadRequest):
        """Somebody else's."""

    assert sentence_of(Leaky("at /etc/passwd"), BadRequest) == ""
    request = RequestFactory().get("/")
    assert b"/etc/passwd" not in not_read(request, Leaky("at /etc/passwd")).content

"""Every page is sound HTML by the Nu checker of the W3C (validator.w3.org/nu, its jar from npm)."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from jobs.models import ClientLink
from jobs.proposal.links import shown_again
from studio.access import Access
from tests.conftest import signed_in
from tests.factories import an_access
from tests.walk import every_address, furnished

HOME = Path(__file__).parent.parent
JAR = HOME / ".setup" / "nu" / "node_modules" / "vnu-jar" / "build" / "dist" / "vnu.jar"
PAPERS = (".pdf", ".png", ".svg", ".jpeg")
# Advice that is not followed, and why.
ALLOWED = {
    # A proposal is an article of its own, frozen with the title it was sent with; papers need it to be the first.
    "Consider using the “h1” element as a top-level heading only",
}

type Page = tuple[str, HttpResponse]


@pytest.fixture
def checker() -> list[str]:
    """The command. `.ci/setup ci` brings it; without it the test is skipped, but never on CI."""
    java = shutil.which("java")
    if java and JAR.exists():
        return [java, "-Xmx512m", "-jar", str(JAR), "--format", "json", "--exit-zero-always"]
    if os.environ.get("NU_CHECKER") == "required":
        pytest.fail(f"The Nu checker: expected java on PATH and {JAR}; `.ci/setup ci` brings both.")
    pytest.skip("The Nu checker is not here: `.ci/setup ci` brings it.")


def before_there_is_a_studio() -> Iterator[Page]:
    yield "first", Client().get(reverse("studio:first"))
    yield "first, empty", Client().post(reverse("studio:first"), {})


def as_owner(access: Access) -> Iterator[Page]:
    browser = signed_in(access)
    for address in every_address(access):
        if not address.path.endswith(PAPERS):
            yield address.path, browser.get(address.path)
    yield "no such page", browser.get("/nowhere/")
    for address in every_address(access, once=True):
        if address.name != "studio:sign-out":
            bare = browser.post(address.path, {"form_key": str(uuid4())})
            yield f"{address.path}, nothing typed", bare


def as_crew(access: Access) -> Iterator[Page]:
    browser = signed_in(an_access("crew", access.studio))
    for address in every_address(access, once=True):
        if not address.path.endswith(PAPERS) and address.name != "studio:sign-out":
            yield f"crew {address.path}", browser.get(address.path)


def as_client(access: Access) -> Iterator[Page]:
    browser = Client()
    yield "sign in", browser.get(reverse("studio:sign-in"))
    yield "sign in, nothing typed", browser.post(reverse("studio:sign-in"), {})
    yield "no such link", browser.get(reverse("jobs:offer-page", args=["nobody-knows"]))
    for link in ClientLink.objects.filter(studio=access.studio):
        at = reverse("jobs:offer-page", args=[shown_again(link)])
        yield at, browser.get(at)
        yield f"{at}, nothing typed", browser.post(at, {})
        yield f"{at}, once more", browser.post(at, {"name": "Ada B", "agreed": "on"})


@pytest.mark.nu
def test_every_page_is_sound_html(db: None, checker: list[str], tmp_path: Path) -> None:
    pages = list(before_there_is_a_studio())
    access = furnished()
    pages += [
        *as_client(access),
        *as_crew(access),
        *as_owner(access),
    ]  # the owner’s presses change things
    assert [name for name, page in pages if page.status_code >= 500] == []
    names = {}
    for i, (name, page) in enumerate(pages):
        if page.headers.get("Content-Type", "").startswith("text/html") and page.content:
            (tmp_path / f"{i}.html").write_bytes(page.content)
            names[f"{i}.html"] = name
    done = subprocess.run([*checker, str(tmp_path)], capture_output=True, check=False, timeout=300)
    told = [
        f"{names[message['url'].rsplit('/', 1)[1]]}: {message['message']} {message.get('extract', '')}"
        for message in json.loads(done.stderr)["messages"]
        if not any(message["message"].startswith(sentence) for sentence in ALLOWED)
    ]
    assert len(names) > 150
    assert told == []


@pytest.mark.nu
def test_the_checker_would_have_told(checker: list[str], tmp_path: Path) -> None:
    page = tmp_path / "0.html"
    page.write_text('<!doctype html><html lang="en"><title>x</title><p id="a b">x')
    done = subprocess.run([*checker, str(page)], capture_output=True, check=False, timeout=60)
    assert "An ID must not contain whitespace" in done.stderr.decode()

"""Who comes through which door, and how: methods, roles and studios, over every address of the site."""

from __future__ import annotations

import ast
from pathlib import Path
from uuid import uuid4

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from jobs.models import ClientLink
from jobs.proposal.links import shown_again
from studio.access import Access
from studio.post_only import NOT_DONE
from tests.conftest import signed_in
from tests.factories import PASSWORD, a_designed_job, a_stocked_access, an_access
from tests.walk import PUBLIC, Address, every_address, furnished

HOME = Path(__file__).parent.parent
OUT = "studio:sign-out"

# What crew may do: pack, count, move stock, take kit back, write down time, take a job through its days.
CREW_PRESSES = {
    "jobs:after", "jobs:time-back", "jobs:packing", "jobs:travel", "jobs:stage", "pricing:stock-move", "pricing:count",
    "pricing:kit-back", "studio:password",
}  # fmt: skip
# What they may read besides; everything else is the office's.
CREW_READS = CREW_PRESSES | {
    "jobs:today", "jobs:diary", "jobs:jobs", "jobs:brief", "jobs:design", "jobs:alternative", "jobs:picture",
    "jobs:photo-jpeg", "jobs:design-document", "jobs:build", "jobs:list-pdf", "jobs:labels", "pricing:stores",
    "pricing:stock", "pricing:count-pdf", "pricing:kit",
}  # fmt: skip
LEADS_AWAY = {"jobs:hold"}  # a plain GET says that nothing was done; the press itself is refused
NAMES_NO_ROW = {"jobs:journal", "jobs:report-sheet", "pricing:export"}  # one's own, by their kind
METHODS = ("PUT", "PATCH", "DELETE")


@pytest.fixture
def whole(db: None) -> Access:
    return furnished()


def press(browser: Client, at: Address) -> HttpResponse:
    return browser.post(at.path, {"form_key": str(uuid4())})  # type: ignore[return-value]


def inner(whole: Access) -> list[Address]:
    """One address of each page behind the door."""
    return [at for at in every_address(whole, once=True) if at.name not in PUBLIC]


def test_a_plain_get_leads_to_a_page_never_to_nothing(whole: Access) -> None:
    browser, led = signed_in(whole), []
    for at in every_address(whole, once=True):
        if at.name == OUT:
            continue
        answer = browser.get(at.path)
        assert answer.status_code != 405, at
        if answer.status_code == 302 and at.name not in PUBLIC - {"jobs:offer-page-ask"}:
            page = browser.get(answer.url)  # type: ignore[attr-defined]
            assert page.status_code == 200, at
            assert NOT_DONE in page.content.decode(), at
            led.append(at.name)
    assert len(led) >= 17


def test_a_press_that_was_lost_while_signed_out_ends_on_its_page(access: Access) -> None:
    job, browser = a_designed_job(access), Client()
    lost = browser.post(reverse("jobs:stage", args=[job.number]), {"to": "booked"})
    assert lost.url.startswith("/sign-in/")  # type: ignore[attr-defined]
    assert access.person
    said = {"username": access.person.mail, "password": PASSWORD}
    page = browser.post(lost.url, said, follow=True)  # type: ignore[attr-defined]
    assert page.redirect_chain[-1][0] == reverse("jobs:brief", args=[job.number])
    assert NOT_DONE in page.content.decode()


def test_a_clients_question_page_reloads_to_the_proposal(whole: Access) -> None:
    (ask, *_) = [at for at in every_address(whole) if at.name == "jobs:offer-page-ask"]
    page = Client().get(ask.path, follow=True)
    assert page.redirect_chain == [(ask.path.removesuffix("ask/"), 302)]
    assert NOT_DONE in page.content.decode()


def test_no_view_asks_for_presses_in_another_way() -> None:
    """A bare refusal of GET is a blank page to whoever reloads."""
    loose = [
        f"{path.relative_to(HOME)}:{node.lineno}"
        for room in ("studio", "jobs", "pricing")
        for path in (HOME / room).rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text()))
        if (isinstance(node, ast.Name) and node.id == "require_POST")
        or (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id == "require_http_methods"
            and [e.value for e in node.args[0].elts] == ["POST"]  # type: ignore[attr-defined]
        )
    ]
    assert loose == []


def test_every_address_refuses_the_other_methods(whole: Access) -> None:
    browser = signed_in(whole)
    for at in every_address(whole, once=True):
        for method in METHODS:
            assert browser.generic(method, at.path).status_code == 405, (method, at)


def test_head_is_get_without_its_content(whole: Access) -> None:
    """RFC 9110 §9.1: every server supports both; §9.3.2: the same answer without the content, and nothing changes."""
    browser = signed_in(whole)
    for at in every_address(whole, once=True):
        if at.name == OUT:
            continue
        head, page = browser.head(at.path), browser.get(at.path)
        assert (head.status_code, head.content) == (page.status_code, b""), at
        assert head.headers.get("Content-Type") == page.headers.get("Content-Type"), at


def test_head_of_a_clients_page_is_no_reading_of_it(whole: Access) -> None:
    link = whole.rows(ClientLink)[0]
    whole.rows(ClientLink).filter(pk=link.pk).update(opened_at=None)
    at, asks = reverse("jobs:offer-page", args=[shown_again(link)]), {"Accept": "text/html"}
    assert Client().head(at, headers=asks).status_code == 200
    assert whole.row(ClientLink, pk=link.pk).opened_at is None
    assert Client().get(at, headers=asks).status_code == 200
    assert whole.row(ClientLink, pk=link.pk).opened_at is not None


def test_whoever_is_signed_out_presses_nothing(whole: Access) -> None:
    browser = Client()
    for at in inner(whole):
        for answer in (browser.get(at.path), press(browser, at)):
            assert answer.status_code == 302, at
            assert answer.url.startswith("/sign-in/"), at  # type: ignore[attr-defined]


def test_crew_read_and_press_what_is_theirs_and_nothing_else(whole: Access) -> None:
    crew = signed_in(an_access("crew", whole.studio))
    addresses = inner(whole)
    reads = {at.name for at in addresses if crew.get(at.path).status_code != 403}
    presses = {at.name for at in addresses if press(crew, at).status_code not in (403, 405)}
    assert reads == CREW_READS | LEADS_AWAY
    assert presses == CREW_PRESSES


def test_the_office_does_what_the_owner_does_but_for_the_studio_itself(whole: Access) -> None:
    office = signed_in(an_access("office", whole.studio))
    addresses = inner(whole)
    assert [at.name for at in addresses if office.get(at.path).status_code == 403] == []
    refused = {at.name for at in addresses if press(office, at).status_code == 403}
    assert refused == {"studio:facts", "studio:logo", "studio:people"}


def test_another_studio_finds_none_of_our_rows(whole: Access) -> None:
    stranger = signed_in(a_stocked_access())
    for at in inner(whole):
        if at.named and at.name not in NAMES_NO_ROW:
            seen, pressed = stranger.get(at.path), press(stranger, at)
            assert seen.status_code in (404, 302), (
                at
            )  # 302: nothing was done, and no row was looked for
            assert pressed.status_code in (404, 405), at

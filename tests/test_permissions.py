"""One table says who may do what; every address answers by it, also for a role that is added."""

from __future__ import annotations

import pytest
from django.test import Client as Browser

from studio.access import Access
from studio.forms import PersonForm
from studio.permissions import (
    CREW,
    EVERYTHING,
    OFFICE,
    OWNER,
    REFUSED,
    ROLES,
    Permission,
    Role,
    role_choices,
)
from tests.conftest import signed_in
from tests.factories import an_access
from tests.walk import PUBLIC, Address, entries, every_address, furnished

P = Permission
# What reading a page wants; the others are open to whoever works for the studio.
WANTED = {
    "jobs:money": P.SEE_MONEY, "jobs:reports": P.SEE_REPORTS, "jobs:journal": P.SEE_REPORTS,
    "jobs:report-sheet": P.SEE_REPORTS, "jobs:practice": P.SET_PRICES, "jobs:alternatives": P.SEE_PRICES,
    "jobs:change-alternative": P.EDIT_JOBS, "jobs:options": P.SELL, "jobs:photo": P.EDIT_JOBS,
    "jobs:shades": P.EDIT_JOBS, "jobs:fit": P.SEE_PRICES, "jobs:forget-kept": P.EDIT_JOBS, "jobs:price": P.SELL,
    "jobs:budget": P.SELL, "jobs:proposal": P.SELL, "jobs:offer-pdf": P.SEE_MONEY, "jobs:withdraw-link": P.SELL,
    "jobs:payment": P.RECORD_MONEY, "jobs:charge": P.RECORD_MONEY, "jobs:receipt": P.SEE_MONEY,
    "jobs:statement": P.SEE_MONEY, "jobs:call-off": P.SELL, "jobs:postpone": P.EDIT_JOBS,
    "jobs:invoice": P.RECORD_MONEY, "jobs:invoice-file": P.SEE_MONEY, "jobs:buying": P.MANAGE_STOCK,
    "jobs:stand-in": P.EDIT_JOBS, "jobs:allow-reminders": P.SELL, "jobs:certificate": P.SEE_MONEY,
    "jobs:answer": P.SELL, "jobs:new": P.EDIT_JOBS,
    "pricing:new-supply": P.SET_PRICES, "pricing:supply": P.SET_PRICES, "pricing:new-price": P.SET_PRICES,
    "pricing:confirm": P.SET_PRICES, "pricing:rates": P.SET_PRICES, "pricing:new-kit": P.MANAGE_STOCK,
    "pricing:kit-item": P.MANAGE_STOCK, "pricing:packs": P.MANAGE_STOCK, "pricing:new-pack": P.MANAGE_STOCK,
    "pricing:pack": P.MANAGE_STOCK, "pricing:new-supplier": P.MANAGE_STOCK, "pricing:supplier": P.MANAGE_STOCK,
    "pricing:orders": P.MANAGE_STOCK, "pricing:order": P.MANAGE_STOCK, "pricing:order-pdf": P.MANAGE_STOCK,
    "pricing:sheets": P.SET_PRICES, "pricing:export": P.SET_PRICES, "pricing:trial": P.SET_PRICES,
    "studio:facts": P.SEE_STUDIO, "studio:logo": P.SEE_STUDIO, "studio:letters": P.SEE_STUDIO,
    "studio:people": P.SEE_STUDIO,
}  # fmt: skip
# What a press wants where that is more than reading does.
TO_PRESS = {
    "studio:facts": P.OWN_STUDIO, "studio:logo": P.OWN_STUDIO, "studio:people": P.OWN_STUDIO,
    "jobs:hold": P.EDIT_JOBS, "jobs:brief": P.EDIT_JOBS, "jobs:design": P.EDIT_JOBS,
}  # fmt: skip
OPEN = {
    "jobs:today", "jobs:diary", "jobs:jobs", "jobs:brief", "jobs:design", "jobs:alternative", "jobs:picture",
    "jobs:photo-jpeg", "jobs:design-document", "jobs:build", "jobs:list-pdf", "jobs:after", "jobs:time-back",
    "jobs:packing", "jobs:hold", "jobs:travel", "jobs:labels", "jobs:stage", "pricing:stores", "pricing:stock",
    "pricing:stock-move", "pricing:count", "pricing:count-pdf", "pricing:kit", "pricing:kit-back", "studio:password",
}  # fmt: skip


def a_role(monkeypatch: pytest.MonkeyPatch, key: str, may: frozenset[Permission]) -> None:
    """Another row of the table is all that a role takes."""
    monkeypatch.setitem(ROLES, key, Role(key, may))


def statuses(who: Access, addresses: list[Address]) -> dict[str, int]:
    browser: Browser = signed_in(who)
    return {at.name: browser.get(at.path).status_code for at in addresses}


def test_every_page_has_its_place_in_the_table() -> None:
    assert {name for name, _ in entries()} == set(WANTED) | OPEN | PUBLIC
    assert not set(WANTED) & OPEN


def test_every_permission_is_wanted_somewhere_and_refused_in_words() -> None:
    assert set(REFUSED) == EVERYTHING
    assert all(sentence.endswith(".") for sentence in REFUSED.values())
    assert {*WANTED.values(), *TO_PRESS.values()} == EVERYTHING


def test_roles_as_they_are() -> None:
    assert [key for key, _ in role_choices()] == [OWNER, OFFICE, CREW]
    assert ROLES[OWNER].may == EVERYTHING
    assert ROLES[OFFICE].may == EVERYTHING - {P.OWN_STUDIO}
    assert ROLES[CREW].may == frozenset()


def test_every_address_answers_by_the_table(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without its permission a page is refused; whoever has none at all reads the open pages."""
    owner = furnished()
    addresses = [at for at in every_address(owner, once=True) if at.name not in PUBLIC]
    for permission in Permission:
        key = permission.value
        a_role(monkeypatch, key, EVERYTHING - {permission})
        asked = [at for at in addresses if WANTED.get(at.name) == permission]
        who = an_access(key, owner.studio)
        got = statuses(who, asked)
        assert got == dict.fromkeys(got, 403), permission
        pressed = [at for at in addresses if TO_PRESS.get(at.name) == permission]
        got = {at.name: signed_in(who).post(at.path).status_code for at in pressed}
        assert got == dict.fromkeys(got, 403), permission
    a_role(monkeypatch, "nothing", frozenset())
    got = statuses(an_access("nothing", owner.studio), addresses)
    assert {name for name, status in got.items() if status == 403} == set(WANTED)


def test_a_bookkeeper_would_be_one_row(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Who reads money and writes it down, and edits nothing: every page is there or refused, none breaks."""
    owner = furnished()
    a_role(monkeypatch, "bookkeeper", frozenset({P.SEE_MONEY, P.SEE_REPORTS, P.RECORD_MONEY}))
    addresses = [at for at in every_address(owner, once=True) if at.name not in PUBLIC]
    got = statuses(an_access("bookkeeper", owner.studio), addresses)
    assert {
        name: status for name, status in got.items() if status not in (200, 302, 403, 404)
    } == {}
    may = ROLES["bookkeeper"].may
    refused = {name for name, status in got.items() if status == 403}
    assert refused == {name for name, permission in WANTED.items() if permission not in may}


def test_a_role_that_is_no_more_may_nothing(access: Access) -> None:
    left = an_access("gone", access.studio)
    assert not any(left.may(permission) for permission in Permission)


def test_a_role_fits_its_column_and_is_offered(
    access: Access, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite keeps no length of a column: the field itself is asked."""
    a_role(monkeypatch, "bookkeeper", frozenset({P.SEE_MONEY}))
    row = access.person.memberships.get()  # type: ignore[union-attr]
    row.role = "bookkeeper"
    row.full_clean()
    told = {"name": "N", "mail": "n@example.com", "role": "bookkeeper"}
    form = PersonForm({**told, "password": "glue-on-fingers-8"})
    assert form.is_valid(), form.errors


def test_reports_leave_out_what_a_role_may_not_see(
    access: Access, monkeypatch: pytest.MonkeyPatch
) -> None:
    a_role(monkeypatch, "bookkeeper", frozenset({P.SEE_MONEY, P.SEE_REPORTS}))
    theirs = signed_in(an_access("bookkeeper", access.studio)).get("/reports/").context["tables"]
    ours = signed_in(access).get("/reports/").context["tables"]
    assert set(ours) - set(theirs) >= {"profit", "kinds"}
    assert {"won", "due", "charged"} <= set(theirs)

"""One studio whose every word is hostile, walked over every page, picture, table and letter.

Whatever is typed stays words: no element, no handler, no template tag, no formula comes of it. (The papers: see
tests/jobs/test_hostile_text.py.)
"""

from __future__ import annotations

import csv
import io
import re
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.apps import apps
from django.db import models
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone
from lxml import etree, html

from jobs.models import Client as Customer
from jobs.models import ClientLink, Job, JobDesign, LogEntry, SavedPiece
from jobs.money.reminding import write_reminders
from jobs.proposal.links import shown_again
from jobs.proposal.offering import Words, send_offer
from studio.access import Access
from studio.append_only import lower_guards, raise_guards
from studio.mail import mime_message
from studio.models import OutgoingMail, Person, Studio
from tests.conftest import signed_in
from tests.walk import every_address, furnished

TAG, HANDLER = "xss-mark", "onxssmark"
HOSTILE = f"=1+1<{TAG} {HANDLER}=x>\"'&{{{{ 7|add:7 }}}}<script>{HANDLER}()</script>"
# What is not typed as free words: shapes that forms check, codes, seals, addresses, what was made of words before.
NOT_TYPED = {
    "key", "currency", "language", "timezone", "country", "iban", "bic", "hex", "finish", "letter", "mail", "phone",
    "once_key", "article", "xml", "sha256", "pdf_sha256", "certificate_sha256", "token_sha256", "salt", "before",
    "link_salt", "link_shape", "stop_link", "message_id", "password", "leads_to", "kind", "choice", "tax_number",
    "to", "aged_from", "paper", "units", "place", "subject", "body", "content",
}  # fmt: skip
BINARY = (".pdf", ".png", ".jpeg")


def hostile_columns(model: type[models.Model]) -> list[Any]:
    texts = (models.CharField, models.TextField)
    return [
        field for field in model._meta.concrete_fields
        if isinstance(field, texts) and not field.choices and field.name not in NOT_TYPED
        and not isinstance(field, models.EmailField)
    ]  # fmt: skip


def poison(access: Access) -> int:
    """Write hostile words into every column of words of every row; each row's differ, for those that must."""
    count = 0
    for model in (
        m for room in ("studio", "pricing", "jobs") for m in apps.get_app_config(room).get_models()
    ):
        columns = hostile_columns(model)
        for row in model._default_manager.all() if columns else ():
            words = {f.name: f"{HOSTILE}{row.pk}"[: f.max_length or 5000] for f in columns}
            for f in columns:  # short columns: what matters is the beginning, and that rows differ
                if f.max_length and f.max_length < len(HOSTILE) + 6:
                    words[f.name] = f"={row.pk}<{TAG} {HANDLER}=x>"[: f.max_length]
            model._default_manager.filter(pk=row.pk).update(**words)
            count += len(words)
    for model in (JobDesign, SavedPiece):
        for row in model._default_manager.all():
            document = row.document
            for i, piece in enumerate(document["pieces"]):
                piece["name"] = f"{i}<{TAG} {HANDLER}=x>"[:60]
            model._default_manager.filter(pk=row.pk).update(document=document)
    return count


@pytest.fixture
def hostile(db: None) -> Access:
    access = furnished()
    lower_guards()
    assert poison(access) > 300
    raise_guards()
    return Access(
        Studio.objects.get(pk=access.studio.pk), Person.objects.get(pk=access.person.pk), "owner"
    )


def faults_of(answer: HttpResponse) -> list[str]:
    """What came of hostile words in an answer; nothing when they stayed words."""
    kind = answer.headers.get("Content-Type", "").partition(";")[0]
    heads = [name for name, value in answer.headers.items() if "\n" in value or TAG in value]
    if kind == "text/csv":
        return heads + faults_of_table(answer.content.decode("utf-8-sig"))
    if kind == "application/json":
        sniffed = answer.headers.get("X-Content-Type-Options") != "nosniff"
        return heads + ["JSON that may be sniffed"] * sniffed
    if kind not in ("text/html", "image/svg+xml"):
        return heads
    text = answer.content.decode() or "<p>"
    tree = (
        etree.fromstring(text.encode())
        if kind == "image/svg+xml"
        else html.document_fromstring(text)
    )
    return (
        heads
        + faults_of_tree(tree)
        + ["a template tag was run"] * bool(re.search("&(amp;)?14", text))
    )


def faults_of_tree(tree: Any) -> list[str]:
    found = []
    for node in tree.iter(etree.Element):
        name = etree.QName(node).localname
        if name == TAG or HANDLER in node.attrib:
            found.append(f"an element: {etree.tostring(node)[:90]!r}")
        elif name == "script" and HANDLER in (node.text or ""):
            found.append("a script")
        found += [f"a handler: {key}" for key in node.attrib if key.lower().startswith("on")]
        found += [f"an address: {v}" for k, v in node.attrib.items() if k in ("href", "src", "action") and v.strip().lower().startswith(("javascript:", "vbscript:"))]  # fmt: skip
    return found


def faults_of_table(text: str) -> list[str]:
    """OWASP, "CSV Injection": no cell begins with =, +, -, @, a tab or a return, numbers apart."""
    cells = [cell for row in csv.reader(io.StringIO(text)) for cell in row]
    return [f"a formula: {c}" for c in cells if c[:1] in ("=", "+", "@", "\t", "\r") or (c[:1] == "-" and not is_number(c))]  # fmt: skip


def is_number(cell: str) -> bool:
    try:
        float(cell.replace(",", ""))
    except ValueError:
        return False
    return True


def test_every_page_keeps_them_words(hostile: Access) -> None:
    browser, seen = signed_in(hostile), 0
    for address in every_address(hostile):
        if address.path.endswith(BINARY):
            continue
        answer = browser.get(address.path)
        assert answer.status_code in (200, 302, 404, 405), address.path
        assert faults_of(answer) == [], address.path
        seen += TAG.encode() in answer.content
    assert seen > 60  # they do stand there


def test_forms_that_refuse_them_show_them_as_words(hostile: Access) -> None:
    """Every field of every page is filled with them; what comes back says so in words."""
    browser, refused = signed_in(hostile), 0
    for address in every_address(hostile, once=True):
        if (
            address.path.endswith((*BINARY, ".csv", ".svg", ".json"))
            or address.name == "studio:sign-out"
        ):
            continue
        tree = html.document_fromstring(browser.get(address.path, follow=True).content or b"<p>")
        names = {
            node.get("name")
            for node in tree.iter("input", "textarea", "select")
            if node.get("name")
        }
        typed = dict.fromkeys(names - {"form_key", "csrfmiddlewaretoken"}, HOSTILE) | {
            "form_key": str(uuid4())
        }
        answer = browser.post(address.path, typed)
        assert answer.status_code < 500, address.path
        assert faults_of(answer) == [], address.path
        refused += answer.status_code == 422
    assert refused > 10


def test_the_clients_pages_keep_them_words(hostile: Access) -> None:
    """A proposal that is made of them, as the client reads and answers it."""
    job = hostile.row(Job, number=4)
    words = Words(greeting=HOSTILE, note=HOSTILE)
    Customer.objects.update(mail="client@example.com")
    offer = send_offer(
        hostile, job, words, at=timezone.now(), link_for=lambda token: f"/o/{token}/"
    )
    token = shown_again(ClientLink.objects.get(offer=offer))
    for answer in (
        Client().get(f"/o/{token}/"),
        Client().post(f"/o/{token}/", {"name": HOSTILE[:120], "agreed": "on"}),
        Client().post(f"/o/{token}/ask/", {"text": HOSTILE, "form_key": str(uuid4())}, follow=True),
        Client().get(f"/nowhere/{HOSTILE}"),
    ):
        assert faults_of(answer) == []
    assert TAG in offer.article
    assert faults_of_tree(html.document_fromstring(offer.article)) == []
    assert LogEntry.objects.filter(job=job, what__contains="question").exists()


def test_letters_keep_one_line_in_each_head(hostile: Access) -> None:
    for days in range(0, 120, 10):
        write_reminders(hostile, on=timezone.localdate() + timedelta(days=days))
    for letter in OutgoingMail.objects.all():
        raw = mime_message(letter).message()
        assert not [name for name, value in raw.items() if "\n" in str(value).replace("\n ", "")]
        assert raw.get_content_type() in ("text/plain", "multipart/mixed")
        assert "14" not in letter.subject.replace("0014", "")


def test_the_checks_do_find_what_is_wrong() -> None:
    def page(body: str) -> HttpResponse:
        return HttpResponse(f"<!doctype html><title>x</title><body>{body}")

    for bad in (
        f"<p>{HOSTILE}",
        f'<p {HANDLER}="x">',
        '<a href=" JavaScript:x">',
        '<p onclick="x">',
        "&14",
        f"<script>{HANDLER}()</script>",
    ):
        assert faults_of(page(bad)), bad
    assert faults_of(page("<p>=1+1&lt;xss-mark&gt;</p>")) == []
    assert faults_of(HttpResponse('a,"=1+1"', content_type="text/csv"))
    assert faults_of(HttpResponse("a,-1.50,'=1", content_type="text/csv")) == []

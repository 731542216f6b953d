"""Whatever is typed into a field is words on a paper: no address in it is ever asked for, no file of the machine read."""

from __future__ import annotations

import io
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from typing import Any

import pikepdf
import pypdfium2
import pytest
from django.urls import reverse
from weasyprint import HTML

from jobs.models import Job, JobDesign
from studio.access import Access
from studio.paper import StaticOnly, picture_png, render_paper
from tests.conftest import signed_in
from tests.factories import (
    ClientFactory,
    VenueFactory,
    a_designed_job,
    a_document,
    a_stocked_access,
)
from tests.papers import papers_of_job, papers_of_money, papers_of_stores

SECRET = "the-secret-of-this-machine"


class Listener(BaseHTTPRequestHandler):
    heard: list[str]

    def do_GET(self) -> None:
        type(self).heard.append(self.path)
        self.send_response(200)
        self.end_headers()
        self.wfile.write(SECRET.encode())

    def log_message(self, *_: Any) -> None:
        """Quiet."""


@pytest.fixture
def listener() -> Iterator[tuple[str, list[str]]]:
    """A server on this machine that must hear nothing: its address, and what it heard."""
    Listener.heard = []
    server = HTTPServer(("127.0.0.1", 0), Listener)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_address[1]}", Listener.heard
    server.shutdown()
    thread.join(5)


@pytest.fixture
def secret(tmp_path: Any) -> str:
    at = tmp_path / "secret.txt"
    at.write_text(SECRET)
    return f"file://{at}"


def attacks(http: str, file: str) -> list[str]:
    return [
        f'"><img src={http}/i>', f"<image href={file} />", f"<link rel=attachment href={file}>",
        f"<style>@import url({http}/c)</style>", f"<a rel=attachment href={file}>x</a>", f"url({file})",
        f"<object data={http}/o>", f"<svg><image href={http}/s /></svg>", f"<iframe src={http}/f>",
        "{{ 7|add:7 }}{% include 'base.html' %}",
    ]  # fmt: skip


def everywhere(http: str, file: str) -> dict[str, bytes]:
    """Every paper, with one attack or more in every field of text that reaches one."""
    bad = attacks(http, file)
    whole = "\n".join(bad)
    access = a_stocked_access(
        name=bad[0], address=whole, phone=bad[5][:40], terms=whole, bank_details=whole, tax_number=bad[1][:40],
    )  # fmt: skip
    client = ClientFactory.create(studio=access.studio, name=bad[3][:120], phone="+442079460958")
    venue = VenueFactory.create(
        studio=access.studio, name=bad[2][:120], address=whole, access=whole
    )
    job: Job = a_designed_job(access, title=bad[7][:120], client=client, venue=venue)
    document = a_document()
    for i, piece in enumerate(document["pieces"]):
        piece["name"] = bad[i][:60]
    for old, new in (("old gold", f"<img src={http}/p>"[:60]), ("eight", f"<b>{http}/r"[:60])):
        document = replaced(document, old, new)
    JobDesign.objects.filter(job=job).update(document={**document, "room": {}}, name=bad[0][:60])
    return {
        **papers_of_job(access, job),
        **papers_of_stores(access, shelf=bad[0][:30], name=bad[0][:120], pack=whole[:200]),
        **papers_of_money(
            access, job, name=bad[0][:120], agent=whole[:300], greeting=whole, note=whole
        ),
    }


def replaced(data: Any, old: str, new: str) -> Any:
    """A document with one name exchanged wherever it stands."""
    if isinstance(data, dict):
        return {replaced(k, old, new): replaced(v, old, new) for k, v in data.items()}
    if isinstance(data, list):
        return [replaced(v, old, new) for v in data]
    return new if data == old else data


def words_of(content: bytes) -> str:
    return "".join(p.get_textpage().get_text_range() for p in pypdfium2.PdfDocument(content))


def test_no_paper_asks_or_reads_what_was_typed(
    db: None, listener: tuple[str, list[str]], secret: str
) -> None:
    http, heard = listener
    for name, content in everywhere(http, secret).items():
        assert SECRET not in words_of(content), name
        with pikepdf.open(io.BytesIO(content)) as pdf:
            inside = [str(key) for key in pdf.attachments]
            assert inside == (["factur-x.xml"] if name in ("invoice", "credit") else []), name
            for thing in pdf.objects:
                if isinstance(thing, pikepdf.Stream) and thing.get("/Type") != "/XObject":
                    assert SECRET.encode() not in thing.read_bytes(), name
                assert not (isinstance(thing, pikepdf.Dictionary) and thing.get("/S") == "/URI"), (
                    name
                )
    assert heard == []


def test_what_was_typed_stands_there_as_words(
    db: None, listener: tuple[str, list[str]], secret: str
) -> None:
    made = everywhere(listener[0], secret)
    assert f'"><img src={listener[0]}/i>' in words_of(made["invoice"])
    assert "<linkrel=attachment" in "".join(words_of(made["pick"]).split())
    assert "{{ 7|add:7 }}" in words_of(made["proposal"])


@pytest.mark.parametrize(
    "shape",
    [
        '<img src="{http}/x" alt="x">', '<link rel="attachment" href="{file}">', '<a rel="attachment" href="{file}">x</a>',
        '<link rel="stylesheet" href="{http}/x">', "<style>@import url({http}/x);</style>",
        "<style>@font-face {{ font-family: x; src: url({http}/x) }} p {{ font-family: x }}</style><p>x</p>",
        "<style>p {{ background: url({file}) }}</style><p>x</p>", '<object data="{http}/x"></object>',
        '<embed src="{http}/x">', '<svg xmlns="http://www.w3.org/2000/svg"><image href="{http}/x" width="9" height="9"/></svg>',
        '<svg xmlns="http://www.w3.org/2000/svg"><use href="{file}#x"/></svg>',
        '<svg xmlns="http://www.w3.org/2000/svg"><style>@import url({http}/x);</style></svg>',
        '<img alt="x" src="data:image/svg+xml,%3Csvg xmlns=%22http://www.w3.org/2000/svg%22%3E%3Cimage href=%22{http}/x%22/%3E%3C/svg%3E">',
        '<img alt="x" src="data:image/png;base64,PHN2Zy8+">', '<base href="{http}/"><img src="x" alt="x">',
        '<img src="drawing:0" alt="x"><img src="drawing:-1" alt="x">',
    ],
)  # fmt: skip
def test_even_raw_markup_reads_nothing(
    shape: str, listener: tuple[str, list[str]], secret: str
) -> None:
    """The second fence: were a template to forget to escape, the engine still reaches nothing."""
    http, heard = listener
    html = f"<html lang='en'><head><title>x</title></head><body>{shape.format(http=http, file=secret)}</body></html>"
    content = render_paper(html, paper="A4")
    assert heard == []
    assert SECRET.encode() not in content
    assert SECRET not in words_of(content)
    with pikepdf.open(io.BytesIO(content)) as pdf:
        assert not list(pdf.attachments)


def test_the_listener_would_have_heard(listener: tuple[str, list[str]]) -> None:
    """The engine as it comes does ask: the tests above can fail."""
    http, heard = listener
    HTML(string=f'<img src="{http}/x">').write_pdf()
    assert heard == ["/x"]


def test_a_picture_to_take_away_reads_nothing_either(
    listener: tuple[str, list[str]], secret: str
) -> None:
    http, heard = listener
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><image href="{http}/x"/><image href="{secret}"/></svg>'
    assert picture_png(svg, wide_cm=2, high_cm=2, wide_px=40).startswith(b"\x89PNG")
    assert heard == []


def test_the_drawing_writes_names_as_words(access: Access, listener: tuple[str, list[str]]) -> None:
    http, heard = listener
    job = a_designed_job(access)
    document = a_document()
    document["pieces"][0]["name"] = f'"/><image href="{http}/x"/>'[:60]
    JobDesign.objects.filter(job=job).update(document={**document, "room": {}})
    svg = (
        signed_in(access)
        .get(reverse("jobs:picture", args=[job.number, "A", "svg"]))
        .content.decode()
    )
    assert "<image" not in svg
    assert heard == []


def test_only_pictures_of_ours_come_in_as_data() -> None:
    with pytest.raises(ValueError, match="expected a file of the house"):
        StaticOnly().fetch("data:image/png;base64,PHN2Zy8+")
    with pytest.raises(ValueError, match="expected a file of the house"):
        StaticOnly().fetch("data:image/svg+xml;base64,PHN2Zy8+")

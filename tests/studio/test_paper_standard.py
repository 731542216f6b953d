"""Every paper against the standards it claims: PDF/UA-1 (ISO 14289-1), and PDF/A-3a (ISO 19005-3) for invoices.

The rules are those that a program can judge, after the Matterhorn Protocol 1.1 (its numbers stand beside them, from
memory); they are read from the file by another library than the one that wrote it.
"""

from __future__ import annotations

import hashlib
import io
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pikepdf
import pypdfium2
import pytest
from django.db import connection
from django.template.loader import render_to_string
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.design.buildsheet import build_steps
from jobs.inputs import worked_for
from jobs.models import Job, Offer
from jobs.proposal.links import live_token
from studio.access import Access
from studio.measure import write_amount
from studio.paper import render_hybrid, render_paper
from tests.factories import a_designed_job, a_stocked_access
from tests.papers import a_logo, an_offer, every_paper, papers_of_job

NAMES = [
    "pick", "packing", "build", "labels", "count", "order", "proposal", "invoice", "credit", "certificate",
    "receipt", "statement",
]  # fmt: skip
HEADINGS = {f"/H{n}": n for n in range(1, 7)}
ROOT = Path(__file__).parents[2]
MADE: dict[str, bytes] = {}


@pytest.fixture
def papers(db: None) -> dict[str, bytes]:
    """All papers of one job, printed once: with logo, tax number and a payment code."""
    if not MADE:
        access = a_stocked_access(
            name="Tannery Yard", tax_number="IE1234567T", iban="DE71110220330123456789", currency="EUR",
            language="en-IE", logo=a_logo(),
        )  # fmt: skip
        MADE.update(every_paper(access))
    return MADE


def opened(content: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(content))


def kids(element: Any) -> list[Any]:
    """What hangs on an element, numbers of marked content among it."""
    below = element.get("/K", [])
    return list(below) if isinstance(below, pikepdf.Array) else [below]


def elements(element: Any, under: tuple[str, ...] = ()) -> Iterator[tuple[Any, tuple[str, ...]]]:
    """Elements in reading order, each with the kinds it stands under."""
    for kid in kids(element):
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            yield kid, under
            yield from elements(kid, (*under, str(kid.S)))


def all_of(pdf: pikepdf.Pdf, *kinds: str) -> list[Any]:
    return [e for e, _ in elements(pdf.Root.StructTreeRoot) if str(e.S) in kinds]


def test_every_template_of_a_paper_is_among_those_that_are_checked() -> None:
    whole = {
        p.stem for p in (ROOT / "templates/papers").glob("*.html") if "<!doctype" in p.read_text()
    }
    assert whole <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_it_says_what_it_is_and_in_which_language(papers: dict[str, bytes], name: str) -> None:
    with opened(papers[name]) as pdf:
        assert pdf.Root.MarkInfo.Marked  # 06, 01
        assert str(pdf.Root.Lang) == "en-IE"  # 11-006
        assert pdf.Root.ViewerPreferences.DisplayDocTitle  # 07-001
        meta = pdf.open_metadata()
        assert meta.get("pdfuaid:part") == "1"  # 06-002
        assert meta["dc:title"] == str(pdf.docinfo["/Title"])  # 06-003
        assert "Tannery Yard" in meta["dc:title"]
        packet = ElementTree.fromstring(pdf.Root.Metadata.read_bytes().strip())
        assert len(packet) == 1  # one rdf:RDF in a packet, ISO 16684-1


@pytest.mark.parametrize("name", NAMES)
def test_pictures_are_told_and_headers_say_what_they_head(
    papers: dict[str, bytes], name: str
) -> None:
    with opened(papers[name]) as pdf:
        assert all(str(e.get("/Alt", "")).strip() for e in all_of(pdf, "/Figure"))  # 13-004
        for header in all_of(pdf, "/TH"):
            assert str(header.A.get("/Scope")) in ("/Column", "/Row")  # 15-003
        if name in ("proposal", "build", "labels", "invoice"):
            assert all_of(pdf, "/Figure")


ALLOWED = {  # ISO 32000-1, 14.8.4.3.3 and 14.8.4.3.4
    "/L": {"/L", "/LI", "/Caption"},
    "/LI": {"/Lbl", "/LBody", "/L"},
    "/Table": {"/TR", "/THead", "/TBody", "/TFoot", "/Caption"},
    "/THead": {"/TR"},
    "/TBody": {"/TR"},
    "/TR": {"/TH", "/TD"},
}


@pytest.mark.parametrize("name", NAMES)
def test_lists_and_tables_hold_what_they_may(papers: dict[str, bytes], name: str) -> None:
    with opened(papers[name]) as pdf:
        for element, _ in elements(pdf.Root.StructTreeRoot):
            if str(element.S) in ALLOWED:
                inside = {str(kid.S) for kid in kids(element)}
                assert inside <= ALLOWED[str(element.S)]
                assert inside, f"an empty {element.S}"
        for table in all_of(pdf, "/Table"):
            rows = [e for e, _ in elements(table) if str(e.S) == "/TR"]
            wide = {sum(int(c.A.get("/ColSpan", 1)) for c in kids(row)) for row in rows}
            assert len(wide) == 1  # 15-005: every row spans the same columns


@pytest.mark.parametrize("name", NAMES)
def test_headings_do_not_skip_a_level(papers: dict[str, bytes], name: str) -> None:
    with opened(papers[name]) as pdf:
        levels = [HEADINGS[str(e.S)] for e in all_of(pdf, *HEADINGS)]
    assert levels[0] == 1
    assert all(b <= a + 1 for a, b in zip(levels, levels[1:], strict=False))  # 14-003


PAINTS = {"S", "s", "f", "F", "f*", "B", "B*", "b", "b*", "sh", "Do", "Tj", "TJ", "'", '"', "BI"}


@pytest.mark.parametrize("name", NAMES)
def test_all_that_is_drawn_is_read_out_or_an_artifact(papers: dict[str, bytes], name: str) -> None:
    with opened(papers[name]) as pdf:
        owned = {e.objgen for e, _ in elements(pdf.Root.StructTreeRoot)}
        numbers = list(pdf.Root.StructTreeRoot.ParentTree.Nums)
        owners = dict(zip(map(int, numbers[::2]), numbers[1::2], strict=True))
        for page in pdf.pages:
            assert str(page.obj.Tabs) == "/S"  # 28-009
            open_: list[str] = []
            for operands, operator in pikepdf.parse_content_stream(page):
                word = str(operator)
                if word in ("BMC", "BDC"):
                    assert not open_  # 01-001, 01-002: neither inside the other
                    open_.append(str(operands[0]))
                    told = operands[1] if word == "BDC" else {}
                    if "/MCID" in told:
                        assert (
                            owners[int(page.obj.StructParents)][int(told["/MCID"])].objgen in owned
                        )
                    else:
                        assert operands[0] == "/Artifact"
                elif word == "EMC":
                    open_.pop()
                elif word in PAINTS:
                    assert open_, f"{word} outside"  # 01-005


@pytest.mark.parametrize("name", NAMES)
def test_running_lines_are_artifacts_of_their_page(papers: dict[str, bytes], name: str) -> None:
    """PDF/UA-1, 7.8: "page 1 of 2" is not read into the middle of a table."""
    with opened(papers[name]) as pdf:
        for page in pdf.pages:
            told = [
                operands[1]
                for operands, operator in pikepdf.parse_content_stream(page)
                if str(operator) == "BDC" and "/MCID" not in operands[1]
            ]
            assert [str(t.Subtype) for t in told] == ["/Footer"] * len(told)
            assert len(told) >= 2  # the line on the left, the page on the right


@pytest.mark.parametrize("name", NAMES)
def test_fonts_are_inside_and_hold_only_what_is_used(papers: dict[str, bytes], name: str) -> None:
    with opened(papers[name]) as pdf:
        fonts = [
            font
            for page in pdf.pages
            for font in page.resources.get("/Font", {}).values()  # type: ignore[union-attr]
        ]
        assert fonts
        for font in fonts:
            assert "/ToUnicode" in font  # 10-001: text can be selected and searched
            kind = font.DescendantFonts[0]
            assert re.match(r"/[A-Z]{6}\+", str(kind.BaseFont))  # ISO 32000-1, 9.6.4: a subset
            assert {"/FontFile2", "/FontFile3"} & set(kind.FontDescriptor.keys())  # 31-009


@pytest.mark.parametrize("name", ["invoice", "credit"])
def test_an_invoice_is_an_archive_file_too(papers: dict[str, bytes], name: str) -> None:
    with opened(papers[name]) as pdf:
        meta = pdf.open_metadata()
        assert (meta["pdfaid:part"], meta["pdfaid:conformance"]) == ("3", "A")
        # ISO 19005-3, 6.6.2.3: what is not of XMP itself is described in the packet.
        packet = pdf.Root.Metadata.read_bytes().decode()
        for schema in (
            "urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#",
            "http://www.aiim.org/pdfua/ns/id/",
        ):
            assert f"<pdfaSchema:namespaceURI>{schema}<" in packet
        assert str(pdf.Root.OutputIntents[0].S) == "/GTS_PDFA1"
        inside = pdf.Root.AF[0]
        assert str(inside.AFRelationship) == "/Alternative"
        assert "/ModDate" in inside.EF.F.Params  # 6.8


def text_of(content: bytes) -> str:
    pages = [p.get_textpage().get_text_range() for p in pypdfium2.PdfDocument(content)]
    return " ".join(" ".join(pages).split())


def test_another_library_reads_what_the_page_says(papers: dict[str, bytes]) -> None:
    offer, job = text_of(papers["proposal"]), text_of(papers["invoice"])
    total = re.search(r"Total (€[\d,.]+)", offer)
    assert total
    assert f"Total {total[1]}" in job
    assert f"TOTAL {total[1]}" in text_of(papers["certificate"]).upper()
    assert "C-002 Pack number 2 3 €10.45 €31.35" in text_of(papers["order"])
    assert "B2 ball 11 in 40" in text_of(papers["count"])
    assert "5 in balloon, old gold" in text_of(papers["pick"])


def test_lists_say_the_counts_of_the_take_off(access: Access) -> None:
    job = a_designed_job(access)
    worked = worked_for(access, job)
    assert worked
    made = papers_of_job(access, job)
    pick = text_of(made["pick"])
    for need in worked.takeoff.needs:
        if need.use == "consumable":
            many = write_amount(need.quantity, need.unit, "imperial")
            assert f"{need.label} {many}" in pick
    sheet = text_of(made["build"])
    for step in build_steps(worked.design, worked.composition, "imperial"):
        assert f" {step.number} {step.recipe} " in sheet


HASH = """
import os, sys, hashlib, django
django.setup()
from datetime import date
from studio.paper import render_hybrid, render_paper
html = sys.stdin.read()
print(hashlib.sha256(render_paper(html, paper="A4")).hexdigest())
print(hashlib.sha256(render_hybrid(html, paper="A4", xml=b"<x/>", on=date(2026, 6, 1))).hexdigest())
"""


def test_the_same_words_make_the_same_file_in_every_process(papers: dict[str, bytes]) -> None:
    offer = Offer.objects.first()
    if offer is None:
        offer = an_offer_of(a_stocked_access(logo=a_logo()))
    facts = {"article": offer.article, "studio": offer.studio, "number": "0001-1"}
    html = render_to_string("papers/proposal.html", facts)
    made = [
        render_paper(html, paper="A4"),
        render_hybrid(html, paper="A4", xml=b"<x/>", on=date(2026, 6, 1)),
    ]
    here = [hashlib.sha256(m).hexdigest() for m in made]
    assert render_paper(html, paper="A4") == made[0]
    for seed in ("1", "2"):
        env = {**os.environ, "PYTHONHASHSEED": seed, "DJANGO_SETTINGS_MODULE": "studio.settings"}
        told = subprocess.run(
            [sys.executable, "-c", HASH], input=html, env=env, cwd=ROOT, capture_output=True, text=True, check=True,
        )  # fmt: skip
        assert told.stdout.split() == here


def an_offer_of(access: Access) -> Offer:
    job: Job = a_designed_job(access)
    return an_offer(access, job)


def test_a_sent_proposal_comes_from_the_store_and_nothing_else_is_read(
    access: Access, monkeypatch: pytest.MonkeyPatch
) -> None:
    offer = an_offer(access, a_designed_job(access))
    at = reverse("jobs:offer-page-pdf", args=[live_token(access, offer)])
    monkeypatch.setattr("studio.paper._print", lambda *_, **__: pytest.fail("printed again"))
    with CaptureQueriesContext(connection) as asked:
        answer = Client().get(at)
    assert answer.content == bytes(offer.pdf)
    reads = [q["sql"] for q in asked.captured_queries if "jobs_offer" in q["sql"]]
    assert len(reads) == 1
    assert not any(
        f'"{large}"' in reads[0] for large in ("article", "design", "owner_figures", "logo")
    )

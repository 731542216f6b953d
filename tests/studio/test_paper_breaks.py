"""Papers under long names and many lines: nothing leaves the page, tables begin again with their heads."""

from __future__ import annotations

from typing import Any

import pikepdf
import pypdfium2
import pytest

from jobs.models import Job, JobDesign
from studio.access import Access
from tests.factories import (
    ClientFactory,
    VenueFactory,
    a_designed_job,
    a_document,
    a_stocked_access,
)
from tests.papers import a_logo, papers_of_job, papers_of_money, papers_of_stores
from tests.studio.test_paper_standard import HEADINGS, elements, kids, opened, text_of

MM = 72 / 25.4
WORD = "Donau" + "dampfschifffahrts" * 4 + "gesells"  # 80 letters without a place to break
TITLE = ("The tenth birthday of the shop on the corner, with everybody who ever worked in it " * 2)[
    :120
]
FOREIGN = "שלום مرحبا 風船 Ωμέγα Żółć"
LATIN = "Ωμέγα Żółć"
MADE: dict[str, dict[str, bytes]] = {}


def a_large_job(access: Access, **facts: Any) -> Job:
    """Twenty pieces, the most a design takes, each with a long name."""
    document = a_document("lakeside")
    (piece,) = document["pieces"]
    piece["support"] |= {"run_m": 0.9, "part_count": 1}
    piece["runs"][0]["end"]["length_m"] = 0.9
    piece["greenery"] = []
    pieces = [{**piece, "name": f"{i} {WORD}"[:60], "at_m": 2.0 * i} for i in range(20)]
    venue = VenueFactory.create(studio=access.studio, name=WORD, address=f"{WORD}\n{FOREIGN}")
    job = a_designed_job(access, "lakeside", venue=venue, **facts)
    JobDesign.objects.filter(job=job).update(document={**document, "pieces": pieces, "room": {}})
    return job


def made_on(paper: str) -> dict[str, bytes]:
    if paper not in MADE:
        access = a_stocked_access(
            paper=paper, name=TITLE, address=f"{WORD}\n1 Long Yard", phone="+44 20 7946 0958", logo=a_logo(),
            tax_number="GB123456789", terms=f"{WORD} {TITLE} " * 30,
        )  # fmt: skip
        client = ClientFactory.create(studio=access.studio, name=f"{WORD} {FOREIGN}")
        job = a_large_job(access, title=TITLE, client=client)
        MADE[paper] = {
            **papers_of_job(access, job),
            **papers_of_stores(access, shelf=WORD[:30], lines=40, name=WORD, pack=f"{WORD} {FOREIGN}"),
            **papers_of_money(access, job, name=WORD, agent=WORD * 3, note=f"{WORD} {TITLE}", greeting=f"Dear {WORD},"),
        }  # fmt: skip
    return MADE[paper]


BOTH = pytest.mark.parametrize("paper", ["A4", "letter"])


@BOTH
def test_nothing_leaves_the_page(db: None, paper: str) -> None:
    """Every letter lies between the margins: 15 mm at the sides and above, 17 mm below; the foot under that."""
    for name, content in made_on(paper).items():
        for number, page in enumerate(pypdfium2.PdfDocument(content)):
            wide, high = page.get_size()
            text = page.get_textpage()
            for i in range(text.count_chars()):
                if text.get_text_range(i, 1).isspace():
                    continue  # a space may hang over the edge
                left, bottom, right, top = text.get_charbox(i)
                at = f"{name} {number + 1}: {text.get_text_range(max(0, i - 20), 40)!r}"
                assert left >= 15 * MM - 1, at
                assert right <= wide - 15 * MM + 1, at
                assert top <= high - 15 * MM + 1, at
                assert bottom >= 17 * MM - 1 or (bottom >= 6 * MM and top <= 17 * MM), at


@BOTH
def test_no_heading_stands_alone_at_the_foot_of_a_page(db: None, paper: str) -> None:
    for name, content in made_on(paper).items():
        with opened(content) as pdf:
            leaves = [
                (str(e.Pg.objgen), any(k in (*HEADINGS, "/Caption", "/THead") for k in under))
                for e, under in elements(pdf.Root.StructTreeRoot)
                if any(not isinstance(kid, pikepdf.Dictionary) for kid in kids(e))
            ]
        for (page, heads), (next_page, next_heads) in zip(leaves, leaves[1:], strict=False):
            assert not (heads and not next_heads and page != next_page), name


@BOTH
def test_a_table_begins_again_with_its_head(db: None, paper: str) -> None:
    made = made_on(paper)
    for name, head in (
        ("order", "Code Pack Packs"),
        ("build", "Done No. Cluster"),
        ("pick", "Done Shelf What"),
    ):
        with opened(made[name]) as pdf:
            tables = [e for e, _ in elements(pdf.Root.StructTreeRoot) if str(e.S) == "/Table"]
            for table in tables:
                assert any(str(kid.S) == "/THead" for kid in kids(table))
        assert head in text_of(made[name])
    pages = [
        " ".join(p.get_textpage().get_text_range().split())
        for p in pypdfium2.PdfDocument(made["order"])
    ]
    assert len(pages) > 1
    assert all("Code Pack Packs" in p for p in pages if "C-0" in p)


@BOTH
def test_every_line_is_there(db: None, paper: str) -> None:
    made = made_on(paper)
    order = text_of(made["order"])
    assert all(f"C-{i:03d}" in order for i in range(40))
    sheet = text_of(made["build"])
    assert all(f"{i} Donau" in sheet for i in range(20))
    assert TITLE in " ".join(text_of(made["proposal"]).split())
    assert LATIN in text_of(made["proposal"])


def test_letters_that_no_font_has_print_as_boxes_and_stop_nothing(db: None) -> None:
    """What the machine's fonts lack is drawn as a box; the text under it stays what was typed."""
    page = pypdfium2.PdfDocument(made_on("A4")["invoice"])[0]
    text = page.get_textpage().get_text_range()
    assert "風船" in text
    assert page.render(scale=1).to_pil().getcolors(9999)


def is_across(page: pypdfium2.PdfPage) -> bool:
    """A numbered picture on a page of its own."""
    wide, high = page.get_size()
    return bool(wide > high)


@pytest.mark.parametrize("clusters", range(14, 30, 2))
def test_no_list_ends_on_a_page_of_a_line_or_two(db: None, clusters: int) -> None:
    """Whatever its length: the end of a list stands whole, five lines and more beside the foot."""
    access = a_stocked_access()
    job = a_designed_job(access, "lakeside")
    document = JobDesign.objects.get(job=job).document
    document["pieces"][0]["runs"][0]["clusters"] = clusters
    JobDesign.objects.filter(job=job).update(document=document)
    for name, content in papers_of_job(access, job).items():
        *_, last = (page for page in pypdfium2.PdfDocument(content) if not is_across(page))
        lines = last.get_textpage().get_text_range().strip().splitlines()
        assert len(lines) > 6, f"{name}: {lines}"

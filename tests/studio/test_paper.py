"""Papers: PDF from HTML, reading nothing but files of the house."""

from __future__ import annotations

import io
import logging
from typing import Any

import pikepdf
import pypdfium2
import pytest
from weasyprint.urls import URLFetchingError

from studio.paper import Refused, StaticOnly, render_paper

PAGE = "<!doctype html><html lang='en-GB'><head><title>A paper</title></head><body>{}</body></html>"


def test_a_paper_is_tagged_titled_and_has_its_fonts_in_it() -> None:
    made = render_paper(PAGE.format("<h1>Größe ½ £</h1>"), paper="A4")
    with pikepdf.open(io.BytesIO(made)) as pdf:
        assert pdf.Root.MarkInfo.Marked
        assert str(pdf.Root.Lang) == "en-GB"
        assert str(pdf.docinfo["/Title"]) == "A paper"
    page = pypdfium2.PdfDocument(made)[0]
    assert "Größe ½ £" in page.get_textpage().get_text_range()


@pytest.mark.parametrize(("paper", "size"), [("A4", (595.28, 841.89)), ("letter", (612, 792))])
def test_the_paper_is_the_studios(paper: Any, size: tuple[float, float]) -> None:
    # ISO 216 A4 210 × 297 mm; US Letter 8.5 × 11 in; at 72 points an inch.
    assert pypdfium2.PdfDocument(render_paper(PAGE.format("x"), paper=paper))[
        0
    ].get_size() == pytest.approx(size, abs=0.1)


HOSTILE = ["file:///etc/passwd", "http://127.0.0.1:9/x.png", "https://example.com/x.png", "house:../studio/settings.py",
           "house:%2e%2e/manage.py", "ftp://x/y", "//example.com/x"]  # fmt: skip


@pytest.mark.parametrize("url", HOSTILE)
def test_every_other_address_is_refused(url: str) -> None:
    with pytest.raises((Refused, URLFetchingError)):
        StaticOnly().fetch(url)


def test_a_paper_with_hostile_addresses_is_made_without_them(caplog: Any) -> None:
    caplog.set_level(logging.ERROR)
    links = (
        "".join(f'<img src="{u}" alt="">' for u in HOSTILE)
        + '<link rel=stylesheet href="file:///etc/passwd">'
    )
    made = render_paper(PAGE.format(links + "<p>still here</p>"), paper="A4")
    text = pypdfium2.PdfDocument(made)[0].get_textpage().get_text_range()
    assert "still here" in text
    assert "root:" not in text

"""Papers: HTML into PDF. The only user of WeasyPrint; it can read static files and nothing else."""

from __future__ import annotations

from base64 import b64decode
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any, Literal
from urllib.parse import unquote, urlparse

import pypdfium2 as pdfium
from django.conf import settings
from weasyprint import CSS, HTML, Attachment
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher, URLFetcherResponse

type Paper = Literal["A4", "letter"]
STATIC = Path(settings.HOME) / "static"
PHOTO = "data:image/jpeg;base64,"
SCHEME = "house"  # house:fonts/x.ttf is static/fonts/x.ttf


class Refused(ValueError):
    """An address that a paper may not read."""


class StaticOnly(URLFetcher):  # type: ignore[misc]  # it has no types
    """Answers house: addresses from the static folder and refuses every other."""

    def fetch(self, url: str, headers: Any = None) -> URLFetcherResponse:
        if url.startswith(PHOTO):  # re-encoded by us before it came here
            return URLFetcherResponse(
                url, b64decode(url[len(PHOTO) :]), {"Content-Type": "image/jpeg"}
            )
        at = urlparse(url)
        path = (STATIC / unquote(at.path).lstrip("/")).resolve()
        if at.scheme != SCHEME or not path.is_relative_to(STATIC) or not path.is_file():
            raise Refused(f"expected a file of the house, got {url[:80]}")
        return URLFetcherResponse(url, path.read_bytes())


@cache
def _style(paper: Paper) -> tuple[CSS, FontConfiguration]:
    """Reading fonts and style once saves a fifth of the time of each paper."""
    fonts = FontConfiguration()
    text = (STATIC / "paper.css").read_text() + f"@page {{ size: {paper}; }}"
    css = CSS(string=text, font_config=fonts, url_fetcher=StaticOnly(), base_url=f"{SCHEME}:/")
    return css, fonts


def render_paper(html: str, *, paper: Paper) -> bytes:
    """A whole HTML document as a tagged PDF (PDF/UA-1), on A4 or US Letter."""
    css, fonts = _style(paper)
    document = HTML(string=html, url_fetcher=StaticOnly(), base_url=f"{SCHEME}:/")
    made: bytes = document.write_pdf(
        stylesheets=[css], font_config=fonts, pdf_variant="pdf/ua-1", custom_metadata=False
    )
    return made


def render_hybrid(html: str, *, paper: Paper, xml: bytes) -> bytes:
    """A document that people and machines read: PDF/A-3 with its XML inside (ISO 19005-3)."""
    css, fonts = _style(paper)
    document = HTML(string=html, url_fetcher=StaticOnly(), base_url=f"{SCHEME}:/")
    inside = Attachment(
        string=xml,
        name="factur-x.xml",
        description="The invoice for machines",
        relationship="Alternative",
    )
    made: bytes = document.write_pdf(
        stylesheets=[css], font_config=fonts, pdf_variant="pdf/a-3a", custom_metadata=False,
        attachments=[inside], xmp_metadata=[f"{SCHEME}:einvoice.xmp"],
    )  # fmt: skip
    return made


def picture_png(svg: str, *, wide_cm: float, high_cm: float, wide_px: int) -> bytes:
    """An SVG of our own as a PNG, by way of a page of its size: the same renderer as on paper."""
    size = f"{wide_cm:.1f}cm", f"{high_cm:.1f}cm"
    sheet = (
        f"@page {{ size: {' '.join(size)}; margin: 0; background: #f9f4e9 }} body {{ margin: 0 }}"
        f"svg {{ display: block; width: {size[0]}; height: {size[1]} }}"
    )
    css, fonts = _style("A4")
    over = CSS(string=sheet, font_config=fonts, url_fetcher=StaticOnly(), base_url=f"{SCHEME}:/")
    page = HTML(string=svg, url_fetcher=StaticOnly(), base_url=f"{SCHEME}:/")
    document = pdfium.PdfDocument(page.write_pdf(stylesheets=[css, over], font_config=fonts))
    first = document[0]
    image = first.render(scale=wide_px / first.get_width()).to_pil()
    document.close()
    out = BytesIO()
    image.save(out, "PNG", optimize=True)
    return out.getvalue()

"""Papers: HTML into PDF. The only user of WeasyPrint; it reads static files and pictures made by us, nothing else."""

from __future__ import annotations

import re
from base64 import b64decode
from collections.abc import Sequence
from datetime import date, datetime
from functools import cache
from io import BytesIO
from pathlib import Path
from ssl import PROTOCOL_TLS_CLIENT, SSLContext
from typing import Any, Literal
from urllib.parse import unquote, urlparse

import pypdfium2 as pdfium
from django.conf import settings
from PIL import ImageFile
from weasyprint import CSS, HTML, Attachment
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher, URLFetcherResponse

from studio.tagging import finish

# The engine turns this on for the whole process; half a photo would then pass for a whole one.
ImageFile.LOAD_TRUNCATED_IMAGES = False

type Paper = Literal["A4", "letter"]
STATIC = Path(settings.HOME) / "static"
# Pictures inside the paper: a room's photo, the studio's logo. Both were encoded anew by us and begin like this.
INSIDE = {
    "data:image/jpeg;base64,": ("image/jpeg", b"\xff\xd8\xff"),
    "data:image/png;base64,": ("image/png", b"\x89PNG\r\n\x1a\n"),
}
DRAWING = "drawing:"
XMLNS = 'xmlns="http://www.w3.org/2000/svg"'
SVG = re.compile(
    r"<svg\b.*?</svg>", re.DOTALL
)  # ours: what people typed is escaped, and we nest none
TITLE = re.compile(r"<title>(.*?)</title>", re.DOTALL)
# It never opens the net; if it did, it would trust nobody. The engine would read all the machine's certificates
# for each paper, 20 ms of it.
NOBODY = SSLContext(PROTOCOL_TLS_CLIENT)
SCHEME = "house"  # house:fonts/x.ttf is static/fonts/x.ttf


class Refused(ValueError):
    """An address that a paper may not read."""


class StaticOnly(URLFetcher):  # type: ignore[misc]  # it has no types
    """Answers house: addresses from the static folder, drawings of the paper itself, and refuses every other."""

    def __init__(self, drawings: Sequence[str] = ()) -> None:
        super().__init__(ssl_context=NOBODY)
        self.drawings = drawings

    def fetch(self, url: str, headers: Any = None) -> URLFetcherResponse:
        for place, drawing in enumerate(self.drawings):
            if url == f"{DRAWING}{place}":
                return URLFetcherResponse(url, drawing.encode(), {"Content-Type": "image/svg+xml"})
        start = url[: url.find(",") + 1]
        if start in INSIDE:
            kind, signature = INSIDE[start]
            content = b64decode(url[len(start) :])
            if content.startswith(signature):
                return URLFetcherResponse(url, content, {"Content-Type": kind})
        at = urlparse(url)
        path = (STATIC / unquote(at.path).lstrip("/")).resolve()
        if at.scheme != SCHEME or not path.is_relative_to(STATIC) or not path.is_file():
            raise Refused(f"expected a file of the house, got {url[:80]}")
        return URLFetcherResponse(url, path.read_bytes())


@cache
def _style(paper: Paper) -> tuple[CSS, FontConfiguration]:
    """Reading fonts and style once saves a fifth of the time of each paper."""
    fonts = FontConfiguration()
    text = (STATIC / "paper.css").read_text() + (
        f"@page {{ size: {paper}; }} @page across {{ size: {paper} landscape; }}"
    )
    css = CSS(string=text, font_config=fonts, url_fetcher=StaticOnly(), base_url=f"{SCHEME}:/")
    return css, fonts


def render_paper(html: str, *, paper: Paper) -> bytes:
    """A whole HTML document as a tagged PDF (PDF/UA-1, ISO 14289-1), on A4 or US Letter."""
    return _print(html, paper, pdf_variant="pdf/ua-1")


def render_hybrid(html: str, *, paper: Paper, xml: bytes, on: date) -> bytes:
    """A document that people and machines read: PDF/A-3a with its XML of a day inside (ISO 19005-3), PDF/UA-1 too."""
    dated = datetime(on.year, on.month, on.day)  # noqa: DTZ001  the engine writes it down as it stands
    inside = Attachment(
        string=xml, name="factur-x.xml", description="The invoice for machines",
        relationship="Alternative", created=dated, modified=dated,
    )  # fmt: skip
    described = [f"{SCHEME}:einvoice.xmp"]
    return _print(html, paper, pdf_variant="pdf/a-3a", attachments=[inside], xmp_metadata=described)


def _print(html: str, paper: Paper, **options: Any) -> bytes:
    css, fonts = _style(paper)
    html, drawings = _drawings_apart(html)
    document = HTML(string=html, url_fetcher=StaticOnly(drawings), base_url=f"{SCHEME}:/")
    made: bytes = document.write_pdf(
        stylesheets=[css], font_config=fonts, custom_metadata=False, finisher=finish, **options
    )
    return made


def _drawings_apart(html: str) -> tuple[str, list[str]]:
    """Drawings as pictures of their own: read as XML, they take a quarter of the time that they take within HTML."""
    drawings: list[str] = []

    def apart(found: re.Match[str]) -> str:
        drawings.append(with_namespace(found[0]))
        title = TITLE.search(found[0])
        words = title[1].replace('"', "&quot;") if title else ""
        return f'<img class="drawing" src="{DRAWING}{len(drawings) - 1}" alt="{words}">'

    return SVG.sub(apart, html), drawings


def with_namespace(svg: str) -> str:
    """Within HTML the name of the language may be left out; by itself it may not."""
    return svg if "xmlns=" in svg[: svg.index(">")] else svg.replace("<svg", f"<svg {XMLNS}", 1)


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

"""Papers: HTML into PDF. The only user of WeasyPrint; it can read static files and nothing else."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any, Literal
from urllib.parse import unquote, urlparse

from django.conf import settings
from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher, URLFetcherResponse

type Paper = Literal["A4", "letter"]
STATIC = Path(settings.HOME) / "static"
SCHEME = "house"  # house:fonts/x.ttf is static/fonts/x.ttf


class Refused(ValueError):
    """An address that a paper may not read."""


class StaticOnly(URLFetcher):  # type: ignore[misc]  # it has no types
    """Answers house: addresses from the static folder and refuses every other."""

    def fetch(self, url: str, headers: Any = None) -> URLFetcherResponse:
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

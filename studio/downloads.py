"""Files as answers: shown in the browser or taken away, and kept by no cache on the way."""

from __future__ import annotations

from django.http import HttpResponse


def file_to_take(content: bytes | str, name: str, kind: str) -> HttpResponse:
    """A file under its name, to be kept by whoever asked; `kind` is its media type."""
    return _file(content, f'attachment; filename="{name}"', kind)


def pdf_to_read(content: bytes, name: str) -> HttpResponse:
    """A paper that the browser shows; `name` without its ending."""
    return _file(content, f'inline; filename="{name}.pdf"', "application/pdf")


def _file(content: bytes | str, disposition: str, kind: str) -> HttpResponse:
    headers = {"Content-Disposition": disposition, "Cache-Control": "no-store"}
    return HttpResponse(content, content_type=kind, headers=headers)

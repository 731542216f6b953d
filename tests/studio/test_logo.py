"""The studio's logo: taken in with care, shown where the studio shows itself, kept in what was sent."""

from __future__ import annotations

import io
import struct
import zlib
from base64 import b64decode, b64encode
from typing import Any

import pikepdf
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image, PngImagePlugin

from jobs.models import Offer
from jobs.proposal.links import live_token
from studio.access import Access
from studio.images import LOGO_BYTES, reencode, reencode_logo
from studio.models import Studio
from tests.conftest import signed_in
from tests.factories import a_designed_job, an_access
from tests.papers import an_offer, every_paper

FACTS, LOGO = reverse("studio:facts"), reverse("studio:logo")


def a_picture(kind: str = "PNG", size: tuple[int, int] = (600, 200), **more: Any) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, (156, 58, 39)).save(out, kind, **more)
    return out.getvalue()


def a_bomb() -> bytes:
    """A PNG of 60,000 by 60,000 points in a few bytes: its head says so, its body is short."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        crc = zlib.crc32(kind + body)
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", crc)

    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(b"\0" * 999))
        + chunk(b"IEND", b"")
    )


def bring(browser: Client, content: bytes, name: str = "logo.png") -> Any:
    return browser.post(LOGO, {"logo": SimpleUploadedFile(name, content)})


def kept(access: Access) -> bytes | None:
    found = Studio.objects.get(pk=access.studio.pk).logo
    return bytes(found) if found else None


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP"])
def test_a_logo_is_kept_as_a_png_of_our_own(browser: Client, access: Access, kind: str) -> None:
    assert bring(browser, a_picture(kind, (2400, 800))).status_code == 302
    content = kept(access)
    assert content
    with Image.open(io.BytesIO(content)) as picture:
        assert (picture.format, picture.size) == ("PNG", (1200, 400))


def test_nothing_but_its_pixels_is_kept() -> None:
    told = PngImagePlugin.PngInfo()
    told.add_text("Comment", "shot at 51.5, -0.1")
    camera = Image.Exif()
    camera[271] = "a camera"
    clear = a_picture(pnginfo=told, icc_profile=b"a profile", exif=camera)
    made = reencode_logo(io.BytesIO(clear), size=len(clear))
    assert not {b"tEXt", b"zTXt", b"iTXt", b"iCCP", b"eXIf"} & {
        made[i : i + 4] for i in range(len(made))
    }
    photo = a_picture("JPEG", comment=b"shot at 51.5, -0.1", icc_profile=b"a profile")
    assert b"51.5" not in reencode(io.BytesIO(photo), size=len(photo), most_px=600).content


def test_a_logo_keeps_its_clear_ground_and_stays_small_enough_to_be_carried() -> None:
    busy = Image.effect_noise((1000, 1000), 90).convert("RGBA")
    busy.putpixel((0, 0), (0, 0, 0, 0))
    out = io.BytesIO()
    busy.save(out, "PNG")
    made = reencode_logo(io.BytesIO(out.getvalue()), size=len(out.getvalue()))
    assert len(made) <= LOGO_BYTES
    flat = Image.new("RGBA", (300, 100))
    flat.save(out := io.BytesIO(), "PNG")
    with Image.open(io.BytesIO(reencode_logo(out, size=500))) as picture:
        assert picture.convert("RGBA").getpixel((5, 5))[3] == 0  # type: ignore[index]


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "CMYK", "I;16", "RGBA"])
def test_every_kind_of_pixels_is_read(mode: str) -> None:
    out = io.BytesIO()
    Image.new(mode, (30, 20)).save(out, "JPEG" if mode == "CMYK" else "PNG")
    assert reencode_logo(out, size=100).startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("content", "name", "sentence"),
    [
        (b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>", "logo.svg",
         "Logo: expected a JPEG, PNG or WebP, got an SVG; save it as PNG first."),
        (b"<?xml version='1.0'?><svg/>", "logo.png", "got an SVG; save it as PNG first."),
        (b"GIF89a" + b"\0" * 50, "logo.png", "Logo: expected a JPEG, PNG or WebP, got something else."),
        (a_picture()[:60], "logo.png", "got something else."),
        (b"", "logo.png", "Logo: expected a picture, got an empty file."),
        (a_bomb(), "logo.png", "Logo: expected "),
        (a_picture(size=(5000, 4001)), "logo.png",
         "Logo: expected at most 20 million points, got 5000 by 4001."),
        (a_picture() + b"\0" * 4_000_000, "logo.png", "Logo: expected at most 4 MB, got 4 MB."),
    ],
)  # fmt: skip
def test_what_is_no_logo_is_refused_with_a_sentence(
    browser: Client, access: Access, content: bytes, name: str, sentence: str
) -> None:
    answer = bring(browser, content, name)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert kept(access) is None


def test_nothing_chosen_is_said(browser: Client, access: Access) -> None:
    answer = browser.post(LOGO, {})
    assert answer.status_code == 422
    assert "Logo: expected a picture, got none." in answer.content.decode()


def test_the_owner_alone_brings_it_and_takes_it_off(browser: Client, access: Access) -> None:
    for role in ("office", "crew"):
        assert bring(signed_in(an_access(role, access.studio)), a_picture()).status_code == 403
    assert kept(access) is None
    bring(browser, a_picture())
    assert "Take the logo off" in browser.get(FACTS).content.decode()
    assert browser.post(LOGO, {"do": "remove"}).status_code == 302
    assert kept(access) is None
    assert "No logo yet" in browser.get(FACTS).content.decode()
    assert browser.get(LOGO).status_code == 302


def test_a_logo_does_not_make_the_open_facts_stale(browser: Client, access: Access) -> None:
    before = Studio.objects.get(pk=access.studio.pk).version
    bring(browser, a_picture())
    assert Studio.objects.get(pk=access.studio.pk).version == before


def test_it_stands_at_the_head_of_every_paper_but_the_labels(access: Access) -> None:
    access.studio.logo = reencode_logo(io.BytesIO(a_picture()), size=2000)
    access.studio.tax_number = "GB123456789"
    access.studio.save()
    for name, content in every_paper(access).items():
        with pikepdf.open(io.BytesIO(content)) as pdf:
            pictures = [
                x
                for x in pdf.pages[0].resources.get("/XObject", {}).values()
                if x.get("/Subtype") == "/Image"  # type: ignore[union-attr]
            ]
            assert bool(pictures) is (name not in ("labels", "count")), name


def carried(html: str) -> list[bytes]:
    """The pictures a page carries inside."""
    parts = html.split("data:image/png;base64,")[1:]
    return [b64decode(part.partition('"')[0]) for part in parts]


def test_an_offer_keeps_the_logo_it_was_sent_with(browser: Client, access: Access) -> None:
    bring(browser, a_picture())
    access.studio.refresh_from_db()
    first = kept(access)
    offer = an_offer(access, a_designed_job(access))
    at = reverse("jobs:offer-page", args=[live_token(access, offer)])
    assert carried(Client().get(at).content.decode()) == [first]
    bring(browser, a_picture("JPEG", (300, 300)))
    assert kept(access) != first
    assert carried(Client().get(at).content.decode()) == [first]
    browser.post(LOGO, {"do": "remove"})
    assert carried(Client().get(at).content.decode()) == [first]
    assert carried(Offer.objects.get().article) == [first]


def test_pages_may_show_it(browser: Client, access: Access) -> None:
    bring(browser, a_picture())
    page = browser.get(FACTS)
    assert "img-src 'self' data:;" in page.headers["Content-Security-Policy"] + ";"
    assert b64encode(kept(access) or b"").decode() in page.content.decode()


def test_no_studio_sees_anothers(browser: Client, access: Access, stranger: Access) -> None:
    bring(browser, a_picture())
    assert carried(signed_in(stranger).get(FACTS).content.decode()) == []

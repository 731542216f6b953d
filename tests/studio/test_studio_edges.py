"""The site's own room at its edges: the value, size or moment at which each rule turns over."""

from __future__ import annotations

import base64
import io
import sqlite3
import uuid
from decimal import Decimal
from typing import Any

import psycopg
import pytest
from django.core.exceptions import BadRequest
from django.db import IntegrityError, InterfaceError, OperationalError
from django.test import RequestFactory
from django.urls import reverse
from lxml import html
from PIL import Image

from studio.access import Access
from studio.days import read_days, write_days
from studio.images import LOGO, ImageError, Limits, decode, reencode, reencode_logo
from studio.measure import (
    LengthError,
    read_length,
    write_amount,
    write_cut,
    write_diameter,
    write_exact,
    write_length,
)
from studio.models import Studio, SubmittedForm
from studio.once import form_key_of, once
from studio.paper import Refused, StaticOnly, picture_png, render_paper, with_namespace
from studio.scales import ScaleError, read_scale, read_stages, write_scale, write_stages
from studio.server_errors import address_shape, is_away, note_down, server_error
from studio.tokens import derive, digest, new_salt
from studio.words import filled, strangers
from tests.conftest import signed_in

PNG = b"\x89PNG\r\n\x1a\n"


# What a paper may read


def test_pictures_of_ours_come_in_whole() -> None:
    for kind, signature in (("image/png", PNG), ("image/jpeg", b"\xff\xd8\xff")):
        content = signature + b"rest"
        url = f"data:{kind};base64,{base64.b64encode(content).decode()}"
        answer = StaticOnly().fetch(url)
        assert answer.read() == content
        assert answer.headers["Content-Type"] == kind
        with pytest.raises(Refused):
            StaticOnly().fetch(url.replace(kind, "image/gif"))


def test_drawings_are_those_of_the_paper_itself() -> None:
    fetcher = StaticOnly(["<svg/>", "<svg id='b'/>"])
    assert fetcher.fetch("drawing:1").read() == b"<svg id='b'/>"
    for url in (
        "drawing:2",
        "drawing:-1",
        "drawing:",
        "house:../manage.py",
        "house:fonts",
        "file:///etc/hostname",
        "http://127.0.0.1/x",
    ):
        with pytest.raises(Refused, match="expected a file of the house"):
            fetcher.fetch(url)
    assert b"@page" in StaticOnly().fetch("house:paper.css").read()


def test_a_drawing_has_its_namespace_once() -> None:
    assert with_namespace("<svg a='1'><svg/></svg>").startswith(
        '<svg xmlns="http://www.w3.org/2000/svg" a='
    )
    whole = '<svg xmlns="http://www.w3.org/2000/svg"/>'
    assert with_namespace(whole) == whole


def test_drawings_stand_on_a_paper_with_their_words() -> None:
    """ISO 14289-1, 7.3: a figure has an alternative text."""
    import pikepdf

    svg = '<svg viewBox="0 0 9 9"><title>An {} arch</title><rect width="9" height="9"/></svg>'
    body = "".join(f"<p>{svg.format(word)}</p>" for word in ("open", "&quot;high&quot;"))
    html = f"<html lang='en'><head><title>x</title></head><body>{body}</body></html>"
    with pikepdf.open(io.BytesIO(render_paper(html, paper="A4"))) as pdf:
        told = [
            str(o.Alt) for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and "/Alt" in o
        ]
    assert told == ["An open arch", 'An "high" arch']


def test_a_picture_is_as_wide_as_it_is_asked_for() -> None:
    svg = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 20"><rect width="40" height="20" fill="#ff0000"/></svg>'
    image = Image.open(io.BytesIO(picture_png(svg, wide_cm=4, high_cm=2, wide_px=80)))
    assert image.width == 80
    assert abs(image.height - 40) <= 1
    assert image.convert("RGB").getpixel((40, 20)) == (255, 0, 0)


def test_a_paper_has_the_size_that_its_studio_prints_on() -> None:
    import pypdfium2

    # ISO 216: A4 is 210 × 297 mm; US Letter is 8.5 × 11 in (ANSI Y14.1). A point is 1/72 in.
    for paper, size in (("A4", (595, 842)), ("letter", (612, 792))):
        page = pypdfium2.PdfDocument(
            render_paper(
                "<html lang='en'><head><title>x</title></head><body>x</body></html>", paper=paper
            )
        )[0]  # type: ignore[arg-type]
        assert (round(page.get_width()), round(page.get_height())) == size


# Pictures that are brought


def an_upload(width: int, height: int, kind: str = "PNG") -> tuple[io.BytesIO, int]:
    out = io.BytesIO()
    Image.new("RGB", (width, height), (10, 120, 200)).save(out, kind)
    return io.BytesIO(out.getvalue()), len(out.getvalue())


def test_a_picture_of_the_largest_size_is_taken_and_one_point_more_is_not() -> None:
    limits = Limits(bytes=10**6, pixels=100 * 50)
    upload, size = an_upload(100, 50)
    assert decode(upload, limits, size=size, clear=False).size == (100, 50)
    upload, size = an_upload(101, 50)
    with pytest.raises(ImageError, match="expected at most 0 million points, got 101 by 50"):
        decode(upload, limits, size=size, clear=False)
    upload, _ = an_upload(10, 10)
    assert decode(upload, limits, size=10**6, clear=True).mode == "RGBA"
    with pytest.raises(ImageError, match="Picture: expected at most 1 MB, got 1 MB"):
        decode(upload, limits, size=10**6 + 1, clear=True)
    assert (LOGO.bytes, LOGO.pixels, Limits().bytes, Limits().pixels) == (
        4 * 10**6,
        2 * 10**7,
        15 * 10**6,
        5 * 10**7,
    )


def test_pictures_are_brought_down_to_their_longer_side() -> None:
    for clear, kind in ((False, b"\xff\xd8\xff"), (True, PNG)):
        upload, size = an_upload(300, 100)
        made = reencode(upload, size=size, most_px=150, keep_clear=clear)
        assert (made.wide_px, made.high_px) == (150, 50)
        assert made.content.startswith(kind)
    upload, size = an_upload(80, 40)
    assert reencode(upload, size=size, most_px=150).wide_px == 80


def test_a_logo_fits_its_sixty_kilobytes() -> None:
    noise = Image.effect_noise((1300, 700), 90).convert("RGB")
    out = io.BytesIO()
    noise.save(out, "PNG")
    made = reencode_logo(io.BytesIO(out.getvalue()), size=len(out.getvalue()))
    assert len(made) <= 60_000
    assert Image.open(io.BytesIO(made)).width < 1200
    upload, size = an_upload(1300, 700)
    assert Image.open(io.BytesIO(reencode_logo(upload, size=size))).width == 1200


@pytest.mark.parametrize(("content", "says"), [(b"<svg/>", "got an SVG; save it as PNG first"), (b"nothing", "got something else"), (b" " * 4093 + b"<svg", "got something else")])  # fmt: skip
def test_what_is_no_picture_is_named(content: bytes, says: str) -> None:
    with pytest.raises(ImageError, match=says):
        decode(io.BytesIO(content), Limits(), size=len(content), clear=False)


# Scales and days


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("1001 days: 5\n0: 100", "line 1: expected at most 1000 days, got 1001"), ("0 days: 100.01", "expected 0 to 100 %"),
        ("0 days: 10.001", "two decimals at most"), ("5: 10\n5: 20", "expected fewer days from line to line, got 5 days after 5"),
        ("5: 20\n0: 10", "got 10 % at 0 days after 20 %"), ("1 day: 5", "expected a last line for 0 days, the day of the event, got 1 days"),
        ("\n".join(f"{n}: 1" for n in range(12, -1, -1)), "expected at most 12 steps, got 13"), ("\n\nx", "line 3: expected a step"),
    ],
)  # fmt: skip
def test_a_scale_that_is_none_gets_a_sentence(text: str, says: str) -> None:
    with pytest.raises(ScaleError, match=says):
        read_scale(text, "Scale")


def test_a_scale_at_its_limits_is_taken() -> None:
    assert read_scale("1000 days: 0 %\n1 day: 99.99\n0: 100", "S") == [
        ["1000", "0"],
        ["1", "99.99"],
        ["0", "100"],
    ]
    assert read_scale("2: 10\n1: 10\n0: 10", "S") == [["2", "10"], ["1", "10"], ["0", "10"]]
    assert len(read_scale("\n".join(f"{n}: 1" for n in range(11, -1, -1)), "S")) == 12
    assert read_scale("", "S") == []
    assert (
        write_scale([["2", "10"], ["1", "10"], ["0", "10"]])
        == "2 days: 10 %\n1 day: 10 %\n0 days: 10 %"
    )


def test_stages_are_at_most_the_whole() -> None:
    rows = read_stages("90: 40\n60: 60", "S")
    assert rows == [["40", "90"], ["60", "60"]]
    assert write_stages(rows) == "90 days: 40 %\n60 days: 60 %"
    with pytest.raises(ScaleError, match=r"100 % at most in all, got 100\.01 %"):
        read_stages("90: 40.01\n60: 60", "S")
    with pytest.raises(ScaleError, match="expected more than 0 %"):
        read_stages("90: 0\n60: 60", "S")


def test_days_at_their_limits() -> None:
    assert read_days("90, −90; 2 2 +3", "D") == [-90, 2, 3, 90]
    assert read_days("1 2 3 4 5 6", "D") == [1, 2, 3, 4, 5, 6]
    assert (read_days("", "D"), write_days([-7, 2])) == ([], "-7, 2")
    for wrong in ("91", "-91", "1.5", "x", "1 2 3 4 5 6 7"):
        with pytest.raises(ScaleError, match="D: expected"):
            read_days(wrong, "D")


# Lengths


@pytest.mark.parametrize(
    ("length_m", "written"),
    [(0.3048, "1'"), (0.3048 - 0.0254 / 4.1, "1'"), (0.3048 - 0.0254 / 3.9, '11½"'), (0.0, '0"'), (0.0127, '½"'), (-0.0127, '-½"'), (0.635, "2' 1\"")],
)  # fmt: skip
def test_feet_and_inches_to_the_half(length_m: float, written: str) -> None:
    assert write_length(length_m, "imperial") == written


def test_other_ways_to_write_a_length() -> None:
    # An inch is 25.4 mm, a foot 304.8 (1959).
    cuts = [write_cut(mm, "imperial") for mm in (305, 302, 299)]
    assert [*cuts, write_cut(302, "metric")] == ["1'", "1'", '11¾"', "302 mm"]
    assert (
        write_diameter(0.28, "metric"),
        write_diameter(0.285, "metric"),
        write_diameter(0.2794, "imperial"),
    ) == ("28 cm", "28.5 cm", '11"')
    assert write_amount(Decimal("0.1"), "m³", "metric") == "0.1 m³"
    assert write_amount(Decimal("3.50"), "each", "imperial") == "3.5"
    assert write_amount(Decimal(2), "kg", "metric") == "2 kg"
    assert (
        write_exact(2.0, "metric"),
        write_exact(2.0004, "metric"),
        write_exact(2.0006, "metric"),
    ) == ("2.00 m", "2.00 m", "2.0006 m")
    assert (write_exact(0.3048, "imperial"), write_exact(0.3099, "imperial")) == ("1'", "1' 0.2\"")


def test_a_length_as_long_as_it_may_be() -> None:
    assert read_length("1000 m", units="metric", what="L") == 1000
    assert read_length("0", units="metric", what="L") == 0
    assert read_length("3 ft", units="metric", what="L", at_most_m=0.9144) == 0.9144
    for typed in ("1000.001 m", "1/0 in", "5 ft 1/0", "-1", "1 2", "", "m"):
        with pytest.raises(LengthError, match="L: expected"):
            read_length(typed, units="metric", what="L")


# Words and tokens


def test_places_of_a_sentence() -> None:
    assert filled("{client}, {nobody} {client}", {"client": "R"}) == "R, {nobody} R"
    assert strangers("{client} {Client} {who} {event}") == ["who"]


def test_a_token_is_of_its_salt_and_of_the_sites_secret(settings: Any) -> None:
    salt = new_salt()
    token = derive(salt)
    assert derive(salt) == token != derive(new_salt())
    # RFC 4648, base64url of 256 bits without its padding: 43 letters.
    assert len(token) == 43
    assert len(base64.urlsafe_b64decode(token + "=")) == 32
    assert digest(token) != token
    settings.SECRET_KEY = "another"
    assert derive(salt) != token


# Once


def test_what_failed_may_be_pressed_again(access: Access) -> None:
    key = uuid.uuid4()

    def fails() -> str:
        raise ValueError("no")

    with pytest.raises(ValueError, match="no"):
        once(access, key, fails)
    assert not SubmittedForm.objects.exists()
    assert once(access, key, lambda: "/a/") == "/a/"
    assert once(access, key, lambda: "/b/") == "/a/"
    assert SubmittedForm.objects.get().leads_to == "/a/"


def test_another_conflict_is_not_taken_for_a_second_press(access: Access) -> None:
    def clashes() -> str:
        raise IntegrityError("another one")

    with pytest.raises(IntegrityError, match="another one"):
        once(access, uuid.uuid4(), clashes)


def test_a_form_without_its_key_is_told() -> None:
    for typed in ({}, {"form_key": "x"}, {"form_key": ""}):
        with pytest.raises(BadRequest, match="expected the form's own key"):
            form_key_of(RequestFactory().post("/", typed))


# What broke


def caused(error: Exception, cause: BaseException | None) -> Exception:
    error.__cause__ = cause
    return error


def sqlite(code: int) -> sqlite3.OperationalError:
    error = sqlite3.OperationalError("x")
    error.sqlite_errorcode = code
    return error


# sqlite.org/rescode.html: BUSY 5, LOCKED 6, IOERR 10, FULL 13, CANTOPEN 14; extended codes keep them in the low byte.
@pytest.mark.parametrize(
    ("error", "away"),
    [
        (None, False), (ValueError("x"), False), (IntegrityError("x"), False), (OperationalError("x"), True),
        *[(caused(OperationalError("x"), sqlite(code)), True) for code in (5, 6, 10, 13, 14, 5 + 256, 10 + 2048)],
        *[(caused(OperationalError("x"), sqlite(code)), False) for code in (1, 11, 19)],
        (caused(OperationalError("x"), psycopg.errors.AdminShutdown()), True),  # 57P01
        (caused(OperationalError("x"), psycopg.errors.ConnectionFailure()), True),  # 08006
        (caused(OperationalError("x"), psycopg.errors.TooManyConnections()), True),  # 53300
        (caused(OperationalError("x"), psycopg.errors.QueryCanceled()), False),  # 57014
        (caused(InterfaceError("x"), None), True),
    ],
)  # fmt: skip
def test_a_database_that_is_away_is_told_from_what_is_broken(
    error: Exception | None, away: bool
) -> None:
    assert is_away(error) is away


def test_the_last_page_says_a_number_or_to_come_back(caplog: Any) -> None:
    request = RequestFactory().get("/jobs/1/")
    for error, status, retry in ((ValueError("x"), 500, None), (OperationalError("x"), 503, "30")):
        try:
            raise error
        except Exception:
            answer = server_error(request)
        assert (answer.status_code, answer.headers.get("Retry-After")) == (status, retry)
        assert answer.headers["Cache-Control"] == "no-store"
        number = request.broken_number  # type: ignore[attr-defined]
        assert number in answer.content.decode()
        assert number in caplog.text
        assert len(number) == 9
        assert number[4] == "-"
    assert note_down(request, None) != note_down(request, None)


def test_a_clients_link_stands_in_no_log() -> None:
    assert address_shape(RequestFactory().get("/o/secret-token/")) == "/o/<str:token>/"
    assert address_shape(RequestFactory().get("/nowhere/at/all")) == "an address that leads nowhere"


# The studio's page


def test_a_logo_is_brought_and_taken_off_again(access: Access) -> None:
    browser = signed_in(access)
    upload, _ = an_upload(40, 20)
    upload.name = "logo.png"
    page = browser.post(reverse("studio:logo"), {"logo": upload}, follow=True).content.decode()
    assert "The logo is on new papers from now on." in page
    assert bytes(Studio.objects.get(pk=access.studio.pk).logo).startswith(PNG)
    page = browser.post(reverse("studio:logo"), {"do": "remove"}, follow=True).content.decode()
    assert "The logo is off." in page
    assert Studio.objects.get(pk=access.studio.pk).logo is None
    assert browser.post(reverse("studio:logo"), {}).status_code == 422


def test_an_open_studio_is_not_opened_again(access: Access) -> None:
    assert signed_in(access).get(reverse("studio:first")).headers["Location"] == reverse(
        "jobs:today"
    )


def test_a_name_is_kept_as_it_was_typed(access: Access) -> None:
    browser = signed_in(access)
    page = html.document_fromstring(browser.get(reverse("studio:facts")).content.decode())
    (form,) = [form for form in page.forms if "currency" in form.fields]
    facts = {
        **{k: v or "" for k, v in form.form_values()},
        "name": "Larch & Daughter",
        "tax_number": "",
    }
    assert browser.post(reverse("studio:facts"), facts).status_code == 302
    assert Studio.objects.get(pk=access.studio.pk).name == "Larch & Daughter"


def test_a_bare_number_is_metres_or_feet() -> None:
    assert read_length("2", units="metric", what="L") == 2
    assert read_length("2", units="imperial", what="L") == 0.6096

"""Pictures to take away, the photo behind them, the studio's shades, saving by itself."""

from __future__ import annotations

import io
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client as Browser
from django.urls import reverse
from PIL import Image

from jobs.models import Job, JobDesign, LogEntry, RoomPhoto, Shade
from jobs.photos import behind, cm_a_pixel
from studio.access import Access
from studio.images import ImageError, reencode
from tests.factories import a_designed_job
from tests.jobs.test_design_page import HTMX, typed


@pytest.fixture
def job(access: Access) -> Job:
    return a_designed_job(access)


def a_photo(wide: int = 800, high: int = 600, kind: str = "JPEG", **options: Any) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (wide, high), "#c8b8a0").save(out, kind, **options)
    return out.getvalue()


def photo_at(job: Job) -> str:
    return reverse("jobs:photo", args=[job.number])


def bring(browser: Browser, job: Job, content: bytes, name: str = "room.jpg") -> Any:
    return browser.post(photo_at(job), {"do": "bring", "photo": SimpleUploadedFile(name, content)})


def test_the_picture_is_taken_away_as_svg_and_png(browser: Browser, job: Job) -> None:
    svg = browser.get(reverse("jobs:picture", args=[job.number, "A", "svg"]))
    assert svg["Content-Type"] == "image/svg+xml"
    assert svg.content.count(b'class="ball"') > 100
    assert b'class="handle"' not in svg.content
    png = browser.get(reverse("jobs:picture", args=[job.number, "A", "png"]))
    with Image.open(io.BytesIO(png.content)) as image:
        assert image.format == "PNG"
        assert abs(image.width - 1600) <= 2
        assert len(image.convert("RGB").getcolors(10**6) or []) > 500
    assert browser.get(reverse("jobs:picture", args=[job.number, "A", "gif"])).status_code == 404


def test_a_photo_takes_its_scale_from_two_points_and_a_distance(
    browser: Browser, access: Access, job: Job
) -> None:
    assert bring(browser, job, a_photo()).status_code == 302
    # Clicked on the picture, shown 640 wide: a submit button that sends where it was pressed.
    browser.post(photo_at(job), {"do": "point", "spot.x": "80", "spot.y": "400"})
    browser.post(photo_at(job), {"do": "point", "spot.x": "400", "spot.y": "400"})
    browser.post(photo_at(job), {"x": "50", "y": "90", "spot.x": "", "spot.y": ""})  # typed
    browser.post(photo_at(job), {"do": "apart", "apart_m": "2 m"})
    photo = RoomPhoto.objects.get()
    assert (photo.first_x, photo.second_x, photo.foot_x) == (100, 500, 400)
    assert cm_a_pixel(photo) == pytest.approx(200 / 400)
    page = browser.get(reverse("jobs:design", args=[job.number])).content.decode()
    assert 'x="-200.0" y="-270.0" width="400.0" height="300.0"' in page
    assert behind(photo).startswith('<image href="data:image/jpeg;base64,')
    svg = browser.get(reverse("jobs:picture", args=[job.number, "A", "svg"])).content
    assert b"data:image/jpeg" in svg


def test_a_photo_without_a_scale_stands_behind_nothing(browser: Browser, job: Job) -> None:
    bring(browser, job, a_photo())
    assert behind(RoomPhoto.objects.get()) == ""
    for _ in range(3):
        browser.post(photo_at(job), {"x": "10", "y": "10"})
    browser.post(photo_at(job), {"do": "apart", "apart_m": "2 m"})
    assert behind(RoomPhoto.objects.get()) == ""  # the two points are one
    browser.post(photo_at(job), {"do": "out"})
    assert not RoomPhoto.objects.exists()


def test_what_is_no_picture_is_refused_with_a_sentence(browser: Browser, job: Job) -> None:
    page = bring(browser, job, b"<svg onload='alert(1)'/>", "room.svg")
    assert page.status_code == 422
    assert "expected a JPEG, PNG or WebP, got an SVG" in page.content.decode()
    assert (
        "expected a picture, got none"
        in browser.post(photo_at(job), {"do": "bring"}).content.decode()
    )
    assert not RoomPhoto.objects.exists()


def test_nothing_rides_along_with_a_picture() -> None:
    exif = Image.Exif()
    exif[0x010E] = "where it was taken"
    content = a_photo(exif=exif) + b"<script>trailing</script>"
    made = reencode(io.BytesIO(content), size=len(content), most_px=400)
    assert (made.wide_px, made.high_px) == (400, 300)
    assert b"where it was taken" not in made.content
    assert b"trailing" not in made.content
    with pytest.raises(ImageError, match="at most 15 MB, got 16 MB"):
        reencode(io.BytesIO(content), size=16_000_000, most_px=400)


def test_a_photo_of_another_studio_is_not_shown(browser: Browser, stranger: Access) -> None:
    theirs = a_designed_job(stranger)
    assert browser.get(photo_at(theirs)).status_code == 404


def test_a_proposal_carries_the_photo_when_asked(browser: Browser, job: Job) -> None:
    bring(browser, job, a_photo())
    for x in ("10", "60", "50"):
        browser.post(photo_at(job), {"x": x, "y": "80"})
    browser.post(photo_at(job), {"do": "apart", "apart_m": "2 m"})
    at = reverse("jobs:proposal", args=[job.number])
    words = {"greeting": "Dear you", "do": "look"}
    assert "data:image/jpeg" not in browser.post(at, words).content.decode()
    assert "data:image/jpeg" in browser.post(at, {**words, "photo": "on"}).content.decode()


# --- shades ---


def test_a_shade_is_offered_by_name_in_every_palette(browser: Browser, job: Job) -> None:
    at = reverse("jobs:shades")
    browser.post(at, {"name": "harbour blue", "hex": "#4A6FA5", "finish": "pearl"})
    shade = Shade.objects.get()
    assert (shade.hex, shade.finish) == ("#4a6fa5", "pearl")
    page = browser.get(reverse("jobs:design", args=[job.number])).content.decode()
    assert '<option value="harbour blue" data-hex="#4a6fa5" data-finish="pearl">' in page
    again = browser.post(at, {"name": "harbour blue", "hex": "#000000", "finish": "matt"})
    assert "each name once" in again.content.decode()
    browser.post(at, {"name": "harbour", "hex": "#4a6fa6", "finish": "pearl"})
    assert "hard to tell apart" in browser.get(at).content.decode()
    browser.post(at, {"out": str(shade.pk)})
    assert Shade.objects.count() == 1


def test_colours_are_suggested_from_the_first_two(browser: Browser, job: Job) -> None:
    at = reverse("jobs:design", args=[job.number])
    data = {**typed(browser.get(at).context["sheet"]), "version": "1"}
    count = int(data["palette-TOTAL_FORMS"])
    more = browser.post(at, {**data, "do": "suggest"}).context["sheet"].palette
    assert len(more.forms) == count + 3
    assert len({form["hex"].value() for form in more.forms}) == count + 3
    assert JobDesign.objects.get().version == 1


# --- saving by itself ---


@pytest.fixture
def data(browser: Browser, job: Job) -> dict[str, str]:
    at = reverse("jobs:design", args=[job.number])
    return {**typed(browser.get(at).context["sheet"]), "version": "1", "do": "keep"}


def test_what_is_kept_is_saved_and_told_and_leaves_one_line_in_the_log(
    browser: Browser, job: Job, data: dict[str, str]
) -> None:
    at = reverse("jobs:design", args=[job.number])
    for version, count in (("1", "2"), ("2", "3"), ("3", "4")):
        answer = browser.post(
            at, {**data, "version": version, "p0-accents-count": count}, headers=HTMX
        )
        assert f'data-version="{int(version) + 1}"' in answer.content.decode()
        assert b"Saved" in answer.content
        assert b"<html" not in answer.content
    row = JobDesign.objects.get()
    assert (row.version, row.document["pieces"][0]["accents"]["count"]) == (4, 4)
    assert LogEntry.objects.filter(what="Design saved").count() == 1


def test_nothing_is_kept_over_somebody_else(
    browser: Browser, job: Job, data: dict[str, str]
) -> None:
    at = reverse("jobs:design", args=[job.number])
    browser.post(at, {**data, "do": "save", "p0-accents-count": "2"})
    answer = browser.post(at, {**data, "p0-accents-count": "9"}, headers=HTMX)
    assert answer.status_code == 409
    assert "Somebody saved in between" in answer.content.decode()
    assert JobDesign.objects.get().document["pieces"][0]["accents"]["count"] == 2


def test_what_cannot_be_read_is_not_kept(browser: Browser, job: Job, data: dict[str, str]) -> None:
    at = reverse("jobs:design", args=[job.number])
    answer = browser.post(at, {**data, "p0-runs-0-end": "left 40 ft"}, headers=HTMX)
    assert answer.status_code == 422
    assert "Not saved" in answer.content.decode()
    assert JobDesign.objects.get().version == 1


@pytest.mark.parametrize(("view", "words"), [("side", "from the side"), ("plan", "from above")])
def test_the_piece_is_seen_from_the_side_and_from_above(
    browser: Browser, job: Job, view: str, words: str
) -> None:
    page = browser.get(reverse("jobs:design", args=[job.number]), {"view": view}).content.decode()
    assert f"Ringed backdrop: {words} with" in page
    assert 'class="handle"' not in page

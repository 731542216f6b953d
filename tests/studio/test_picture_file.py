"""A picture that is taken away looks the same where no page and no font stand round it."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET

import pytest
from django.conf import settings
from PIL import Image, ImageFont

from jobs.design.picture import draw
from jobs.design.working import work_out
from studio.paper import picture_png
from studio.picture_file import GROUND, NS, drawn_at, picture_file
from tests.strategies import a_design, a_piece, a_run

RING = {"kind": "ring", "diameter_m": 2.2}


def drawn(**facts: object) -> str:
    design = a_design(a_piece(RING, runs=[a_run()]), **facts)
    return draw(work_out(design), units="imperial", shown="sheet")


def test_the_file_says_its_size_in_a_usual_scale() -> None:
    # ISO 5455: 1:20 is one of the recommended reductions; 25.4 mm are an inch, 1 cm of the room 0.5 mm.
    root = ET.fromstring(picture_file(drawn()))
    _, _, wide, high = (float(n) for n in root.attrib["viewBox"].split())
    assert drawn_at(wide, high) == 20
    assert root.attrib["width"] == f"{wide / 2:.2f}mm"
    assert root.attrib["height"] == f"{high / 2:.2f}mm"


@pytest.mark.parametrize(
    ("wide", "high", "scale"), [(39.4, 27.1, 1), (39.5, 10, 2), (394, 271, 10), (394, 272, 20), (9e9, 1, 1000)]
)  # fmt: skip
def test_the_scale_is_the_first_that_fits(wide: float, high: float, scale: int) -> None:
    assert drawn_at(wide, high) == scale


def test_a_ground_lies_under_everything() -> None:
    root = ET.fromstring(picture_file(drawn()))
    first, *rest = (child for child in root if child.tag != f"{{{NS}}}title")
    assert [first.attrib[n] for n in ("x", "y", "width", "height")] == root.attrib[
        "viewBox"
    ].split()
    assert first.attrib["fill"] == GROUND
    assert rest


def test_every_letter_is_an_outline_as_wide_and_where_the_font_has_it() -> None:
    svg = drawn()
    words = re.findall(r"<text[^>]*>([^<]+)</text>", svg)
    made = picture_file(svg)
    assert words
    assert "<text" not in made
    assert [p.attrib["aria-label"] for p in ET.fromstring(made).iter(f"{{{NS}}}path") if "aria-label" in p.attrib] == [
        word.replace("&quot;", '"') for word in words
    ]  # fmt: skip


@pytest.mark.parametrize("anchor", ["start", "middle", "end"])
def test_outlines_stand_where_another_renderer_puts_the_letters(anchor: str) -> None:
    # FreeType (through Pillow) is the judge: where a line of letters begins and how far it reaches.
    words, size = "7' 6½\"", 40.0
    svg = (
        f'<svg xmlns="{NS}" viewBox="0 0 300 100" font-size="{size}">'
        f'<text x="150" y="60" text-anchor="{anchor}" fill="#000">{words}</text></svg>'
    )
    font = ImageFont.truetype(settings.HOME / "static/fonts/BarlowCondensed_500Medium.ttf", size)
    long = font.getlength(words, features=["-kern"])
    begins = {"start": 150, "middle": 150 - long / 2, "end": 150 - long}[anchor]
    left, top, right, bottom = font.getbbox(words, anchor="ls", features=["-kern"])
    assert ink_of(picture_file(svg)) == pytest.approx(
        (begins + left, 60 + top, begins + right, 60 + bottom), abs=1.5
    )


def ink_of(svg: str) -> tuple[float, ...]:
    """Left, top, right and bottom of what is darker than the ground, in units of the view box (300 × 100)."""
    png = picture_png(svg, wide_cm=30, high_cm=10, wide_px=1500)
    grey = Image.open(io.BytesIO(png)).convert("L").point(lambda v: 255 if v < 128 else 0)
    box = grey.getbbox()
    assert box
    return tuple(n / 5 for n in box)


def test_a_letter_that_the_font_lacks_stays_text() -> None:
    svg = f'<svg xmlns="{NS}" viewBox="0 0 9 9" font-size="4"><text x="1" y="1">気 2</text></svg>'
    assert "気 2</text>" in picture_file(svg)

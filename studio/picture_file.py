"""An SVG of ours as a file of its own: with its size, its ground, and its lettering as outlines.

Within a page the style sheet brings fonts and paper; opened alone in a browser or a drawing program there is
neither, and few of those programs read a font that lies inside the file.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator
from functools import cache

from django.conf import settings
from fontTools.misc.transform import Transform
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

GROUND = "#f9f4e9"
LARGEST_MM = (394.0, 271.0)  # A3 across, less a margin of 13 mm (ISO 216)
SCALES = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)  # reductions of ISO 5455
FONTS = {"500": "BarlowCondensed_500Medium.ttf", "600": "BarlowCondensed_600SemiBold.ttf"}
SHARE_BEFORE = {"start": 0.0, "middle": 0.5, "end": 1.0}  # of the words, before their place
NS = "http://www.w3.org/2000/svg"
ET.register_namespace("", NS)
type Given = dict[str, str]  # attributes that lettering takes from what it lies in


def picture_file(svg: str, *, ground: str = GROUND) -> str:
    """A drawing in centimetres of the room as a whole file, in the largest usual scale that an A3 sheet holds.

    Characters that the font does not have stay text, as a last resort.
    """
    root = ET.fromstring(svg)  # noqa: S314  made by us a moment ago; what people typed is escaped in it
    left, top, wide, high = (float(n) for n in root.attrib["viewBox"].split())
    scale = drawn_at(wide, high)
    root.set("width", f"{wide * 10 / scale:.2f}mm")
    root.set("height", f"{high * 10 / scale:.2f}mm")
    outline_lettering(root, {})
    place = {"x": left, "y": top, "width": wide, "height": high}
    sheet = ET.Element(f"{{{NS}}}rect", {name: f"{at:.0f}" for name, at in place.items()})
    sheet.set("fill", ground)
    root.insert(
        next((i for i, child in enumerate(root) if child.tag != f"{{{NS}}}title"), 0), sheet
    )
    return ET.tostring(root, encoding="unicode", xml_declaration=False)


def drawn_at(wide_cm: float, high_cm: float) -> int:
    """The first reduction of ISO 5455 at which a sheet of so many centimetres of room fits.

    >>> drawn_at(420, 300)
    20
    """
    over = max(10 * wide_cm / LARGEST_MM[0], 10 * high_cm / LARGEST_MM[1])
    return next((scale for scale in SCALES if scale >= over), SCALES[-1])


def outline_lettering(element: ET.Element, given: Given) -> None:
    """Put outlines in the place of every text below an element."""
    mine = given | {
        n: element.attrib[n]
        for n in ("font-size", "font-weight", "text-anchor")
        if n in element.attrib
    }
    for place, child in enumerate(list(element)):
        if child.tag == f"{{{NS}}}text":
            if (outline := _outline(child, mine | dict(child.attrib))) is not None:
                element[place] = outline
        else:
            outline_lettering(child, mine)


def _outline(text: ET.Element, given: Given) -> ET.Element | None:
    words, weight = text.text or "", given.get("font-weight", "500")
    font = _font(weight if weight in FONTS else "500")
    names = [font.getBestCmap().get(ord(outgoing)) for outgoing in words]
    if None in names:
        return None
    size = float(given["font-size"]) / font["head"].unitsPerEm
    glyphs = font.getGlyphSet()
    long = sum(glyphs[name].width for name in names) * size
    x = float(given["x"]) - long * SHARE_BEFORE[given.get("text-anchor", "start")]
    pen = SVGPathPen(glyphs, ntos=lambda n: f"{n:.2f}".rstrip("0").rstrip("."))
    for name in names:
        glyphs[name].draw(TransformPen(pen, Transform(size, 0, 0, -size, x, float(given["y"]))))
        x += glyphs[name].width * size
    kept = dict(_said(text))
    return ET.Element(f"{{{NS}}}path", {"d": pen.getCommands(), "aria-label": words, **kept})


def _said(text: ET.Element) -> Iterator[tuple[str, str]]:
    """What is not about letters: fill, stroke, turning."""
    lettering = ("x", "y", "font-size", "font-weight", "font-family", "text-anchor")
    yield from ((name, value) for name, value in text.attrib.items() if name not in lettering)


@cache
def _font(weight: str) -> TTFont:
    return TTFont(settings.HOME / "static" / "fonts" / FONTS[weight])

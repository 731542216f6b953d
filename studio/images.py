"""Pictures that people bring: checked, made small, and encoded anew so that nothing rides along."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import IO

from PIL import Image, ImageOps

FORMATS = ("JPEG", "PNG", "WEBP")
PLAIN = {"1", "L", "LA", "P", "PA", "RGB", "RGBA"}  # Pillow turns every other mode into RGB first
LOGO_WIDE_PX = 1200
LOGO_BYTES = 60_000  # it is carried inside every paper and every proposal


class ImageError(ValueError):
    """Why a picture cannot be used, as a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What is taken in at all."""

    what: str = "Picture"
    bytes: int = 15_000_000
    pixels: int = 50_000_000


LOGO = Limits(what="Logo", bytes=4_000_000, pixels=20_000_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reencoded:
    content: bytes
    wide_px: int
    high_px: int


def reencode(upload: IO[bytes], *, size: int, most_px: int, keep_clear: bool = False) -> Reencoded:
    """A picture as plain JPEG (PNG with `keep_clear`), at most `most_px` on its longer side, the right way up.

    Its pixels are all that is kept: no camera data, no place, no other content. Raises ImageError.
    """
    upright = decode(upload, Limits(), size=size, clear=keep_clear)
    upright.thumbnail((most_px, most_px))
    out = io.BytesIO()
    if keep_clear:
        upright.save(out, "PNG", optimize=True)
    else:
        upright.save(out, "JPEG", quality=80, optimize=True)
    return Reencoded(content=out.getvalue(), wide_px=upright.width, high_px=upright.height)


def reencode_logo(upload: IO[bytes], *, size: int) -> bytes:
    """A logo as PNG, clear where it was, at most 1200 pixels wide and 60 kB. Raises ImageError.

    What takes more than that is brought down to 255 colours, then made smaller until it fits.
    """
    picture = decode(upload, LOGO, size=size, clear=True)
    picture.thumbnail((LOGO_WIDE_PX, LOGO_WIDE_PX))
    content = as_png(picture)
    while len(content) > LOGO_BYTES:
        few = picture.quantize(255, method=Image.Quantize.FASTOCTREE)
        content = as_png(few)
        picture = picture.resize((picture.width * 4 // 5 or 1, picture.height * 4 // 5 or 1))
    return content


def as_png(picture: Image.Image) -> bytes:
    out = io.BytesIO()
    picture.save(out, "PNG", optimize=True)
    return out.getvalue()


def decode(upload: IO[bytes], limits: Limits, *, size: int, clear: bool) -> Image.Image:
    """The pixels of an upload, the right way up, with nothing else of its file. Raises ImageError."""
    what = limits.what
    if size > limits.bytes:
        raise ImageError(
            f"{what}: expected at most {limits.bytes // 10**6} MB, got {size / 10**6:.3g} MB."
        )
    try:
        with Image.open(upload, formats=FORMATS) as picture:
            if picture.width * picture.height > limits.pixels:
                raise ImageError(
                    f"{what}: expected at most {limits.pixels // 10**6} million points, "
                    f"got {picture.width} by {picture.height}."
                )
            upright = ImageOps.exif_transpose(picture)
            upright = upright if upright.mode in PLAIN else upright.convert("RGB")
            upright = upright.convert("RGBA" if clear else "RGB")
    except ImageError:
        raise
    except Exception:  # readers of broken files stumble in ways that nobody has listed
        got = "an SVG; save it as PNG first" if is_svg(upload) else "something else"
        raise ImageError(f"{what}: expected a JPEG, PNG or WebP, got {got}.") from None
    upright.info.clear()  # comments and profiles would be written again
    return upright


def is_svg(upload: IO[bytes]) -> bool:
    upload.seek(0)
    return b"<svg" in upload.read(4096)

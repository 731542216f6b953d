"""Pictures that people bring: checked, made small, and encoded anew so that nothing rides along."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import IO

from PIL import Image, ImageOps, UnidentifiedImageError

LARGEST_BYTES = 15_000_000
MOST_PIXELS = 50_000_000
FORMATS = ("JPEG", "PNG", "WEBP")


class ImageError(ValueError):
    """Why a picture cannot be used, as a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reencoded:
    content: bytes
    wide_px: int
    high_px: int


def reencode(upload: IO[bytes], *, size: int, most_px: int, keep_clear: bool = False) -> Reencoded:
    """A picture as plain JPEG (PNG with `keep_clear`), at most `most_px` on its longer side, the right way up.

    Its pixels are all that is kept: no camera data, no place, no other content. Raises ImageError.
    """
    if size > LARGEST_BYTES:
        raise ImageError(
            f"Picture: expected at most {LARGEST_BYTES // 10**6} MB, got {size / 10**6:.0f} MB."
        )
    try:
        with Image.open(upload, formats=FORMATS) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise ImageError(
                    f"Picture: expected at most {MOST_PIXELS // 10**6} million points, "
                    f"got {picture.width} by {picture.height}."
                )
            upright = ImageOps.exif_transpose(picture).convert("RGBA" if keep_clear else "RGB")
    except (
        UnidentifiedImageError,
        OSError,
        SyntaxError,
        ValueError,
        Image.DecompressionBombError,
    ) as error:
        if isinstance(error, ImageError):
            raise
        raise ImageError("Picture: expected a JPEG, PNG or WebP, got something else.") from None
    upright.thumbnail((most_px, most_px))
    out = io.BytesIO()
    if keep_clear:
        upright.save(out, "PNG", optimize=True)
    else:
        upright.save(out, "JPEG", quality=80, optimize=True)
    return Reencoded(content=out.getvalue(), wide_px=upright.width, high_px=upright.height)

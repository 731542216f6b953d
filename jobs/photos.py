"""A photograph of the room behind the picture, true to scale: two points on it and how far apart they are."""

from __future__ import annotations

from base64 import b64encode
from math import hypot
from typing import IO, TYPE_CHECKING

from jobs.models import Job, RoomPhoto
from studio.images import reencode

if TYPE_CHECKING:
    from studio.access import Access

LONGER_SIDE_PX = 1600
STEPS = (
    ("first", "Show the first of two points whose distance you know."),
    ("second", "Show the second point."),
    ("foot", "Show where the wall meets the floor, in the middle of where the piece is to stand."),
)


def keep_photo(access: Access, job: Job, upload: IO[bytes], size: int) -> RoomPhoto:
    """Take a photo in, in place of an earlier one. Raises ImageError."""
    made = reencode(upload, size=size, most_px=LONGER_SIDE_PX)
    access.rows(RoomPhoto).filter(job=job).delete()
    return access.add(
        RoomPhoto, job=job, jpeg=made.content, wide_px=made.wide_px, high_px=made.high_px
    )


def next_step(photo: RoomPhoto) -> tuple[str, str] | None:
    """The point that is still to be shown, and the sentence that asks for it."""
    return next(((n, words) for n, words in STEPS if getattr(photo, f"{n}_x") is None), None)


def cm_a_pixel(photo: RoomPhoto) -> float | None:
    """Scale of a photo that knows its points and their distance."""
    points = (photo.first_x, photo.first_y, photo.second_x, photo.second_y)
    if photo.apart_m is None or photo.foot_x is None or None in points:
        return None
    apart_px = hypot(photo.second_x - photo.first_x, photo.second_y - photo.first_y)  # type: ignore[operator]
    return 100 * photo.apart_m / apart_px if apart_px > 1 else None


def behind(photo: RoomPhoto | None, address: str = "") -> str:
    """The photo as SVG in the picture's centimetres; "" while it knows no scale.

    Without an address it carries itself, for papers and downloads.
    """
    scale = cm_a_pixel(photo) if photo else None
    if photo is None or scale is None:
        return ""
    if not address:
        address = "data:image/jpeg;base64," + b64encode(bytes(photo.jpeg)).decode()
    x, y = -(photo.foot_x or 0) * scale, -(photo.foot_y or 0) * scale
    return (
        f'<image href="{address}" x="{x:.1f}" y="{y:.1f}" width="{photo.wide_px * scale:.1f}" '
        f'height="{photo.high_px * scale:.1f}" preserveAspectRatio="none"/>'
    )

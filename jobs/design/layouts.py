"""The same piece, covered otherwise. Pure."""

from __future__ import annotations

from jobs.design.document import Design, Piece, Run
from jobs.design.parts import PART_KINDS
from jobs.design.supports import Support
from jobs.design.supports.curves import UP
from jobs.design.values import Place

# What it is called on the page. Words of the trade.
LAYOUTS = {
    "same": "as it is",
    "full": "full",
    "crescent": "crescent",
    "one side": "one side",
    "garland only": "garland only",
}


def laid_out(design: Design, layout: str) -> Design:
    """A design with its pieces covered in a layout. KeyError for a layout that there is not."""
    if layout not in LAYOUTS:
        raise KeyError(layout)
    if layout == "same":
        return design
    pieces = tuple(_covered(piece, layout) for piece in design.pieces)
    return design.model_copy(update={"pieces": pieces})


def _covered(piece: Piece, layout: str) -> Piece:
    """Greenery, wraps and the rest stay; the runs become one, and "garland only" leaves the loose parts out."""
    if not piece.runs:
        return piece
    start, end = _stretch(piece.support, layout)
    run = piece.runs[0].model_copy(
        update={"start": start, "end": end, "features": (), "clusters": None}
    )
    covered = piece.model_copy(update={"runs": (_fitting(piece.support, run),)})
    if layout != "garland only":
        return covered
    return covered.without(*(kind for kind in PART_KINDS.values() if not kind.with_garland))


def _stretch(support: Support, layout: str) -> tuple[Place, Place]:
    if layout == "full":
        return Place(share=0), Place(share=1)
    if layout == "one side":
        return Place(share=0), Place(share=0.5)
    if not support.closed:
        return Place(share=0.0), Place(share=0.7)
    (_, low), (_, high) = support.path.box
    tall = high - low
    return (
        Place(height_m=round(low + tall / 3, 3), side="right"),
        Place(height_m=round(low + 0.75 * tall, 3), side="left"),
    )


def _fitting(support: Support, run: Run) -> Run:
    """A run on the way of the path: heights of a wide panel may stand on its level edges."""
    for place in (run.start, run.end):
        if place.height_m is not None and not support.path.crossings(place.height_m, UP):
            return run.model_copy(update={"start": Place(share=0), "end": Place(share=0.7)})
    return run

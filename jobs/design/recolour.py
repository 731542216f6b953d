"""One balloon colour in another's place. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from jobs.design.document import Design
from jobs.design.reading import design_from

MOST = 24  # colours of a palette


def with_other(design: Design, colour: str, name: str, hex_: str, finish: str) -> Design:
    """The design with a colour of its palette renamed, as it looks then, and every share of it renamed too.

    Ribbon of that colour stays: it is bought by itself, and it can come. Its look stays in the palette, where
    there is room, as a colour that no balloon has.
    """
    document = design.model_dump(mode="json")
    old = next(entry for entry in document["palette"] if entry["name"] == colour)
    if colour in set(_ribbons(document["pieces"])) and len(document["palette"]) < MOST:
        document["palette"].append({**old, "weight": 0})
    old |= {"name": name, "hex": hex_, "finish": finish}
    _rename_shares(document["pieces"], colour, name)
    return design_from(document)


def has_balls_of(design: Design, colour: str) -> bool:
    """Whether any balloon may be of this colour: by the palette's share or by a part's own."""
    palette = any(entry.weight for entry in design.palette if entry.name == colour)
    return palette or any(
        shares.get(colour) for shares in _found(design.model_dump()["pieces"], "weights")
    )


def _ribbons(pieces: Any) -> Iterator[str]:
    """Colours of ribbon: no part but ribbon names a colour by itself."""
    return _found(pieces, "colour")


def _found(node: Any, wanted: str) -> Iterator[Any]:
    """Every value under a key, however deep."""
    if isinstance(node, dict) and wanted in node:
        yield node[wanted]
    for item in _inside(node):
        yield from _found(item, wanted)


def _inside(node: Any) -> Iterable[Any]:
    if isinstance(node, dict):
        return node.values()
    return node if isinstance(node, list | tuple) else ()


def _rename_shares(node: Any, colour: str, name: str) -> None:
    for item in _inside(node):
        _rename_shares(item, colour, name)
    if isinstance(node, dict) and node.get("weights"):
        shares = node["weights"].items()
        node["weights"] = {name if key == colour else key: share for key, share in shares}

"""Documents of earlier versions, brought forward step by step. Data in, data out; nothing is judged here."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any


def brought_forward(document: object) -> object:
    """The same document in today's version; what is no document, or already of today, as it came."""
    while isinstance(document, dict):
        version = document.get("version")
        if type(version) is not int or version not in STEPS:
            break
        document = STEPS[version](document)
    return document


def _from_1(old: dict[str, Any]) -> dict[str, Any]:
    """Version 2 names each curve of an arch as a support of its own."""
    pieces = old.get("pieces")
    if isinstance(pieces, list | tuple):
        pieces = [_arch_named(piece) for piece in pieces]
    return {**old, "version": 2, **({"pieces": pieces} if "pieces" in old else {})}


def _arch_named(piece: Any) -> Any:
    support = piece.get("support") if isinstance(piece, dict) else None
    if not isinstance(support, dict) or support.get("kind") != "arch":
        return piece
    rest = {k: v for k, v in support.items() if k not in ("kind", "curve")}
    if support.get("curve", "half-ellipse") != "half-ellipse":
        return piece  # version 1 knew no other: let the reader say so
    return {**piece, "support": {"kind": "ellipse-arch", **rest}}


STEPS: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {1: _from_1}

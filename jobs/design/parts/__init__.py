"""Every kind of loose part that a piece can have: each is one module of this folder, found by itself."""

from __future__ import annotations

import pkgutil
from collections.abc import Iterator
from importlib import import_module

from jobs.design.parts.base import LoosePart as LoosePart
from jobs.design.parts.base import Setting as Setting


def _found() -> dict[str, type[LoosePart]]:
    for module in pkgutil.iter_modules(__path__):
        import_module(f"{__name__}.{module.name}")
    kinds = sorted(_kinds_of(LoosePart), key=lambda kind: (kind.ranks.screen, kind.key))
    return {kind.key: kind for kind in kinds}


def _kinds_of(base: type[LoosePart]) -> Iterator[type[LoosePart]]:
    """Every class below it with a key of its own; others only share what they have."""
    for kind in base.__subclasses__():
        if "key" in vars(kind):
            yield kind
        yield from _kinds_of(kind)


PART_KINDS: dict[str, type[LoosePart]] = _found()  # in the order of the document and the form
IN_WORK = tuple(sorted(PART_KINDS.values(), key=lambda kind: (kind.ranks.work, kind.key)))
IN_WORDS = tuple(sorted(PART_KINDS.values(), key=lambda kind: (kind.ranks.words, kind.key)))

"""Every kind of loose part that a piece can have: each is one module of this folder, found by itself."""

from __future__ import annotations

import pkgutil
from importlib import import_module

from jobs.design.parts.base import LoosePart as LoosePart
from jobs.design.parts.base import Setting as Setting


def _found() -> dict[str, type[LoosePart]]:
    for module in pkgutil.iter_modules(__path__):
        import_module(f"{__name__}.{module.name}")
    kinds = sorted(LoosePart.__subclasses__(), key=lambda kind: (kind.order.screen, kind.key))
    return {kind.key: kind for kind in kinds}


KINDS: dict[str, type[LoosePart]] = _found()  # in the order of the document and the form
IN_WORK = tuple(sorted(KINDS.values(), key=lambda kind: (kind.order.work, kind.key)))
IN_WORDS = tuple(sorted(KINDS.values(), key=lambda kind: (kind.order.words, kind.key)))

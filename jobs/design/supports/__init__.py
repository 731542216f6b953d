"""Every kind of support that a piece can stand on: each is one module of this folder, found by itself."""

from __future__ import annotations

import pkgutil
from importlib import import_module
from typing import TYPE_CHECKING, Union, get_args

from jobs.design.supports.base import Support as Support

SCREEN_ORDER = (
    "ring",
    "ellipse-arch",
    "circle-arch",
    "legged-arch",
    "rod-arch",
    "panel",
    "column",
    "rail",
)


def _found() -> dict[str, type[Support]]:
    for module in pkgutil.iter_modules(__path__):
        import_module(f"{__name__}.{module.name}")
    kinds = {get_args(c.model_fields["kind"].annotation)[0]: c for c in Support.__subclasses__()}
    order = {kind: i for i, kind in enumerate(SCREEN_ORDER)}
    return dict(sorted(kinds.items(), key=lambda item: (order.get(item[0], len(order)), item[0])))


KINDS: dict[str, type[Support]] = _found()

if TYPE_CHECKING:
    AnySupport = Support
else:
    AnySupport = Union[tuple(KINDS.values())]  # noqa: UP007  made from what was found

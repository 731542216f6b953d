"""How far a run searches: quick at a desk, deep where a change lands (`make test DEEP=1`, as `.ci/run` has it)."""

from __future__ import annotations

import os

DEEP = bool(os.environ.get("ARCHWRIGHT_DEEP"))


def examples(deep: int) -> int:
    """How many examples a law looks at: `deep` of them, or a fifth at a desk.

    >>> examples(100) in (20, 100)
    True
    """
    return deep if DEEP else max(deep // 5, 4)

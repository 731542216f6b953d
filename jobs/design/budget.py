"""What it would take to meet a budget: the least visible cuts first, each worked out whole. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from typing import Any

from jobs.design.document import Design, Piece
from jobs.design.parts import PART_KINDS, LoosePart

type TotalOf = Callable[[Design], Decimal]
MOST_STEPS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One change, and what the client would pay after it and all before."""

    words: str
    total: Decimal
    design: Design


def meet_budget(design: Design, budget: Decimal, total_of: TotalOf) -> tuple[Cut, ...]:
    """Cuts in the order of what is seen least, until the total fits or nothing is left to cut.

    The last one's total says whether it was met. A cut that saves nothing is left out.
    """
    cuts: list[Cut] = []
    now = total_of(design)
    for words, make in _cuts():
        for _ in range(MOST_STEPS):
            if now <= budget:
                return tuple(cuts)
            changed = make(design)
            if changed is None or (after := total_of(changed)) >= now:
                break
            design, now = changed, after
            if cuts and cuts[-1].words == words:
                cuts.pop()
            cuts.append(Cut(words=words, total=now, design=design))
    return tuple(cuts)


type Change = Callable[[Design], Design | None]
type Less = Callable[[Any], Any]


def _cuts() -> Iterator[tuple[str, Change]]:
    """What each kind of loose part could do with less of, and the runs, the least visible first."""
    found: defaultdict[tuple[int, str], dict[type[LoosePart], Less]] = defaultdict(dict)
    for kind in PART_KINDS.values():
        for saving in kind.savings:
            found[saving.seen, saving.words][kind] = saving.less
    changes = {said: _each(partial(_lessened, how=how)) for said, how in found.items()}
    changes[WIDER] = _each(_wider)
    for (_, words), change in sorted(changes.items()):
        yield words, change


def _lessened(piece: Piece, how: Mapping[type[LoosePart], Less]) -> Piece | None:
    """The piece with less of the kinds that this cut is about; None where nothing changes."""
    now = piece
    for kind, less in how.items():
        parts = piece.parts(kind)
        left = [part for part in map(less, parts) if part is not None]
        now = now.without(kind).having(*left) if parts else now
    return now if now != piece else None


def _each(change: Callable[[Piece], Piece | None]) -> Change:
    """The same change on every piece that it applies to; None where it applies to none."""

    def made(design: Design) -> Design | None:
        pieces = [change(piece) for piece in design.pieces]
        if not any(pieces):
            return None
        kept = tuple(new or old for new, old in zip(pieces, design.pieces, strict=True))
        return design.model_copy(update={"pieces": kept})

    return made


WIDER = (5, "runs set a little wider, still closed")
WIDEST = 0.85  # clusters still press into each other: 0.8 of the rigid pitch over this is below 1


def _wider(piece: Piece) -> Piece | None:
    runs = tuple(
        run.model_copy(update={"fullness": max(round(run.fullness - 0.05, 2), WIDEST)})
        if run.clusters is None and run.fullness > WIDEST
        else run
        for run in piece.runs
    )
    return piece.model_copy(update={"runs": runs}) if runs != piece.runs else None

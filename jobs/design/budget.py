"""What it would take to meet a budget: the least visible cuts first, each worked out whole. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from jobs.design.document import Design, Piece

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


def _cuts() -> Iterator[tuple[str, Change]]:
    yield "ribbon tails and bows left out", _each(_no_ribbon)
    yield "one strand of greenery fewer beside another", _each(_thinner_greenery)
    yield "fewer minis", _each(_fewer_minis)
    yield "fewer loose features", _each(_fewer_features)
    yield "runs set a little wider, still closed", _each(_wider)
    yield "a smaller skirt", _each(_smaller_skirt)
    yield "greenery left out", _each(_no_greenery)


def _no_ribbon(piece: Piece) -> Piece | None:
    bare = piece.model_copy(update={"tails": None, "bows": None})
    return bare if piece.tails or piece.bows else None


def _no_greenery(piece: Piece) -> Piece | None:
    bare = piece.model_copy(update={"greenery": (), "stems": None})
    return bare if piece.greenery or piece.stems else None


def _each(change: Callable[[Piece], Piece | None]) -> Change:
    """The same change on every piece that it applies to; None where it applies to none."""

    def made(design: Design) -> Design | None:
        pieces = [change(piece) for piece in design.pieces]
        if not any(pieces):
            return None
        kept = tuple(new or old for new, old in zip(pieces, design.pieces, strict=True))
        return design.model_copy(update={"pieces": kept})

    return made


def _thinner_greenery(piece: Piece) -> Piece | None:
    if not any(g.side_by_side > 1 for g in piece.greenery):
        return None
    thin = tuple(
        g.model_copy(update={"side_by_side": max(g.side_by_side - 1, 1)}) for g in piece.greenery
    )
    return piece.model_copy(update={"greenery": thin})


def _fewer_minis(piece: Piece) -> Piece | None:
    minis = piece.accents
    if minis is None or not minis.count or minis.count < 2:
        return None
    return piece.model_copy(update={"accents": minis.model_copy(update={"count": minis.count - 1})})


def _fewer_features(piece: Piece) -> Piece | None:
    loose = piece.features
    if loose is None or loose.count < 2:
        return None
    fewer = loose.model_copy(update={"count": loose.count - 1, "at": loose.at[: loose.count - 1]})
    return piece.model_copy(update={"features": fewer})


WIDEST = 0.85  # clusters still press into each other: 0.8 of the rigid pitch over this is below 1


def _wider(piece: Piece) -> Piece | None:
    runs = tuple(
        run.model_copy(update={"fullness": max(round(run.fullness - 0.05, 2), WIDEST)})
        if run.clusters is None and run.fullness > WIDEST
        else run
        for run in piece.runs
    )
    return piece.model_copy(update={"runs": runs}) if runs != piece.runs else None


def _smaller_skirt(piece: Piece) -> Piece | None:
    skirt = piece.skirt
    if skirt is None or not skirt.clusters or skirt.clusters < 3:
        return None
    return piece.model_copy(
        update={"skirt": skirt.model_copy(update={"clusters": skirt.clusters - 1})}
    )

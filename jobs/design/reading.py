"""A design document as text: read with every fault at once, written so that it reads back the same."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import combinations

from pydantic import ValidationError

from jobs.design.along import Taper
from jobs.design.clusters import pitch_m
from jobs.design.document import Design, Piece, Run
from jobs.design.faults import (
    Fault,
    bursting,
    fault,
    one_of,
    place_faults,
    shortened,
    stretch_faults,
    weight_faults,
)
from jobs.design.forward import brought_forward
from jobs.design.parts import PART_KINDS, LoosePart, Setting
from jobs.design.places import stretch_of
from jobs.design.practice import PRACTICE
from jobs.design.stretch import Stretch
from jobs.design.supports import KINDS
from jobs.design.values import Place, Recipe

LARGEST_TEXT = 1_000_000  # bytes
MOST_BALLS = 50_000
TIGHT = 5  # times the usual clusters on a length
FEW = 60  # clusters that are laid out in no time, wherever they are


class Unreadable(ValueError):
    """A document that cannot be used: all its faults, in the order of the document."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__("; ".join(f"{f.path}: {f.sentence}" for f in faults))
        self.faults = tuple(faults)


def read_design(text: str | bytes) -> Design:
    """Read a document. Raises Unreadable with every fault found."""
    if len(text) > LARGEST_TEXT:
        raise Unreadable([fault("$", f"at most {LARGEST_TEXT} bytes", str(len(text)))])
    try:
        document = json.loads(text, parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        raise Unreadable([fault("$", "JSON", f"something else ({shortened(error)})")]) from None
    return design_from(document)


def design_from(document: object) -> Design:
    """Judge a document that is already data, of this version or an earlier one.

    Raises Unreadable with every fault found.
    """
    try:
        design = Design.model_validate(brought_forward(document))
    except (ValidationError, RecursionError) as error:
        raise Unreadable(_shape_faults(error)) from None
    faults = list(_meaning_faults(design)) or list(_too_many(design))
    if faults:
        raise Unreadable(faults)
    return design


def write_design(design: Design) -> str:
    """The document as text, in the order of its types; `read_design` gives the same value back."""
    return json.dumps(design.model_dump(mode="json"), ensure_ascii=False, indent=1) + "\n"


def _no_constant(word: str) -> None:
    raise ValueError(f"{word} is no number")


def _shape_faults(error: ValidationError | RecursionError) -> list[Fault]:
    if isinstance(error, RecursionError):
        return [fault("$", "a document of ordinary depth", "endless nesting")]
    found = []
    for item in error.errors(include_url=False):
        if item["type"] == "too_short" and len(item["input"]) >= item["ctx"]["min_length"]:
            continue  # long enough as typed; its faulty parts are told on their own
        path = "$" + "".join(
            f"[{step}]" if isinstance(step, int) else f".{step}"
            for i, step in enumerate(item["loc"])
            if not _is_kind_step(item["loc"], i)
        )
        came = "nothing" if item["type"] == "missing" else repr(item["input"])
        found.append(fault(path, _expected(item["type"], item["msg"]), came))
    return found


def _is_kind_step(loc: tuple[int | str, ...], i: int) -> bool:
    """A discriminated union puts the kind into the location; a JSON path does not."""
    return i > 0 and loc[i - 1] == "support" and loc[i] in KINDS


def _expected(kind: str, message: str) -> str:
    if kind == "missing":
        return "a value"
    if kind == "extra_forbidden":
        return "no such field"
    for needless in (
        "Input should be ",
        "Input should ",
        "Tuple should have ",
        "Value should have ",
    ):
        message = message.removeprefix(needless)
    plain = message.removeprefix("Value error, ").partition(" after validation")[0]
    return plain[:1].lower() + plain[1:]


def _meaning_faults(design: Design) -> Iterator[Fault]:
    """What the types alone cannot say."""
    yield from _twice([c.name for c in design.palette], "$.palette")
    yield from _twice([r.name for r in design.recipes], "$.recipes")
    if not any(c.weight for c in design.palette):
        yield fault("$.palette[0].weight", "one colour with a share above zero", "none")
    for i, recipe in enumerate(design.recipes):
        if recipe.ball_count > 12:
            yield fault(f"$.recipes[{i}]", "a cluster of at most 12 balls", recipe.ball_count)
        for j, balls in enumerate(recipe.balls):
            yield from bursting(f"$.recipes[{i}].balls[{j}]", balls.size, balls.blown_m)
    for i, piece in enumerate(design.pieces):
        yield from _piece_faults(design, f"$.pieces[{i}]", piece)


def _twice(names: list[str], path: str) -> Iterator[Fault]:
    seen: Counter[str] = Counter()
    for i, name in enumerate(names):
        seen[name] += 1
        if seen[name] == 2:
            yield fault(f"{path}[{i}].name", "each name once", f"{name} again")


def _piece_faults(design: Design, path: str, piece: Piece) -> Iterator[Fault]:
    recipes = {r.name for r in design.recipes}
    stretches: list[Stretch | None] = []
    for i, run in enumerate(piece.runs):
        at = f"{path}.runs[{i}]"
        stretches.append((yield from stretch_faults(piece.support, run.start, run.end, at)))
        yield from _run_faults(piece, run, stretches[-1], at, recipes)
        yield from weight_faults(design, f"{at}.weights", run.weights)
    yield from _overlaps(piece, path, stretches)
    for part, at in parts_with_paths(piece, path):
        yield from part.faults(_setting(design, piece), at)


def parts_with_paths(piece: Piece, path: str) -> Iterator[tuple[LoosePart, str]]:
    """Loose parts in the order of the document, each with where it is."""
    for key, kind in PART_KINDS.items():
        for i, part in enumerate(piece.parts(kind)):
            yield part, f"{path}.{key}[{i}]" if kind.is_many() else f"{path}.{key}"


def _setting(design: Design, piece: Piece) -> Setting:
    index = next(i for i, each in enumerate(design.pieces) if each is piece)
    return Setting(design=design, piece=piece, index=index, number=0, practice=PRACTICE)


def _run_faults(
    piece: Piece, run: Run, stretch: Stretch | None, at: str, recipes: set[str]
) -> Iterator[Fault]:
    for j, name in enumerate(run.pattern):
        if name not in recipes:
            yield fault(f"{at}.pattern[{j}]", one_of(recipes), name)
    for j, feature in enumerate(run.features):
        here = f"{at}.features[{j}]"
        if feature.recipe not in recipes:
            yield fault(f"{here}.recipe", one_of(recipes), feature.recipe)
        if (feature.every is None) == (not feature.at):
            yield fault(here, "either every so many or places", "both or neither")
        for k, place in enumerate(feature.at):
            yield from _on_the_run(piece, place, stretch, f"{here}.at[{k}]")


def _on_the_run(piece: Piece, place: Place, stretch: Stretch | None, at: str) -> Iterator[Fault]:
    s = yield from place_faults(piece.support, place, at)
    if s is None or stretch is None:
        return
    around = piece.support.length_m if piece.support.closed else 0.0
    if not any(
        stretch.start_s_m - 1e-6 <= s + turn <= stretch.end_s_m + 1e-6 for turn in (0.0, around)
    ):
        yield fault(
            at,
            f"a place on the run, {stretch.start_s_m:.2f} m to {stretch.end_s_m:.2f} m along",
            f"{s:.2f} m along",
        )


def _overlaps(piece: Piece, path: str, stretches: list[Stretch | None]) -> Iterator[Fault]:
    around = piece.support.length_m if piece.support.closed else None
    for (i, one), (j, other) in combinations(enumerate(stretches), 2):
        shared = one.overlap_m(other, around) if one and other else 0.0
        if shared > 0.01:
            yield fault(
                f"{path}.runs[{j}].start", f"no overlap with run {i + 1}", f"{shared:.2f} m of it"
            )


def _too_many(design: Design) -> Iterator[Fault]:
    """Refuse a design that would take minutes to lay out, before laying it out."""
    recipes = {r.name: r for r in design.recipes}
    crowds = list(_crowds(design, recipes))
    for path, many, most in crowds:
        if many > most:
            yield fault(
                path, f"at most {most:.0f}, more would lie inside one another", f"{many:.0f}"
            )
    balls = sum(_balls(design, piece, recipes) for piece in design.pieces)
    if balls > MOST_BALLS:
        yield fault("$.pieces", f"at most {MOST_BALLS} balls in all", f"about {balls:.0f}")


def _crowds(design: Design, recipes: Mapping[str, Recipe]) -> Iterator[tuple[str, float, float]]:
    """Where a number is typed: its path, the number, and what there is room for at the very most."""
    for i, piece in enumerate(design.pieces):
        at = f"$.pieces[{i}]"
        for n, run in enumerate(piece.runs):
            if run.clusters:
                usual = _run_balls(piece, run, recipes) / _largest(run, recipes)
                yield f"{at}.runs[{n}].clusters", run.clusters, max(usual * TIGHT, FEW)
        for part, where in parts_with_paths(piece, at):
            for name, many, most in part.crowds(_setting(design, piece)):
                yield f"{where}.{name}", many, most


def _balls(design: Design, piece: Piece, recipes: Mapping[str, Recipe]) -> float:
    """About how many balls a piece takes, never too few by much."""
    runs = (
        run.clusters * _largest(run, recipes) if run.clusters else _run_balls(piece, run, recipes)
        for run in piece.runs
    )  # fmt: skip
    setting = _setting(design, piece)
    return float(sum(runs)) + sum(part.about_balls(setting) for part in piece.loose_parts())


def _run_balls(piece: Piece, run: Run, recipes: Mapping[str, Recipe]) -> float:
    """About how many balls a run takes by its length, never too few by much."""
    pattern = [recipes[name] for name in (*run.pattern, *(f.recipe for f in run.features))]
    shortest = min(pitch_m(r, PRACTICE.squeeze) for r in pattern) / run.fullness
    even_m = Taper(run.taper, run.thick).even_m(
        stretch_of(piece.support, run.start, run.end).length_m
    )
    return even_m / shortest * _largest(run, recipes)


def _largest(run: Run, recipes: Mapping[str, Recipe]) -> int:
    """Balls of its largest cluster."""
    return max(
        recipes[name].ball_count for name in (*run.pattern, *(f.recipe for f in run.features))
    )

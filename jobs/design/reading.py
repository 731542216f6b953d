"""A design document as text: read with every fault at once, written so that it reads back the same."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Generator, Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations

from pydantic import ValidationError

from jobs.design.along import Taper
from jobs.design.clusters import pitch_m
from jobs.design.compose import heap_clusters
from jobs.design.document import Design, Piece, Place, Recipe, Run, nominal_m
from jobs.design.forward import brought_forward
from jobs.design.places import s_of, stretch_of
from jobs.design.practice import PRACTICE
from jobs.design.stretch import Stretch
from jobs.design.supports import KINDS
from jobs.design.supports.base import NoSuchPlace

LARGEST_TEXT = 1_000_000  # bytes
MOST_BALLS = 50_000
TIGHT = 5  # times the usual clusters on a length
FEW = 60  # clusters that are laid out in no time, wherever they are
A_METRE = 600  # balls; a full garland of 5 in balls has a third of that


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing wrong in a document, where, what was expected and what came."""

    path: str  # JSON path: $.pieces[0].runs[1].end
    expected: str
    got: str

    @property
    def sentence(self) -> str:
        return f"expected {self.expected}, got {self.got}."


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
        raise Unreadable([fault("$", "JSON", f"something else ({_short(error)})")]) from None
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


def fault(path: str, expected: str, got: object) -> Fault:
    return Fault(path=path, expected=expected, got=_short(got))


def _no_constant(word: str) -> None:
    raise ValueError(f"{word} is no number")


def _short(value: object) -> str:
    text = str(value)
    return text if len(text) <= 80 else text[:77] + "…"


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
            yield from _bursts(f"$.recipes[{i}].balls[{j}]", balls.size, balls.blown_m)
    for i, piece in enumerate(design.pieces):
        yield from _piece_faults(design, f"$.pieces[{i}]", piece)


def _twice(names: list[str], path: str) -> Iterator[Fault]:
    seen: Counter[str] = Counter()
    for i, name in enumerate(names):
        seen[name] += 1
        if seen[name] == 2:
            yield fault(f"{path}[{i}].name", "each name once", f"{name} again")


def _bursts(path: str, size: str, blown_m: float) -> Iterator[Fault]:
    """A balloon blown beyond its nominal diameter bursts (common practice, no source)."""
    most = nominal_m(size)
    if blown_m > most + 0.0005:
        yield fault(
            f"{path}.blown_m",
            f"at most {most:.3f} m, or a {size} balloon bursts",
            f"{blown_m:.3f} m",
        )
    elif blown_m < 0.3 * most:
        yield fault(
            f"{path}.blown_m",
            f"at least {0.3 * most:.3f} m for a {size} balloon",
            f"{blown_m:.3f} m",
        )


def _piece_faults(design: Design, path: str, piece: Piece) -> Iterator[Fault]:
    recipes = {r.name for r in design.recipes}
    stretches: list[Stretch | None] = []
    for i, run in enumerate(piece.runs):
        at = f"{path}.runs[{i}]"
        stretches.append((yield from _stretch(piece, run.start, run.end, at)))
        yield from _run_faults(piece, run, stretches[-1], at, recipes)
        yield from _weights(design, f"{at}.weights", run.weights)
    yield from _overlaps(piece, path, stretches)
    for i, wrap in enumerate(piece.wraps):
        yield from _stretch(piece, wrap.start, wrap.end, f"{path}.wraps[{i}]")
    for i, greenery in enumerate(piece.greenery):
        yield from _stretch(piece, greenery.start, greenery.end, f"{path}.greenery[{i}]")
        if greenery.overlap_m >= greenery.strand_m:
            yield fault(
                f"{path}.greenery[{i}].overlap_m",
                f"less than the strand of {greenery.strand_m:.2f} m",
                f"{greenery.overlap_m:.2f} m",
            )
    if piece.skirt and piece.skirt.recipe not in recipes:
        yield fault(f"{path}.skirt.recipe", _one_of(recipes), piece.skirt.recipe)
    yield from _part_faults(design, path, piece)


def _run_faults(
    piece: Piece, run: Run, stretch: Stretch | None, at: str, recipes: set[str]
) -> Iterator[Fault]:
    for j, name in enumerate(run.pattern):
        if name not in recipes:
            yield fault(f"{at}.pattern[{j}]", _one_of(recipes), name)
    for j, feature in enumerate(run.features):
        here = f"{at}.features[{j}]"
        if feature.recipe not in recipes:
            yield fault(f"{here}.recipe", _one_of(recipes), feature.recipe)
        if (feature.every is None) == (not feature.at):
            yield fault(here, "either every so many or places", "both or neither")
        for k, place in enumerate(feature.at):
            yield from _on_the_run(piece, place, stretch, f"{here}.at[{k}]")


def _on_the_run(piece: Piece, place: Place, stretch: Stretch | None, at: str) -> Iterator[Fault]:
    s = yield from _length(piece, place, at)
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


def _part_faults(design: Design, path: str, piece: Piece) -> Iterator[Fault]:
    """Parts that hang on the piece as a whole."""
    loose = (
        ("accents", piece.accents), ("features", piece.features), ("topper", piece.topper),
        ("floaters", piece.floaters),
    )  # fmt: skip
    for name, part in loose:
        if part:
            yield from _bursts(f"{path}.{name}", part.size, part.blown_m)
            yield from _weights(design, f"{path}.{name}.weights", part.weights)
    for i, place in enumerate(piece.features.at if piece.features else ()):
        yield from _length(piece, place, f"{path}.features.at[{i}]")
    for name, many in (("accents", piece.accents), ("stems", piece.stems)):
        if many and (many.count is None) == (many.per_m is None):
            yield fault(
                f"{path}.{name}.count", "either a count or so many a metre", "both or neither"
            )
    if skirt := piece.skirt:
        yield from _weights(design, f"{path}.skirt.weights", skirt.weights)
        heap = skirt.depth_m is not None and skirt.height_m is not None
        if (skirt.clusters is not None) == heap:
            yield fault(
                f"{path}.skirt.clusters",
                "either a count or a depth and a height",
                "both or neither",
            )
    if piece.topper and not piece.support.topped:
        yield fault(
            f"{path}.topper", "a topper on a column only", f"one on a {piece.support.label}"
        )


def _stretch(
    piece: Piece, start: Place, end: Place, at: str
) -> Generator[Fault, None, Stretch | None]:
    """Faults of two places; the generator's value is the stretch, None where there is none."""
    first = yield from _length(piece, start, f"{at}.start")
    last = yield from _length(piece, end, f"{at}.end")
    if first is None or last is None:
        return None
    try:
        return stretch_of(piece.support, start, end)
    except NoSuchPlace as error:
        yield from _told(f"{at}.end", error)
        return None


def _length(piece: Piece, place: Place, at: str) -> Generator[Fault, None, float | None]:
    """Faults of one place; the generator's value is its length along the path."""
    ways = (place.length_m is not None, place.share is not None, place.height_m is not None)
    if sum(ways) != 1 or (place.height_m is None) != (place.side is None):
        yield fault(at, "one of length_m, share, or height_m with side", "none or several")
        return None
    try:
        return s_of(piece.support, place)
    except NoSuchPlace as error:
        yield from _told(at, error)
        return None


def _told(path: str, error: NoSuchPlace) -> Iterator[Fault]:
    expected, _, got = str(error).removeprefix("expected ").partition(", got ")
    if ": expected " in expected:
        expected = expected.partition(": expected ")[2]
    yield fault(path, expected, got)


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
    balls = sum(_balls(piece, recipes) for piece in design.pieces)
    if balls > MOST_BALLS:
        yield fault("$.pieces", f"at most {MOST_BALLS} balls in all", f"about {balls:.0f}")


def _crowds(design: Design, recipes: Mapping[str, Recipe]) -> Iterator[tuple[str, float, float]]:
    """Where a number is typed: its path, the number, and what there is room for at the very most."""
    for i, piece in enumerate(design.pieces):
        at, path_m = f"$.pieces[{i}]", max(piece.support.length_m, 1.0)
        for n, run in enumerate(piece.runs):
            if run.clusters:
                usual = _run_balls(piece, run, recipes) / _largest(run, recipes)
                yield f"{at}.runs[{n}].clusters", run.clusters, max(usual * TIGHT, FEW)
        if (skirt := piece.skirt) and skirt.clusters:
            each = recipes[skirt.recipe].ball_count
            yield f"{at}.skirt.clusters", skirt.clusters, max(skirt.width_m, 1.0) * A_METRE / each
        if (accents := piece.accents) and accents.count:
            yield f"{at}.accents.count", accents.count, path_m * A_METRE / 8
        if features := piece.features:
            yield f"{at}.features.count", features.count, path_m * A_METRE / 8
        if floaters := piece.floaters:
            yield f"{at}.floaters.count", floaters.count, max(floaters.spread_m, 1.0) * A_METRE / 8


def _balls(piece: Piece, recipes: Mapping[str, Recipe]) -> float:
    """About how many balls a piece takes, never too few by much."""
    runs = (
        run.clusters * _largest(run, recipes) if run.clusters else _run_balls(piece, run, recipes)
        for run in piece.runs
    )  # fmt: skip
    balls = float(sum(runs))
    if skirt := piece.skirt:
        recipe = recipes[skirt.recipe]
        balls += (skirt.clusters or heap_clusters(skirt, recipe, PRACTICE)) * recipe.ball_count
    if accents := piece.accents:
        balls += 8 * (accents.count or (accents.per_m or 0) * 2 * piece.support.length_m)
    return balls


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


def _weights(design: Design, path: str, weights: dict[str, int]) -> Iterator[Fault]:
    names = {c.name for c in design.palette}
    for name in weights:
        if name not in names:
            yield fault(f"{path}.{name}", _one_of(names), name)
    if weights and not any(weights.values()):
        yield fault(path, "one share above zero", "none")


def _one_of(names: set[str]) -> str:
    return "one of " + ", ".join(sorted(names))

"""What a document's types alone cannot say: faults by their JSON path, and the checks that many parts share."""

from __future__ import annotations

from collections.abc import Generator, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from jobs.design.places import s_of, stretch_of
from jobs.design.stretch import Stretch
from jobs.design.supports.base import Frozen, NoSuchPlace
from jobs.design.values import Place, nominal_m

if TYPE_CHECKING:
    from jobs.design.document import Design
    from jobs.design.supports import Support


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing wrong in a document, where, what was expected and what came."""

    path: str  # JSON path: $.pieces[0].runs[1].end
    expected: str
    got: str

    @property
    def sentence(self) -> str:
        return f"expected {self.expected}, got {self.got}."


def fault(path: str, expected: str, got: object) -> Fault:
    return Fault(path=path, expected=expected, got=shortened(got))


def shortened(value: object) -> str:
    text = str(value)
    return text if len(text) <= 80 else text[:77] + "…"


def part_faults(part: Frozen, design: Design, support: Support, path: str) -> Iterator[Fault]:
    """Of the fields that mean the same on every part: start and end, size and blown_m, recipe, weights, at, and
    count beside per_m.
    """
    said = dict(part)
    if "start" in said and "end" in said:
        yield from stretch_faults(support, said["start"], said["end"], path)
    if "recipe" in said and said["recipe"] not in (recipes := {r.name for r in design.recipes}):
        yield fault(f"{path}.recipe", one_of(recipes), said["recipe"])
    if "size" in said and "blown_m" in said:
        yield from bursting(path, said["size"], said["blown_m"])
    if "weights" in said:
        yield from weight_faults(design, f"{path}.weights", said["weights"])
    for i, place in enumerate(said.get("at", ())):
        yield from place_faults(support, place, f"{path}.at[{i}]")
    if "per_m" in said and (said.get("count") is None) == (said["per_m"] is None):
        yield fault(f"{path}.count", "either a count or so many a metre", "both or neither")


def bursting(path: str, size: str, blown_m: float) -> Iterator[Fault]:
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


def weight_faults(design: Design, path: str, weights: dict[str, int]) -> Iterator[Fault]:
    """Shares are of colours of the palette, and one of them is above zero."""
    names = {c.name for c in design.palette}
    for name in weights:
        if name not in names:
            yield fault(f"{path}.{name}", one_of(names), name)
    if weights and not any(weights.values()):
        yield fault(path, "one share above zero", "none")


def one_of(names: set[str]) -> str:
    return "one of " + ", ".join(sorted(names))


def stretch_faults(
    support: Support, start: Place, end: Place, path: str
) -> Generator[Fault, None, Stretch | None]:
    """Faults of two places; the generator's value is the stretch, None where there is none."""
    first = yield from place_faults(support, start, f"{path}.start")
    last = yield from place_faults(support, end, f"{path}.end")
    if first is None or last is None:
        return None
    try:
        return stretch_of(support, start, end)
    except NoSuchPlace as error:
        yield from _told(f"{path}.end", error)
        return None


def place_faults(support: Support, place: Place, path: str) -> Generator[Fault, None, float | None]:
    """Faults of one place; the generator's value is its length along the path."""
    ways = (place.length_m is not None, place.share is not None, place.height_m is not None)
    if sum(ways) != 1 or (place.height_m is None) != (place.side is None):
        yield fault(path, "one of length_m, share, or height_m with side", "none or several")
        return None
    try:
        return s_of(support, place)
    except NoSuchPlace as error:
        yield from _told(path, error)
        return None


def _told(path: str, error: NoSuchPlace) -> Iterator[Fault]:
    expected, _, got = str(error).removeprefix("expected ").partition(", got ")
    if ": expected " in expected:
        expected = expected.partition(": expected ")[2]
    yield fault(path, expected, got)

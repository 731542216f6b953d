"""Three worked pieces for the first start, priced by the quote itself from the price book that would be made."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from jobs.design.compose import compose
from jobs.design.document import Design, Piece, Room
from jobs.design.labour import tally_labour
from jobs.design.needs import count_needs
from jobs.design.practice import PRACTICE
from jobs.design.starters import begin_piece, neat_in, sketch
from jobs.design.values import Place
from pricing.book.starter_sets import starter_book, starter_for
from pricing.core.book import Book
from pricing.core.money import Money, add_up, minor_places, write_money
from pricing.core.need import Labour, Need
from pricing.core.quote import Quote, Terms, make_quote
from studio import first_prices
from studio.first_prices import Figures
from studio.measure import FOOT_M, Units

CEILING_M = 3.0
GARLAND_M = {"imperial": 11 * FOOT_M, "metric": 3.4}
MOST_HOUR = Decimal(10_000_000)  # in the minor unit: beyond it nobody means it


@dataclass(frozen=True, slots=True, kw_only=True)
class Example:
    """A piece as counted: what it is called, what it holds, and what goes into its price."""

    name: str
    holds: str
    needs: Sequence[Need]
    labour: Sequence[Labour]


def _garland(units: Units) -> tuple[str, Design]:
    """An arch frame, balloons along 11 ft (3.4 m) of it."""
    design = sketch("ellipse-arch", Room(ceiling_m=CEILING_M), units)
    piece, length_m = design.pieces[0], GARLAND_M[units]
    run = piece.runs[0].model_copy(update={"end": Place(length_m=length_m)})
    pieces = (piece.model_copy(update={"runs": (run,)}),)
    long = "11 ft" if units == "imperial" else "3.4 m"
    return f"Garland, {long} of it on an arch", design.model_copy(update={"pieces": pieces})


def _ring(units: Units) -> tuple[str, Design]:
    return "Ringed backdrop, balloons and greenery", sketch(
        "ring", Room(ceiling_m=CEILING_M), units
    )


def _columns(units: Units) -> tuple[str, Design]:
    design = sketch("column", Room(ceiling_m=CEILING_M), units)
    second: Piece = begin_piece("column", CEILING_M, neat_in(units))
    pieces = (*design.pieces, second.model_copy(update={"at_m": 2.0}))
    return "A pair of columns", design.model_copy(update={"pieces": pieces})


MAKERS = {"garland": _garland, "ring": _ring, "columns": _columns}


@cache
def example_pieces(units: Units) -> dict[str, Example]:
    """The three by key, counted once."""
    found = {}
    for key, make in MAKERS.items():
        name, design = make(units)
        composition = compose(design, PRACTICE)
        balls = sum(len(cluster.balls) for cluster in composition.clusters)
        found[key] = Example(
            name=name, holds=f"{balls} balloons",
            needs=count_needs(design, composition, PRACTICE),
            labour=tally_labour(design, composition, PRACTICE),
        )  # fmt: skip
    return found


def book_of(figures: Figures, hour: Decimal | None = None) -> Book:
    return starter_book(
        figures.currency, hour=figures.hour if hour is None else hour, least=figures.least,
        tax_name=figures.tax_name, tax_percent=figures.tax_percent,
    )  # fmt: skip


def quoted_example(example: Example, book: Book) -> Quote:
    """Without a way to drive: that differs from job to job."""
    return make_quote(example.needs, example.labour, book, Terms(deposit_percent=Decimal(0)))


def answer_pieces(
    sender: object, figures: Figures, **_: object
) -> tuple[first_prices.FirstPiece, ...] | None:
    """The three pieces with their prices; None where there are no example prices."""
    if starter_for(figures.currency) is None:
        return None
    book = book_of(figures)

    def written(money: Money) -> str:
        return write_money(money, figures.language)

    def shown(key: str, example: Example) -> first_prices.FirstPiece:
        quote = quoted_example(example, book)
        spent = [line.cost for line in quote.lines if line.kind in ("materials", "hire")]
        minutes = sum((work.minutes for work in example.labour), Decimal(0))
        return first_prices.FirstPiece(
            key=key, name=example.name, holds=example.holds, hours=f"{minutes / 60:.1f}",
            materials=written(add_up(spent, book.currency)), net=written(quote.net),
            total=written(quote.totals.total),
            is_least=any(step == "to the minimum charge" for step, _ in quote.built_up),
        )  # fmt: skip

    return tuple(shown(key, example) for key, example in example_pieces(figures.units).items())


def answer_hour(
    sender: object, figures: Figures, piece: str, asked: Decimal, **_: object
) -> Decimal | str | None:
    """The least hour, in whole minor units, at which a piece comes to what was asked or more, tax included.

    A sentence where even an unpaid hour comes to more. None where there are no example prices.
    """
    if starter_for(figures.currency) is None:
        return None
    example = example_pieces(figures.units)[piece]
    places = minor_places(figures.currency)

    def total(minor: int) -> Decimal:
        book = book_of(figures, Decimal(minor).scaleb(-places))
        return quoted_example(example, book).totals.total.amount

    if asked < total(0) or asked > total(int(MOST_HOUR)):
        least = write_money(Money(total(0), figures.currency), figures.language)
        return f"expected {least} or more, which it comes to with no pay at all, got {asked}."
    low, high = 0, int(MOST_HOUR)
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if total(middle) >= asked else (middle + 1, high)
    return Decimal(low).scaleb(-places)

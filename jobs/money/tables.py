"""A table as a value: a page shows it, bars draw one of its columns, CSV takes it away."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from jobs.money.bars import Drawing, lay_bars
from pricing.core.money import Money
from pricing.stores.csv_trial import neutral_cell

MOST_BARS = 24  # more are no picture any more


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedCell:
    """Something that reads otherwise on a page than in a sheet, or leads somewhere."""

    shown: str
    written: str
    url: str = ""


type Cell = str | int | Decimal | Money | NamedCell | date | None  # None: not known
type Cells = Sequence[Cell]


@dataclass(frozen=True, slots=True, kw_only=True)
class TableColumn:
    label: str
    kind: Literal["text", "count", "money", "percent"] = "text"
    unknown: str = "–"  # how a page says None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownCell:
    """One cell as a page takes it."""

    column: TableColumn
    value: Cell


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """`drawn` is the column that bars show. ValueError for a row that does not fit its columns."""

    name: str
    title: str
    columns: tuple[TableColumn, ...]
    rows: tuple[Cells, ...]
    foot: Cells = ()
    drawn: int | None = None
    words: str = ""  # a sentence above it
    empty: str = "Nothing in this time."

    def __post_init__(self) -> None:
        for row in (*self.rows, self.foot or self.columns):
            if len(row) != len(self.columns):
                raise ValueError(
                    f"{self.title}: expected {len(self.columns)} cells, got {len(row)}."
                )

    @property
    def is_wide(self) -> bool:
        """Wider than a small screen holds beside anything."""
        return len(self.columns) > 6

    @property
    def stacks(self) -> bool:
        """On a phone each row becomes a list of its own; three columns fit as they are."""
        return len(self.columns) > 3

    @property
    def lines(self) -> Iterator[list[ShownCell]]:
        return (self._shown(row) for row in self.rows)

    @property
    def sums(self) -> list[ShownCell]:
        return self._shown(self.foot)

    def _shown(self, row: Cells) -> list[ShownCell]:
        return [
            ShownCell(column=column, value=cell)
            for column, cell in zip(self.columns, row, strict=False)
        ]

    @property
    def bars(self) -> Drawing | None:
        """The drawn column as bars; None where there is nothing to see."""
        if self.drawn is None or not 1 < len(self.rows) <= MOST_BARS:
            return None
        said = [(_label(row[0]), _number(row[self.drawn])) for row in self.rows]
        return lay_bars(said) if any(value for _, value in said) else None

    def csv(self) -> str:
        return write_csv([column.label for column in self.columns], self.rows)


def _label(cell: Cell) -> str:
    return cell.shown if isinstance(cell, NamedCell) else str(cell)


def _number(cell: Cell) -> Decimal:
    if isinstance(cell, Money):
        return cell.amount
    return Decimal(cell) if isinstance(cell, int | Decimal) else Decimal(0)


def write_csv(head: Sequence[str], rows: Iterable[Cells]) -> str:
    """RFC 4180 with a header row. Words that a spreadsheet would run as a formula get an apostrophe before them
    (OWASP, formula injection); figures are the house's own and stay figures, the minus of what is owed too.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(head)
    writer.writerows([_written(cell) for cell in row] for row in rows)
    return out.getvalue()


def _written(cell: Cell) -> str:
    match cell:
        case None:
            return ""
        case NamedCell():
            return neutral_cell(cell.written)
        case str():
            return neutral_cell(cell)
        case Money():
            return str(cell.amount)
        case _:
            return str(cell)

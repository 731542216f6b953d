"""What a kind of sheet must say of itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from studio.door import SeatAt


class SheetFault(ValueError):
    """One cell that cannot be used: its column, what was expected, what came."""

    def __init__(self, column: str, sentence: str) -> None:
        super().__init__(sentence)
        self.column = column


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One kind of table: how a row is read, what stands now, how it is written."""

    columns: tuple[str, ...]
    read: Callable[[Mapping[str, str], Any], dict[str, Any]]
    known: Callable[[SeatAt], Any]  # what reading needs to know of the studio
    key: Callable[[dict[str, Any]], Any]
    standing: Callable[[SeatAt], dict[Any, dict[str, Any]]]  # by key, the same facts
    write: Callable[[dict[str, Any]], list[str]]
    apply: Callable[[SeatAt, list[dict[str, Any]]], None]

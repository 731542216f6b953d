"""What a kind of sheet must say of itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from studio.access import Access


class CsvFault(ValueError):
    """One cell that cannot be used: its column, what was expected, what came."""

    def __init__(self, column: str, sentence: str) -> None:
        super().__init__(sentence)
        self.column = column


@dataclass(frozen=True, slots=True, kw_only=True)
class CsvKind:
    """One kind of table: how a row is read, what stands now, how it is written."""

    columns: tuple[str, ...]
    read: Callable[[Mapping[str, str], Any], dict[str, Any]]
    known: Callable[[Access], Any]  # what reading needs to know of the studio
    key: Callable[[dict[str, Any]], Any]
    standing: Callable[[Access], dict[Any, dict[str, Any]]]  # by key, the same facts
    write: Callable[[dict[str, Any]], list[str]]
    apply: Callable[[Access, list[dict[str, Any]]], None]

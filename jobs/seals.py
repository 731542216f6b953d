"""A seal over one line of a log and the line before it: SHA-256 of canonical JSON (RFC 8785 in spirit). Pure."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any


def seal_line(
    *, job: Any, who: Any, what: str, data: dict[str, Any], at: datetime, before: str
) -> str:
    """The digest of a line. `job` and `who` are rows, or None for nobody."""
    facts = {
        "job": job.pk,
        "who": who.pk if who else None,
        "what": what,
        "data": data,
        "at": at.astimezone(UTC).isoformat(timespec="microseconds"),
        "before": before,
    }
    text = json.dumps(facts, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def digest_of(content: bytes | str) -> str:
    return hashlib.sha256(content.encode() if isinstance(content, str) else content).hexdigest()


def seal_row(row: Any, columns: Iterable[str] = ()) -> dict[str, Any]:
    """What a line says of a whole row: the names of its columns, and one digest of all that stands in them.

    `columns` are those that a line named when it was written, where it was written before there were others; all
    of the row's otherwise. A column that is gone counts as empty.
    """
    fields = {f.attname: f for f in row._meta.concrete_fields}
    names = list(columns) or sorted(fields)
    facts = [
        [
            name,
            canonical_value(fields[name].to_python(getattr(row, name))) if name in fields else None,
        ]
        for name in names
    ]
    text = json.dumps(facts, separators=(",", ":"), ensure_ascii=False)
    return {"columns": names, "sha256": digest_of(text)}


def canonical_value(value: Any) -> Any:
    """A value as every database gives it back: no spare zeros, one time zone, bytes as their digest."""
    match value:
        case bool() | str() | None:
            return value
        case Decimal():
            return f"{value.normalize() + 0:f}"
        case int() | float():
            return int(value) if value == int(value) else value
        case datetime():
            return value.astimezone(UTC).isoformat(timespec="microseconds")
        case date():
            return value.isoformat()
        case bytes() | bytearray() | memoryview():
            return digest_of(bytes(value))
        case dict():
            return {str(key): canonical_value(value[key]) for key in sorted(value, key=str)}
        case list() | tuple():
            return [canonical_value(each) for each in value]
        case _:
            raise TypeError(f"plain: expected a value of a column, got {value!r}.")


def document_digest(document: Any) -> str:
    """The digest of stored data, whatever a database does to the order of its keys or to its zeros."""
    return digest_of(
        json.dumps(canonical_value(document), separators=(",", ":"), ensure_ascii=False)
    )

"""Price books as CSV: out, and in again after a trial that shows what would change.

RFC 4180 with a header row, UTF-8. A cell that a spreadsheet would run as a formula goes out with an apostrophe
before it, and comes in without: the round trip is exact (OWASP, formula injection).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from django.db import transaction
from django.utils import timezone

from pricing.forms_stock import write_contents
from pricing.models import Trial
from pricing.sheet import Sheet, SheetFault
from pricing.sheet_kinds import SHEETS

if TYPE_CHECKING:
    from studio.door import SeatAt

MOST_ROWS = 60_000
CHUNK = 4_000  # rows looked at in one step of the trial
TOLD = 400  # changes and faults that are listed; all are counted
RISKY = ("=", "+", "-", "@", "\t", "\r", "'")


def neutral(text: str) -> str:
    return f"'{text}" if text.startswith(RISKY) else text


def plain_cell(text: str) -> str:
    return text[1:] if text.startswith("'") else text


def write_sheet(seat: SeatAt, sheet: Sheet) -> Iterator[str]:
    """CSV, line by line."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    for row in [
        list(sheet.columns),
        *(sheet.write(facts) for facts in sheet.standing(seat).values()),
    ]:
        writer.writerow([neutral(cell) for cell in row])
        yield out.getvalue()
        out.seek(0)
        out.truncate()


def open_trial(seat: SeatAt, kind: str, name: str, content: bytes) -> Trial:
    """Take a file in for a trial. Raises SheetFault when it is no table of this kind."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise SheetFault("", "File: expected UTF-8 text, got something else.") from None
    rows = rows_of(text)
    header = next(rows, [])
    missing = [column for column in SHEETS[kind].columns if column not in header]
    if missing:
        raise SheetFault(
            "",
            f"First row: expected the columns {', '.join(SHEETS[kind].columns)}; {', '.join(missing)} did not come.",
        )
    count = sum(1 for _ in rows)
    if not 0 < count <= MOST_ROWS:
        raise SheetFault("", f"Rows: expected 1 to {MOST_ROWS}, got {count}.")
    return seat.add(Trial, kind=kind, name=name[:120], content=text, row_count=count)


def rows_of(text: str) -> Iterator[list[str]]:
    """Rows that hold anything, cells as they were before they were made neutral."""
    for row in csv.reader(io.StringIO(text, newline="")):
        if any(cell.strip() for cell in row):
            yield [plain_cell(cell.strip()) for cell in row]


def facts_of(
    sheet: Sheet, text: str, known: Any, start: int, count: int
) -> Iterator[tuple[int, dict[str, Any] | SheetFault]]:
    """Row number (the header is 1) and its facts or its fault."""
    rows = rows_of(text)
    header = next(rows)
    for number, row in enumerate(rows):
        if number >= start + count:
            return
        if number >= start:
            cells = dict(zip(header, row + [""] * len(header), strict=False))
            try:
                yield number + 2, sheet.read(cells, known)
            except SheetFault as fault:
                yield number + 2, fault


def step(seat: SeatAt, trial: Trial) -> None:
    """Look at the next rows of a trial: what each would change, or why it cannot be used."""
    sheet = SHEETS[trial.kind]
    standing = sheet.standing(seat)
    seen = set(trial.seen)
    for number, facts in facts_of(sheet, trial.content, sheet.known(seat), trial.checked, CHUNK):
        trial.checked += 1
        if isinstance(facts, SheetFault):
            note_fault(trial, number, facts)
            continue
        key = sheet.key(facts)
        if repr(key) in seen:
            note_fault(
                trial,
                number,
                SheetFault(sheet.columns[0], f"expected each row once, got {key} again."),
            )
            continue
        seen.add(repr(key))
        note_change(trial, number, key, standing.get(key), facts)
    trial.seen = list(seen)
    trial.save()


def note_fault(trial: Trial, number: int, fault: SheetFault) -> None:
    trial.fault_count += 1
    if len(trial.faults) < TOLD:
        trial.faults.append([number, fault.column, str(fault)])


def note_change(
    trial: Trial, number: int, key: Any, now: dict[str, Any] | None, facts: dict[str, Any]
) -> None:
    differs = [
        f"{name} {said(now[name])} → {said(v)}"
        for name, v in facts.items()
        if now and now[name] != v
    ]
    what = "new" if now is None else "; ".join(differs)
    trial.new_count += now is None
    trial.changed_count += bool(now and differs)
    if what and len(trial.changes) < TOLD:
        named = " / ".join(said(part) for part in key) if isinstance(key, tuple) else said(key)
        trial.changes.append([number, named, what])


def said(value: Any) -> str:
    return (
        write_contents(value, "; ")
        if isinstance(value, dict)
        else "nothing"
        if value in (None, "")
        else str(value)
    )


@transaction.atomic
def bring_in(seat: SeatAt, trial: Trial) -> None:
    """All rows or none. Raises SheetFault when the trial found faults, or something changed since."""
    if trial.fault_count or trial.checked < trial.row_count or trial.done_at:
        raise SheetFault(
            "", "This sheet cannot be brought in: it has faults, or was brought in before."
        )
    sheet = SHEETS[trial.kind]
    standing, changed = sheet.standing(seat), []
    for number, facts in facts_of(sheet, trial.content, sheet.known(seat), 0, MOST_ROWS):
        if isinstance(facts, SheetFault):
            raise SheetFault(
                facts.column,
                f"Row {number}: {facts} Something changed since the trial; try it again.",
            )
        if standing.get(sheet.key(facts)) != facts:
            changed.append(facts)
    sheet.apply(seat, changed)
    trial.done_at, trial.content, trial.seen = timezone.now(), "", []
    trial.save()

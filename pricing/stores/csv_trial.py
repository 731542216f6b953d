"""Price books as CSV: out, and in again after a trial that shows what would change.

RFC 4180 with a header row, UTF-8. What a spreadsheet would run as a formula goes out with an apostrophe before it,
and comes in without: the round trip is exact (OWASP, "CSV Injection"). A spreadsheet that parts cells by another
sign than ours, as many do by a semicolon, begins a cell within ours: so also after such a sign.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain, islice
from typing import TYPE_CHECKING, Any

from django.db import transaction
from django.utils import timezone

from pricing.models import Trial
from pricing.stores.csv_kind import CsvFault, CsvKind
from pricing.stores.csv_kinds import SHEETS
from pricing.stores.forms import write_contents

if TYPE_CHECKING:
    from studio.access import Access

MOST_ROWS = 60_000
MOST_LETTERS = 10_000  # of a cell; a quote that is not closed makes one of the rest of the file
CHUNK = 4_000  # rows looked at in one step of the trial
TOLD = 400  # changes and faults that are listed; all are counted
RISKY = frozenset("=+-@\t\r\n＝＋－＠'")  # OWASP's list, and our own apostrophe
BEGINS = frozenset(",;|\t\r\n")  # after these a cell may begin, and may be quoted
CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
LOOKED = [
    "checked", "seen", "fault_count", "faults", "new_count", "changed_count", "changes",
]  # fmt: skip
END = (
    "\x1e"  # a line of our own after the last: where a quote is not closed, it comes inside a cell
)
csv.field_size_limit(
    2**31 - 1
)  # a file is limited as a whole; a long cell is told by its row and column


def neutral_cell(text: str) -> str:
    """The text with an apostrophe wherever a cell could begin with something that runs.

    >>> neutral("=1+1"), neutral("bows;=1+1"), neutral("well-known")
    ("'=1+1", "bows;'=1+1", 'well-known')
    """
    if RISKY.isdisjoint(text):
        return text
    out, begins = [], True
    for sign in text:
        if begins and sign in RISKY:
            out.append("'")
        out.append(sign)
        begins = sign in BEGINS or (begins and sign == '"')
    return "".join(out)


def plain_cell(text: str) -> str:
    """What `neutral` was given."""
    if "'" not in text:
        return text
    out, begins = [], True
    for sign in text:
        if begins and sign == "'":
            begins = False
            continue
        out.append(sign)
        begins = sign in BEGINS or (begins and sign == '"')
    return "".join(out)


def write_csv_of(access: Access, sheet: CsvKind) -> Iterator[str]:
    """CSV, line by line."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    for row in [
        list(sheet.columns),
        *(sheet.write(facts) for facts in sheet.standing(access).values()),
    ]:
        writer.writerow([neutral_cell(cell) for cell in row])
        yield out.getvalue()
        out.seek(0)
        out.truncate()


def open_trial(access: Access, kind: str, name: str, content: bytes) -> Trial:
    """Take a file in for a trial. Raises SheetFault when it is no table of this kind."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise CsvFault("", "File: expected UTF-8 text, got something else.") from None
    rows = csv_rows(text)
    first = next(rows, NO_ROW)
    header = first.cells
    if fault := first.fault(header):
        raise CsvFault("", f"First row: {fault.column}: {fault}")
    again = [column for column, count in Counter(header).items() if column and count > 1]
    if again:
        raise CsvFault("", f"First row: expected each column once, got {', '.join(again)} again.")
    missing = [column for column in SHEETS[kind].columns if column not in header]
    if missing:
        raise CsvFault(
            "",
            f"First row: expected the columns {', '.join(SHEETS[kind].columns)}; {', '.join(missing)} did not come.",
        )
    count = 0
    for count, row in enumerate(rows, 1):  # noqa: B007
        if (fault := row.fault(header)) and "\0" in "".join(row.cells):  # not to be kept as text
            raise CsvFault("", f"Row {row.number}: {fault.column}: {fault}")
    if not 0 < count <= MOST_ROWS:
        raise CsvFault("", f"Rows: expected 1 to {MOST_ROWS}, got {count}.")
    return access.add(Trial, kind=kind, name=name[:120], content=text, row_count=count)


@dataclass(frozen=True, slots=True, kw_only=True)
class CsvRow:
    """One row of a file."""

    number: int  # of the line on which it begins
    cells: list[str]  # as they were before they were made neutral
    closed: bool = True  # its last quote

    def fault(self, header: list[str]) -> CsvFault | None:
        """What is wrong with its shape, by column."""
        for place, cell in enumerate(self.cells):
            column = header[place] if place < len(header) else f"column {place + 1}"
            last = place == len(self.cells) - 1
            if found := CONTROL.search(cell):
                sign = f"U+{ord(found[0]):04X}"
                return CsvFault(column, f"expected words, got the control character {sign}.")
            if last and not self.closed:
                return CsvFault(column, "expected a closing quote, got the end of the file.")
            if len(cell) > MOST_LETTERS:
                got = f"got {len(cell)}; a quote may not be closed"
                return CsvFault(column, f"expected at most {MOST_LETTERS} characters, {got}.")
            if cell and place >= len(header):
                got = f"got {len(self.cells)}, here “{cell[:40]}”"
                return CsvFault(column, f"expected {len(header)} cells, {got}.")
        return None


NO_ROW = CsvRow(number=0, cells=[])


def raw_rows(text: str) -> Iterator[tuple[int, list[str]]]:
    """The number of the line on which each row begins that holds anything, and its cells as they stand."""
    reader = csv.reader(chain(io.StringIO(text, newline=""), [END]))
    begins = 1
    for row in reader:
        number, begins = begins, reader.line_num + 1
        if row == [END]:
            return
        if any(cell.strip() for cell in row):
            yield number, row


def csv_rows(text: str, skip: int = 0) -> Iterator[CsvRow]:
    """Rows that hold anything, but for the first so many: a step of a trial goes on where the last one ended."""
    for number, row in islice(raw_rows(text), skip, None):
        closed = not row[-1].endswith(END)
        if not closed:
            row[-1] = row[-1].removesuffix(END)
        yield CsvRow(number=number, cells=[plain_cell(cell.strip()) for cell in row], closed=closed)


def csv_facts(
    sheet: CsvKind, text: str, known: Any, start: int, count: int
) -> Iterator[tuple[int, dict[str, Any] | CsvFault]]:
    """The number of a row's first line and its facts or its fault."""
    header = next(csv_rows(text)).cells
    for row in islice(csv_rows(text, skip=start + 1), count):
        if shape := row.fault(header):
            yield row.number, shape
            continue
        cells = dict(zip(header, row.cells + [""] * len(header), strict=False))
        try:
            yield row.number, sheet.read(cells, known)
        except CsvFault as fault:
            yield row.number, fault


def step_trial(access: Access, trial: Trial) -> None:
    """Look at the next rows of a trial: what each would change, or why it cannot be used."""
    sheet = SHEETS[trial.kind]
    standing = sheet.standing(access)
    seen = set(trial.seen)
    for number, facts in csv_facts(sheet, trial.content, sheet.known(access), trial.checked, CHUNK):
        trial.checked += 1
        if isinstance(facts, CsvFault):
            note_fault(trial, number, facts)
            continue
        key = sheet.key(facts)
        if repr(key) in seen:
            note_fault(
                trial,
                number,
                CsvFault(sheet.columns[0], f"expected each row once, got {key} again."),
            )
            continue
        seen.add(repr(key))
        note_change(trial, number, key, standing.get(key), facts)
    trial.seen = list(seen)
    trial.save(update_fields=LOOKED)  # not the content, which stays as it is


def note_fault(trial: Trial, number: int, fault: CsvFault) -> None:
    trial.fault_count += 1
    if len(trial.faults) < TOLD:
        trial.faults.append([number, fault.column, str(fault)])


def note_change(
    trial: Trial, number: int, key: Any, now: dict[str, Any] | None, facts: dict[str, Any]
) -> None:
    differs = [
        f"{name} {cell_text(now[name])} → {cell_text(v)}"
        for name, v in facts.items()
        if now and now[name] != v
    ]
    what = "new" if now is None else "; ".join(differs)
    trial.new_count += now is None
    trial.changed_count += bool(now and differs)
    if what and len(trial.changes) < TOLD:
        named = (
            " / ".join(cell_text(part) for part in key)
            if isinstance(key, tuple)
            else cell_text(key)
        )
        trial.changes.append([number, named, what])


def cell_text(value: Any) -> str:
    return (
        write_contents(value, "; ")
        if isinstance(value, dict)
        else "nothing"
        if value in (None, "")
        else str(value)
    )


@transaction.atomic
def apply_trial(access: Access, trial: Trial) -> None:
    """All rows or none, once. Raises SheetFault when the trial found faults, or something changed since."""
    fit = not trial.fault_count and trial.checked >= trial.row_count
    fresh = access.rows(Trial).filter(pk=trial.pk, done_at=None)
    if not fit or not fresh.update(done_at=timezone.now()):
        raise CsvFault(
            "", "This sheet cannot be brought in: it has faults, or was brought in before."
        )
    sheet = SHEETS[trial.kind]
    standing, changed = sheet.standing(access), []
    for number, facts in csv_facts(sheet, trial.content, sheet.known(access), 0, MOST_ROWS):
        if isinstance(facts, CsvFault):
            raise CsvFault(
                facts.column,
                f"Row {number}: {facts} Something changed since the trial; try it again.",
            )
        if standing.get(sheet.key(facts)) != facts:
            changed.append(facts)
    sheet.apply(access, changed)
    trial.refresh_from_db(fields=["done_at"])
    trial.content, trial.seen = "", []
    trial.save()

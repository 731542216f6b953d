"""Price books as CSV: out, and in again after a trial that shows what would change.

RFC 4180 with a header row, UTF-8. A cell that a spreadsheet would run as a formula goes out with an apostrophe
before it, and comes in without: the round trip is exact (OWASP, formula injection).
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Any

from django.db import transaction
from django.utils import timezone

from pricing.forms_stock import KEY, read_contents, write_contents
from pricing.models import Pack, Price, Supplier, Supply, Trial

if TYPE_CHECKING:
    from studio.door import SeatAt

MOST_ROWS = 60_000
CHUNK = 4_000  # rows looked at in one step of the trial
TOLD = 400  # changes and faults that are listed; all are counted
RISKY = ("=", "+", "-", "@", "\t", "\r", "'")


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


# --- reading cells ---


def text(cells: Mapping[str, str], column: str, most: int, *, needed: bool = True) -> str:
    value = cells.get(column, "")
    if len(value) > most or (needed and not value):
        got = f"{len(value)} characters" if value else "nothing"
        raise SheetFault(
            column, f"expected {'1' if needed else '0'} to {most} characters, got {got}."
        )
    return value


def amount(
    cells: Mapping[str, str], column: str, *, above: int = 0, or_equal: bool = False
) -> Decimal:
    value = cells.get(column, "")
    try:
        number = Decimal(value)
    except InvalidOperation:
        raise SheetFault(column, f"expected an amount such as 12.50, got “{value}”.") from None
    good = number.is_finite() and (number > above or (or_equal and number == above))
    if not good or number >= 10**6 or number != round(number, 3):
        raise SheetFault(
            column, f"expected an amount above {above} with at most 3 decimals, got {value}."
        )
    return number


def whole(cells: Mapping[str, str], column: str, default: int | None, least: int) -> int | None:
    value = cells.get(column, "")
    if not value:
        return default
    if not re.fullmatch(r"\d{1,4}", value) or int(value) < least:
        raise SheetFault(column, f"expected a whole number of at least {least}, got “{value}”.")
    return int(value)


def day(cells: Mapping[str, str], column: str, *, needed: bool) -> date | None:
    value = cells.get(column, "")
    if not value and not needed:
        return None
    try:
        return date.fromisoformat(value)
    except ValueError:
        raise SheetFault(column, f"expected a day such as 2026-03-01, got “{value}”.") from None


def one_of(cells: Mapping[str, str], column: str, words: Iterable[str]) -> str:
    value = cells.get(column, "")
    if value not in words:
        raise SheetFault(
            column, f"expected one of {', '.join(w or 'nothing' for w in words)}, got “{value}”."
        )
    return value


# --- packs ---


def read_pack(cells: Mapping[str, str], suppliers: Mapping[str, int]) -> dict[str, Any]:
    try:
        contents = read_contents(cells.get("holds", ""))
    except ValueError as reason:
        raise SheetFault("holds", str(reason)) from None
    facts = {
        "supplier": one_of(cells, "supplier", suppliers), "code": text(cells, "code", 60),
        "name": text(cells, "name", 120), "contents": contents, "price": amount(cells, "price"),
        "lead_days": whole(cells, "lead_days", None, 0), "least": whole(cells, "least", 1, 1),
        "grade": one_of(cells, "grade", list(Pack.Grade.values)),
        "valid_from": day(cells, "valid_from", needed=True),
        "valid_until": day(cells, "valid_until", needed=False),
    }  # fmt: skip
    if facts["valid_until"] and facts["valid_until"] < facts["valid_from"]:
        raise SheetFault(
            "valid_until", f"expected {facts['valid_from']} or later, got {facts['valid_until']}."
        )
    return facts


PACK_FACTS = (
    "code",
    "name",
    "contents",
    "price",
    "lead_days",
    "least",
    "grade",
    "valid_from",
    "valid_until",
)


def standing_packs(seat: SeatAt) -> dict[Any, dict[str, Any]]:
    rows = (
        seat.rows(Pack).select_related("supplier").order_by("supplier__name", "code", "valid_from")
    )
    facts = ({"supplier": p.supplier.name, **{n: getattr(p, n) for n in PACK_FACTS}} for p in rows)
    return {pack_key(f): f for f in facts}


def pack_key(facts: dict[str, Any]) -> tuple[Any, ...]:
    return facts["supplier"], facts["code"], facts["valid_from"]


def write_pack(facts: dict[str, Any]) -> list[str]:
    cells = {**facts, "contents": write_contents(facts["contents"], "; ")}
    return ["" if v is None else v if isinstance(v, str) else str(v) for v in cells.values()]


def apply_packs(seat: SeatAt, changed: list[dict[str, Any]]) -> None:
    suppliers = {row.name: row for row in seat.rows(Supplier)}
    known = {
        (p.supplier.name, p.code, p.valid_from): p
        for p in seat.rows(Pack).select_related("supplier")
    }
    new: list[Pack] = []
    old: list[Pack] = []
    for facts in changed:
        row = known.get(pack_key(facts)) or Pack(
            studio=seat.studio, supplier=suppliers[facts["supplier"]]
        )
        for name in PACK_FACTS:
            setattr(row, name, facts[name])
        row.version += 1 if row.pk else 0
        (old if row.pk else new).append(row)
    Pack._default_manager.bulk_create(new, batch_size=500)
    Pack._default_manager.bulk_update(old, [*PACK_FACTS, "version"], batch_size=200)


# --- supplies with their price ---

SUPPLY_FACTS = ("key", "name", "use", "unit", "shelf")


def read_supply(cells: Mapping[str, str], _: object) -> dict[str, Any]:
    key = text(cells, "key", 120)
    if not KEY.match(key):
        raise SheetFault(
            "key", f"expected words parted by slashes such as balloon/11 in, got “{key}”."
        )
    return {
        "key": key, "name": text(cells, "name", 120), "use": one_of(cells, "use", list(Supply.Use.values)),
        "unit": one_of(cells, "unit", list(Supply.Unit.values)),
        "shelf": text(cells, "shelf", 40, needed=False), "pack_count": amount(cells, "pack_count"),
        "pack_price": amount(cells, "pack_price", or_equal=True),
        "valid_from": day(cells, "valid_from", needed=True),
    }  # fmt: skip


def standing_supplies(seat: SeatAt) -> dict[Any, dict[str, Any]]:
    rows = seat.rows(Price).select_related("supply").order_by("supply__key", "valid_from")
    return {
        (p.supply.key, p.valid_from): {
            **{n: getattr(p.supply, n) for n in SUPPLY_FACTS},
            "pack_count": p.pack_count, "pack_price": p.pack_price, "valid_from": p.valid_from,
        }
        for p in rows
    }  # fmt: skip


def apply_supplies(seat: SeatAt, changed: list[dict[str, Any]]) -> None:
    """Supplies take the last row's name, use, unit and shelf; prices are added or put right by day."""
    known = {row.key: row for row in seat.rows(Supply)}
    for facts in changed:
        row = known.setdefault(facts["key"], Supply(studio=seat.studio, key=facts["key"]))
        for name in SUPPLY_FACTS:
            setattr(row, name, facts[name])
        row.version += 1 if row.pk else 0
    touched = [known[key] for key in dict.fromkeys(f["key"] for f in changed)]
    Supply._default_manager.bulk_create([r for r in touched if not r.pk], batch_size=500)
    Supply._default_manager.bulk_update(
        [r for r in touched if r.pk], [*SUPPLY_FACTS, "version"], batch_size=200
    )
    rows = {row.key: row for row in seat.rows(Supply)}
    prices = {(p.supply_id, p.valid_from): p for p in seat.rows(Price)}
    new: list[Price] = []
    old: list[Price] = []
    for facts in changed:
        supply = rows[facts["key"]]
        price = prices.get((supply.pk, facts["valid_from"])) or Price(
            studio=seat.studio, supply=supply, valid_from=facts["valid_from"]
        )
        price.pack_count, price.pack_price = facts["pack_count"], facts["pack_price"]
        (old if price.pk else new).append(price)
    Price._default_manager.bulk_create(new, batch_size=500)
    Price._default_manager.bulk_update(old, ["pack_count", "pack_price"], batch_size=200)


SHEETS = {
    "packs": Sheet(
        columns=(
            "supplier", "code", "name", "holds", "price", "lead_days", "least", "grade", "valid_from",
            "valid_until",
        ),
        read=read_pack, known=lambda seat: {s.name: s.pk for s in seat.rows(Supplier)}, key=pack_key,
        standing=standing_packs, write=write_pack, apply=apply_packs,
    ),
    "supplies": Sheet(
        columns=("key", "name", "use", "unit", "shelf", "pack_count", "pack_price", "valid_from"),
        read=read_supply, known=lambda seat: None, key=lambda f: (f["key"], f["valid_from"]),
        standing=standing_supplies, write=lambda f: [str(v) for v in f.values()], apply=apply_supplies,
    ),
}  # fmt: skip

"""The kinds of sheet: packs with their suppliers, supplies with their prices."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from pricing.core.supply_keys import UnreadableKey, typed_key, write_key
from pricing.models import Pack, Price, Supplier, Supply
from pricing.stores.csv_kind import CsvFault, CsvKind
from pricing.stores.forms import read_contents, write_contents

if TYPE_CHECKING:
    from studio.access import Access

GRADES, USES, UNITS = Pack.Grade.values, Supply.Use.values, Supply.Unit.values
AMOUNT = re.compile(r"[+-]?([0-9]{1,20}(\.[0-9]{0,20})?|\.[0-9]{1,20})")

# --- reading cells ---


def text_cell(cells: Mapping[str, str], column: str, most: int, *, needed: bool = True) -> str:
    value = cells.get(column, "")
    if len(value) > most or (needed and not value):
        got = f"{len(value)} characters" if value else "nothing"
        raise CsvFault(
            column, f"expected {'1' if needed else '0'} to {most} characters, got {got}."
        )
    return value


def amount_cell(
    cells: Mapping[str, str], column: str, *, above: int = 0, or_equal: bool = False
) -> Decimal:
    value = cells.get(column, "")
    if not AMOUNT.fullmatch(value):
        raise CsvFault(column, f"expected an amount such as 12.50, got “{value[:40]}”.")
    number = Decimal(value)
    good = number > above or (or_equal and number == above)
    if not good or number >= 10**6 or number != round(number, 3):
        raise CsvFault(
            column, f"expected an amount above {above} with at most 3 decimals, got {value}."
        )
    return number


def whole_cell(
    cells: Mapping[str, str], column: str, default: int | None, least: int
) -> int | None:
    value = cells.get(column, "")
    if not value:
        return default
    if not re.fullmatch(r"[0-9]{1,4}", value) or int(value) < least:
        raise CsvFault(column, f"expected a whole number of at least {least}, got “{value[:40]}”.")
    return int(value)


def day_cell(cells: Mapping[str, str], column: str, *, needed: bool) -> date | None:
    value = cells.get(column, "")
    if not value and not needed:
        return None
    try:
        return date.fromisoformat(value)
    except ValueError:
        raise CsvFault(column, f"expected a day such as 2026-03-01, got “{value[:40]}”.") from None


def choice_cell(cells: Mapping[str, str], column: str, words: Iterable[str]) -> str:
    value = cells.get(column, "")
    if value not in words:
        raise CsvFault(
            column,
            f"expected one of {', '.join(w or 'nothing' for w in words)}, got “{value[:40]}”.",
        )
    return value


# --- packs ---


def read_pack(cells: Mapping[str, str], suppliers: Mapping[str, int]) -> dict[str, Any]:
    try:
        contents = read_contents(cells.get("holds", ""))
    except ValueError as reason:
        raise CsvFault("holds", str(reason)) from None
    facts = {
        "supplier": choice_cell(cells, "supplier", suppliers), "code": text_cell(cells, "code", 60),
        "name": text_cell(cells, "name", 120), "contents": contents, "price": amount_cell(cells, "price"),
        "lead_days": whole_cell(cells, "lead_days", None, 0), "least": whole_cell(cells, "least", 1, 1),
        "grade": choice_cell(cells, "grade", GRADES),
        "valid_from": day_cell(cells, "valid_from", needed=True),
        "valid_until": day_cell(cells, "valid_until", needed=False),
    }  # fmt: skip
    first: Any = facts["valid_from"]
    if facts["valid_until"] and facts["valid_until"] < first:
        raise CsvFault(
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


def standing_packs(access: Access) -> dict[Any, dict[str, Any]]:
    rows = (
        access.rows(Pack)
        .select_related("supplier")
        .order_by("supplier__name", "code", "valid_from")
    )
    facts = ({"supplier": p.supplier.name, **{n: getattr(p, n) for n in PACK_FACTS}} for p in rows)
    return {pack_key(f): f for f in facts}


def pack_key(facts: dict[str, Any]) -> tuple[Any, ...]:
    return facts["supplier"], facts["code"], facts["valid_from"]


def write_pack(facts: dict[str, Any]) -> list[str]:
    cells = {**facts, "contents": write_contents(facts["contents"], "; ")}
    return ["" if v is None else v if isinstance(v, str) else str(v) for v in cells.values()]


def apply_packs(access: Access, changed: list[dict[str, Any]]) -> None:
    suppliers = {row.name: row for row in access.rows(Supplier)}
    known = {
        (p.supplier.name, p.code, p.valid_from): p
        for p in access.rows(Pack).select_related("supplier")
    }
    new: list[Pack] = []
    old: list[Pack] = []
    for facts in changed:
        row = known.get(pack_key(facts))
        named = {name: facts[name] for name in PACK_FACTS}
        if row is None:
            supplier = suppliers[facts["supplier"]]
            new.append(Pack(studio=access.studio, supplier=supplier, **named))
            continue
        for name, value in named.items():
            setattr(row, name, value)
        row.version += 1
        old.append(row)
    access.rows(Pack).bulk_create(new, batch_size=500)
    access.rows(Pack).bulk_update(old, [*PACK_FACTS, "version"], batch_size=200)


# --- supplies with their price ---

SUPPLY_FACTS = ("key", "name", "use", "unit", "shelf")


def read_supply(cells: Mapping[str, str], _: object) -> dict[str, Any]:
    try:
        key = typed_key(text_cell(cells, "key", 120))
    except UnreadableKey as reason:
        raise CsvFault("key", f"{reason}.") from None
    return {
        "key": write_key(key), "name": text_cell(cells, "name", 120), "use": choice_cell(cells, "use", USES),
        "unit": choice_cell(cells, "unit", UNITS),
        "shelf": text_cell(cells, "shelf", 40, needed=False), "pack_count": amount_cell(cells, "pack_count"),
        "pack_price": amount_cell(cells, "pack_price", or_equal=True),
        "valid_from": day_cell(cells, "valid_from", needed=True),
    }  # fmt: skip


def standing_supplies(access: Access) -> dict[Any, dict[str, Any]]:
    rows = access.rows(Price).select_related("supply").order_by("supply__key", "valid_from")
    return {
        (p.supply.key, p.valid_from): {
            **{n: getattr(p.supply, n) for n in SUPPLY_FACTS},
            "pack_count": p.pack_count, "pack_price": p.pack_price, "valid_from": p.valid_from,
        }
        for p in rows
    }  # fmt: skip


def apply_supplies(access: Access, changed: list[dict[str, Any]]) -> None:
    """Supplies take the last row's name, use, unit and shelf; prices are added or put right by day."""
    known = {row.key: row for row in access.rows(Supply)}
    for facts in changed:
        row = known.setdefault(facts["key"], Supply(studio=access.studio, key=facts["key"]))
        for name in SUPPLY_FACTS:
            setattr(row, name, facts[name])
        row.version += 1 if row.pk else 0
    touched = [known[key] for key in dict.fromkeys(f["key"] for f in changed)]
    access.rows(Supply).bulk_create([r for r in touched if not r.pk], batch_size=500)
    access.rows(Supply).bulk_update(
        [r for r in touched if r.pk], [*SUPPLY_FACTS, "version"], batch_size=200
    )
    rows = {row.key: row for row in access.rows(Supply)}
    prices = {(p.supply_id, p.valid_from): p for p in access.rows(Price)}
    new: list[Price] = []
    old: list[Price] = []
    for facts in changed:
        supply = rows[facts["key"]]
        price = prices.get((supply.pk, facts["valid_from"])) or Price(
            studio=access.studio, supply=supply, valid_from=facts["valid_from"]
        )
        price.pack_count, price.pack_price = facts["pack_count"], facts["pack_price"]
        price.is_example = False
        (old if price.pk else new).append(price)
    access.rows(Price).bulk_create(new, batch_size=500)
    access.rows(Price).bulk_update(old, ["pack_count", "pack_price", "is_example"], batch_size=200)


SHEETS = {
    "packs": CsvKind(
        columns=(
            "supplier", "code", "name", "holds", "price", "lead_days", "least", "grade", "valid_from",
            "valid_until",
        ),
        read=read_pack, known=lambda access: {s.name: s.pk for s in access.rows(Supplier)}, key=pack_key,
        standing=standing_packs, write=write_pack, apply=apply_packs,
    ),
    "supplies": CsvKind(
        columns=("key", "name", "use", "unit", "shelf", "pack_count", "pack_price", "valid_from"),
        read=read_supply, known=lambda access: None, key=lambda f: (f["key"], f["valid_from"]),
        standing=standing_supplies, write=lambda f: [str(v) for v in f.values()], apply=apply_supplies,
    ),
}  # fmt: skip

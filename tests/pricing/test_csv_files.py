"""Price books as CSV: exact round trips, a trial before anything changes, all rows or none."""

from __future__ import annotations

import csv
import io
import re
import time
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client as Browser
from django.urls import reverse
from hypothesis import example, given
from hypothesis import strategies as st

from pricing.models import Pack, Price, Supplier, Supply, Trial
from pricing.stores.csv_kind import CsvFault
from pricing.stores.csv_kinds import SHEETS
from pricing.stores.csv_trial import CHUNK, apply_trial, neutral_cell, plain_cell, write_csv_of
from studio.access import Access


def out(access: Access, kind: str) -> str:
    return "".join(write_csv_of(access, SHEETS[kind]))


def bring(browser: Browser, kind: str, content: str) -> Any:
    upload = SimpleUploadedFile("book.csv", content.encode())
    return browser.post(reverse("pricing:sheets"), {"kind": kind, "sheet": upload}, follow=True)


def changed(text: str, row: int, column: str, value: str) -> str:
    rows = list(csv.reader(io.StringIO(text)))
    rows[row][rows[0].index(column)] = value
    made = io.StringIO()
    csv.writer(made, lineterminator="\r\n").writerows(rows)
    return made.getvalue()


@pytest.mark.parametrize("kind", sorted(SHEETS))
def test_what_goes_out_comes_in_as_no_change(browser: Browser, access: Access, kind: str) -> None:
    before = out(access, kind)
    bring(browser, kind, before)
    trial = Trial.objects.get()
    assert (trial.fault_count, trial.new_count, trial.changed_count) == (0, 0, 0)
    browser.post(reverse("pricing:trial", args=[trial.pk]))
    assert out(access, kind) == before


def test_a_trial_shows_row_by_row_and_changes_nothing(browser: Browser, access: Access) -> None:
    sheet = changed(out(access, "packs"), 1, "price", "99.5")
    page = bring(browser, "packs", sheet).content.decode()
    assert "price 12.500 → 99.5" in page or "→ 99.5" in page
    assert not Pack.objects.filter(price="99.5").exists()
    trial = Trial.objects.get()
    browser.post(reverse("pricing:trial", args=[trial.pk]))
    assert Pack.objects.filter(price="99.5").count() == 1
    browser.post(reverse("pricing:trial", args=[trial.pk]))  # twice is once
    assert Pack.objects.get(price="99.5").version == 2


def test_two_who_bring_the_same_trial_in_at_once_bring_it_in_once(
    browser: Browser, access: Access
) -> None:
    bring(browser, "packs", changed(out(access, "packs"), 1, "price", "99.5"))
    first, second = Trial.objects.get(), Trial.objects.get()
    apply_trial(access, first)
    Pack.objects.filter(price="99.5").update(price="88")  # somebody goes on from there
    with pytest.raises(CsvFault, match="was brought in before"):
        apply_trial(access, second)
    assert Pack.objects.filter(price="88").count() == 1
    assert Trial.objects.get().done_at == first.done_at


@pytest.mark.parametrize(
    ("kind", "column", "value", "says"),
    [
        ("packs", "supplier", "Nobody", "expected one of"),
        ("packs", "price", "free", "expected an amount such as 12.50, got “free”"),
        ("packs", "price", "-2", "expected an amount above 0"),
        ("packs", "holds", "ivory 50", "expected a supply and a count"),
        ("packs", "valid_from", "soon", "expected a day such as 2026-03-01, got “soon”"),
        ("packs", "grade", "best", "expected one of nothing, professional, party"),
        ("supplies", "key", "ring", "expected words parted by slashes"),
        ("supplies", "unit", "kg", "expected one of each, m, m³"),
        ("supplies", "pack_count", "0", "expected an amount above 0"),
    ],
)
def test_one_bad_cell_keeps_every_row_out_and_names_its_row_and_column(
    browser: Browser, access: Access, kind: str, column: str, value: str, says: str
) -> None:
    sheet = changed(changed(out(access, kind), 3, column, value), 1, "name", "changed too")
    page = bring(browser, kind, sheet).content.decode()
    assert says in page
    assert f'<td data-label="Column">{column}</td>' in page
    trial = Trial.objects.get()
    assert trial.faults[0][0] == 4
    browser.post(reverse("pricing:trial", args=[trial.pk]))
    assert not Pack.objects.filter(name="changed too").exists()
    assert not Supply.objects.filter(name="changed too").exists()


HEAD = "key,name,use,unit,shelf,pack_count,pack_price,valid_from\n"
ROW = "balloon/99 in,Ninety,consumable,each,A1,10,5.00,2026-01-01\n"


@pytest.mark.parametrize(
    ("content", "row", "column", "says"),
    [
        (HEAD + "\n\n" + ROW + "\n" + ROW.replace("5.00", "x"), 6, "pack_price", "got “x”"),
        (HEAD + ROW.replace("Ninety", '"Nine\nty"').replace("each", "kg"), 2, "unit", "got “kg”"),
        (HEAD + ROW.replace("5.00", "1_0"), 2, "pack_price", "such as 12.50, got “1_0”"),
        (HEAD + ROW.replace("5.00", "1e3"), 2, "pack_price", "such as 12.50, got “1e3”"),
        (HEAD + ROW.replace("10,", '"10",1,', 1), 2, "column 9", "expected 8 cells, got 9"),
        (HEAD + ROW.strip() + ",,surprise\n", 2, "column 10", "got 10, here “surprise”"),
        (HEAD + ROW + ROW.replace("Ninety", '"Ninety'), 3, "name", "expected a closing quote"),
        (HEAD + 'balloon/99 in,"' + "a" * 200_000 + '"\n' + ROW, 2, "name", "at most 10000 characters"),
        (HEAD + ROW.replace("Ninety", "Nin\x1ety"), 2, "name", "control character U+001E"),
    ],
)  # fmt: skip
def test_what_has_no_right_shape_is_told_by_row_and_column(
    browser: Browser, access: Access, content: str, row: int, column: str, says: str
) -> None:
    page = bring(browser, "supplies", content)
    assert page.status_code == 200
    ((told_row, told_column, sentence),) = Trial.objects.get().faults
    assert (told_row, told_column) == (row, column)
    assert says in sentence
    browser.post(reverse("pricing:trial", args=[Trial.objects.get().pk]))
    assert not Supply.objects.filter(key="balloon/99 in").exists()


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (HEAD.strip() + ",pack_price\n" + ROW.strip() + ",7.00\n", "expected each column once, got pack_price again"),
        (HEAD.strip() + ",more\0\n" + ROW, "First row: more\0: expected words, got the control character U+0000"),
        (HEAD + "\n" + ROW.replace("Ninety", "Nine\0ty"), "Row 3: name: expected words, got the control character U+0000"),
    ],
)  # fmt: skip
def test_what_no_trial_can_hold_is_refused_at_once(
    browser: Browser, access: Access, content: str, says: str
) -> None:
    answer = bring(browser, "supplies", content)
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert not Trial.objects.exists()


def test_empty_cells_beyond_the_last_column_are_no_fault(browser: Browser, access: Access) -> None:
    bring(browser, "supplies", HEAD.strip() + ",,\n" + ROW.strip() + ",,\n")
    assert (Trial.objects.get().fault_count, Trial.objects.get().new_count) == (0, 1)


def test_a_row_that_comes_twice_is_a_fault(browser: Browser, access: Access) -> None:
    lines = out(access, "packs").split("\r\n")
    page = bring(browser, "packs", "\r\n".join([*lines[:3], lines[1], ""])).content.decode()
    assert "expected each row once" in page


@pytest.mark.parametrize(
    ("content", "says"),
    [("", "expected the columns"), ("a,b\r\n1,2", "expected the columns"), ("key,name,use,unit,shelf,pack_count,pack_price,valid_from", "expected 1 to")],
)  # fmt: skip
def test_what_is_no_sheet_is_refused(
    browser: Browser, access: Access, content: str, says: str
) -> None:
    assert says in bring(browser, "supplies", content).content.decode()
    assert not Trial.objects.exists()


# Characters that part, quote or begin what runs come often, so that they meet.
TYPED = st.text(
    st.one_of(st.sampled_from("=+-@,;|\t\r\n\"' ＝x"), st.characters(codec="utf-8")), max_size=30
)


@given(TYPED.filter(lambda t: t == t.strip() and "\0" not in t))
@example('x";=1+1')
@example("''=1")
@example("\t\t=1")
def test_cells_that_would_run_go_out_neutral_and_come_back_exact(text: str) -> None:
    """OWASP, "CSV Injection": = + - @ (in full width too), tab, CR, LF; at the start of a cell, also of one that
    another separator, with or without a quote, begins within ours."""
    out = neutral_cell(text)
    assert plain_cell(out) == text
    for begun in re.split(r"[,;|\t\r\n]", out):
        assert not begun.lstrip('"').startswith(tuple("=+-@＝＋－＠")), out


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@given(cells=st.lists(TYPED, min_size=1, max_size=4))
def test_no_cell_runs_whichever_separator_a_spreadsheet_takes(
    separator: str, cells: list[str]
) -> None:
    """Read as spreadsheets do: another separator than ours, quotes anywhere."""
    written = io.StringIO()
    csv.writer(written, lineterminator="\r\n").writerow([neutral_cell(cell) for cell in cells])
    for row in csv.reader(io.StringIO(written.getvalue(), newline=""), delimiter=separator):
        for cell in row:
            assert not cell.startswith(tuple("=+-@＝＋－＠")), (cells, row)


def test_formulas_are_names_like_any_other(browser: Browser, access: Access) -> None:
    Pack.objects.filter(pk=Pack.objects.order_by("pk").first().pk).update(name='=HYPERLINK("x")')  # type: ignore[union-attr]
    sheet = out(access, "packs")
    assert "'=HYPERLINK" in sheet
    bring(browser, "packs", sheet)
    assert Trial.objects.get().changed_count == 0


def test_fifty_thousand_rows_come_in_step_by_step_at_no_great_cost(
    browser: Browser, access: Access
) -> None:
    """Processor time beside that of writing the same packs alone, in one run: machines are shared and noisy."""
    supplier = Supplier.objects.order_by("pk").first()
    assert supplier
    many, start = 50_000, time.process_time()
    with transaction.atomic():
        access.rows(Pack).bulk_create([a_pack(supplier, i) for i in range(many)], batch_size=500)
        transaction.set_rollback(True)
    writing = time.process_time() - start
    head = ",".join(SHEETS["packs"].columns)
    rows = (
        f"{supplier.name},X{i},pack {i},balloon/11 in/c{i % 50} = {25 + i % 4 * 25},{5 + i % 9}.25,,1,professional,2026-01-01,"
        for i in range(many)
    )
    content = "\r\n".join([head, *rows])
    start = time.process_time()
    page = bring(browser, "packs", content)
    trial = Trial.objects.get()
    assert trial.checked == CHUNK
    assert f'value="{CHUNK}"' in page.content.decode()
    looks = 1
    while trial.checked < trial.row_count:
        browser.get(reverse("pricing:trial", args=[trial.pk]), headers={"HX-Request": "true"})
        trial.refresh_from_db()
        looks += 1
    assert (looks, trial.new_count, trial.fault_count) == (-(-many // CHUNK), many, 0)
    browser.post(reverse("pricing:trial", args=[trial.pk]))
    took = time.process_time() - start
    assert Pack.objects.filter(code__startswith="X").count() == many
    assert took < 3 * writing  # measured: 1.5 to 1.9


def a_pack(supplier: Supplier, i: int) -> Pack:
    return Pack(
        studio=supplier.studio, supplier=supplier, code=f"X{i}", name=f"pack {i}", price=Decimal("5.25"), least=1,
        contents={f"balloon/11 in/c{i % 50}": 25}, grade="professional", valid_from=date(2026, 1, 1),
    )  # fmt: skip


def test_a_price_of_another_day_is_added_and_the_old_one_stays(
    browser: Browser, access: Access
) -> None:
    sheet = changed(out(access, "supplies"), 1, "valid_from", "2026-11-01")
    bring(browser, "supplies", sheet)
    before = Price.objects.count()
    browser.post(reverse("pricing:trial", args=[Trial.objects.get().pk]))
    assert Price.objects.count() == before + 1

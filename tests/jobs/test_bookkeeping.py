"""The books: every entry sums to zero, and what comes out is read by a bookkeeping program that is not ours."""

from __future__ import annotations

import csv
import io
from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from beancount import loader
from beancount.core import data
from beancount.core.inventory import Inventory
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from jobs.models import Invoice, Job, Payment
from jobs.money.bookkeeping import (
    DEPOSITS,
    RECEIVABLE,
    Account,
    BookEntry,
    Books,
    Fact,
    Issued,
    Owed,
    Paid,
    books,
    books_of,
    entries_of,
)
from jobs.money.invoicing import credit_invoice, issue_invoice
from jobs.money.journal import write_by_account, write_journal
from jobs.money.ledger import record_payment
from pricing.core.money import Money, add_up
from pricing.core.tax import TaxGroup, TaxLine
from studio.access import Access
from tests.conftest import signed_in
from tests.jobs.test_invoices import an_accepted_job

DAY = date(2026, 6, 1)
LATER = DAY + timedelta(days=400)
VAT = TaxGroup(code="S", name="VAT", percent=Decimal(20))
LOW = TaxGroup(code="S", name="VAT", percent=Decimal("5.5"))


def gbp(amount: str | int | Decimal) -> Money:
    return Money(Decimal(amount), "GBP")


def line(group: TaxGroup, net: Money) -> TaxLine:
    return TaxLine(group=group, net=net, tax=net.percent(group.percent))


def paid(amount: str, *, on: date = DAY, job: int = 1, **facts: Any) -> Paid:
    return Paid(job=job, client="Wren", on=on, amount=gbp(amount), **{"how": "transfer", **facts})


def issued(*groups: TaxLine, kind: str = "invoice", on: date = DAY) -> Issued:
    total = add_up((g.net + g.tax for g in groups), "GBP")
    return Issued(
        job=1, client="Wren", on=on, kind=kind, written="00001", groups=groups, total=total
    )


def owes(by_then: Money, receivable: Money, deposits: Money | None = None) -> Owed:
    return Owed(by_then=by_then, receivable=receivable, deposits=deposits or gbp(0))


def booked(facts: Sequence[Fact], *, owed: Owed | None = None, since: date = DAY) -> Books:
    owed = owed or owes(gbp(0), gbp(0))
    return books_of(entries_of(facts), since=since, until=LATER, currency="GBP", owed=owed)


def after(made: Books) -> dict[str, Decimal]:
    return {b.account.name: b.after.amount for b in made.balances if b.after}


# --- what moves which account ---


def test_an_entry_that_does_not_sum_to_zero_is_refused() -> None:
    # Double entry: debits and credits of every entry are alike (common practice).
    lines = ((RECEIVABLE, gbp(120)), (Account("Income:Sales:S-20", "sales"), gbp(-100)))
    with pytest.raises(
        ValueError, match=r"Invoice 1: expected debits and credits alike, got 20\.00 over"
    ):
        BookEntry(on=DAY, job=1, client="Wren", words="Invoice 1", lines=lines)


def test_a_payment_before_the_invoice_is_a_deposit_and_the_invoice_sets_it_off() -> None:
    before = booked([paid("50")])
    assert after(before) == {"Assets:Bank": 50, "Liabilities:Client-deposits": -50}
    # 100 at 20 % and 200 at 5.5 %: tax 20 and 11, each on its own net (EN 16931, BR-CO-17).
    facts = [paid("50"), issued(line(VAT, gbp(100)), line(LOW, gbp(200)))]
    assert after(booked(facts)) == {
        "Assets:Bank": 50, "Assets:Receivable": 281, "Income:Sales:S-20": -100, "Income:Sales:S-5-5": -200,
        "Liabilities:Tax:S-20": -20, "Liabilities:Tax:S-5-5": -11,
    }  # fmt: skip
    assert after(booked([*facts, paid("281", how="cash")]))["Assets:Cash"] == 281
    assert "Assets:Receivable" not in after(booked([*facts, paid("281")]))


def test_a_refund_and_a_bounce_are_the_reverse_of_a_payment() -> None:
    assert (
        after(booked([paid("50", how="cheque"), paid("-50", how="cheque", kind="bounced")])) == {}
    )
    given_back = booked([paid("50"), paid("-20", kind="refund")])
    assert after(given_back) == {"Assets:Bank": 30, "Liabilities:Client-deposits": -30}
    assert [e.words for e in given_back.entries] == ["Payment", "Given back"]


def test_a_credit_note_is_the_reverse_of_its_invoice_and_frees_the_deposit() -> None:
    groups = (line(VAT, gbp(100)),)
    facts = [paid("50"), issued(*groups), issued(*groups, kind="credit")]
    assert after(booked(facts)) == {"Assets:Bank": 50, "Liabilities:Client-deposits": -50}
    again = [*facts, issued(*groups)]
    assert after(booked(again))["Assets:Receivable"] == 70
    part = [paid("50"), issued(*groups), issued(line(VAT, gbp(10)), kind="credit")]
    assert after(booked(part)) == {
        "Assets:Bank": 50, "Assets:Receivable": 58, "Income:Sales:S-20": -90, "Liabilities:Tax:S-20": -18,
    }  # fmt: skip


def test_what_was_paid_beyond_an_invoice_goes_over_with_it_and_comes_back_from_there() -> None:
    # Worked by hand: 500 came, 120 is invoiced, 380 is given back.
    facts = [paid("500"), issued(line(VAT, gbp(100)))]
    assert after(booked(facts)) == {
        "Assets:Bank": 500, "Assets:Receivable": -380, "Income:Sales:S-20": -100, "Liabilities:Tax:S-20": -20,
    }  # fmt: skip
    given_back = after(booked([*facts, paid("-380", kind="refund")]))
    assert given_back == {
        "Assets:Bank": 120, "Income:Sales:S-20": -100, "Liabilities:Tax:S-20": -20,
    }  # fmt: skip


def test_what_was_written_down_after_the_invoice_pays_it_whatever_its_date() -> None:
    late = paid("120", on=DAY - timedelta(days=3))
    made = booked([issued(line(VAT, gbp(100))), late], since=DAY - timedelta(days=10))
    assert after(made) == {
        "Assets:Bank": 120, "Income:Sales:S-20": -100, "Liabilities:Tax:S-20": -20,
    }  # fmt: skip
    assert [entry.on for entry in made.entries] == [late.on, DAY]


def test_a_span_begins_with_what_stood_before_it() -> None:
    facts = [paid("50"), paid("30", on=DAY + timedelta(days=30))]
    made = booked(facts, since=DAY + timedelta(days=1))
    assert [(b.account.name, b.before, b.moved, b.after) for b in made.balances] == [
        ("Assets:Bank", gbp(50), gbp(30), gbp(80)),
        ("Liabilities:Client-deposits", gbp(-50), gbp(-30), gbp(-80)),
    ]
    assert made.is_level
    assert len(made.entries) == 1


# --- laws ---

DOINGS = st.tuples(
    st.sampled_from(["pay", "invoice", "credit"]),
    st.integers(1, 3),  # job
    st.integers(1, 50_000),  # pence
    st.integers(-5, 5),  # days beside the day on which it is written down
    st.sampled_from(list(Payment.How.values)),
)


class Office:
    """Keeps to the studio's rules: one invoice that stands, credit up to it, any payment."""

    def __init__(self) -> None:
        self.facts: list[Fact] = []
        self.paid: defaultdict[int, int] = defaultdict(int)
        self.standing: defaultdict[int, int] = defaultdict(int)

    def do(self, what: str, job: int, pence: int, day: date, how: str) -> None:
        if what == "pay":
            amount = pence if pence % 3 else -pence
            self.paid[job] += amount
            money = Money.of_minor(amount, "GBP")
            self.facts.append(Paid(job=job, client="Wren", on=day, amount=money, how=how))
            return
        invoice = what == "invoice"
        if bool(self.standing[job]) == invoice:
            return
        net = pence if invoice else min(pence, self.standing[job])
        self.standing[job] += net if invoice else -net
        groups = (line(VAT, Money.of_minor(net, "GBP")),)
        self.facts.append(
            Issued(
                job=job, client="Wren", on=day, kind=what, written=f"{len(self.facts):05d}", groups=groups,
                total=groups[0].net + groups[0].tax,
            )
        )  # fmt: skip

    def owed(self, until: date, jobs: tuple[int, ...] = (1, 2, 3)) -> Money:
        """Invoiced less credited less paid by some jobs, added up by itself."""
        sums = gbp(0)
        for fact in self.facts:
            if fact.on <= until and fact.job in jobs:
                amount = -fact.amount if isinstance(fact, Paid) else fact.total
                credit_note = isinstance(fact, Issued) and fact.kind == "credit"
                sums += -amount if credit_note else amount
        return sums

    def apart(self, until: date) -> Owed:
        """The same, and in the end each account by itself; rounding of what is all credited stays receivable."""
        held = Money.of_minor(-sum(self.paid[n] for n in (1, 2, 3) if not self.standing[n]), "GBP")
        return owes(self.owed(until), self.owed(date.max) - held, held)


@given(st.lists(DOINGS, max_size=40), st.integers(0, 45), st.integers(0, 20))
def test_the_books_are_level_and_agree_after_whatever_happened(
    doings: list[tuple[str, int, int, int, str]], until: int, length: int
) -> None:
    office = Office()
    for n, (what, job, pence, beside, how) in enumerate(doings):
        office.do(what, job, pence, DAY + timedelta(days=n + beside), how)
    end = DAY + timedelta(days=until)
    made = books_of(
        entries_of(office.facts), since=end - timedelta(days=length), until=end, currency="GBP",
        owed=office.apart(end),
    )  # fmt: skip
    for entry in entries_of(office.facts):
        assert not add_up((amount for _, amount in entry.lines), "GBP")
    assert made.is_level
    assert made.agrees
    # Job by job: one without a standing invoice has all it was paid in deposits, one with has none there.
    for job in (1, 2, 3):
        mine = booked([f for f in office.facts if f.job == job], since=DAY - timedelta(days=9))
        held = 0 if office.standing[job] else office.paid[job]
        assert mine.after(DEPOSITS) == Money.of_minor(-held, "GBP")
        assert mine.after(RECEIVABLE) == office.owed(LATER, (job,)) + Money.of_minor(held, "GBP")


@pytest.mark.parametrize(
    ("owed", "agrees"),
    [
        (owes(gbp(70), gbp(70)), True),
        (owes(gbp(69), gbp(69)), False),
        (owes(gbp(70), gbp(120), gbp(-50)), False),  # alike in sum, each account wrong
    ],
)
def test_books_that_do_not_agree_say_so(owed: Owed, agrees: bool) -> None:
    made = booked([paid("50"), issued(line(VAT, gbp(100)))], owed=owed)
    assert made.is_level
    assert made.agrees is agrees


# --- rows, and what is taken away ---


@pytest.fixture
def taxed(access: Access) -> Access:
    access.studio.tax_number = "GB 123456789"
    access.studio.name = 'Quill "& moor" \\ sons'
    access.studio.save()
    return access


@pytest.fixture
def job(taxed: Access) -> Job:
    """Paid in part, invoiced, paid, credited in part."""
    job = an_accepted_job(taxed)
    job.client.name = '=HYPERLINK("x")\n"Wren"'
    job.client.save()
    today = timezone.localdate()
    record_payment(taxed, job, on=today, amount=Decimal(50), how="cash", reference='"R\\1"')
    row = issue_invoice(taxed, job, on=today)
    record_payment(taxed, job, on=today, amount=Decimal("60.01"), how="card", reference="")
    credit_invoice(taxed, row, Decimal("33.33"), "two minis fewer", on=today)
    return job


def this_year(access: Access) -> Books:
    today = timezone.localdate()
    return books(access, since=today.replace(month=1, day=1), until=today)


def test_receivable_is_invoiced_less_paid(taxed: Access, job: Job) -> None:
    made = this_year(taxed)
    assert made.is_level
    assert made.agrees
    total = Invoice.objects.get(kind="invoice").total
    # 33.33 net at 20 % is 6.67 tax (half up), so 40.00 with it.
    assert made.after(RECEIVABLE) == gbp(total - Decimal("110.01") - 40)
    assert made.after(DEPOSITS) == gbp(0)


def read(text: str) -> tuple[list[Any], dict[str, Decimal]]:
    """Entries and balances as Beancount reads them; its own checks of balance included."""
    entries, errors, _ = loader.load_string(text)
    assert errors == []
    sums: defaultdict[str, Inventory] = defaultdict(Inventory)
    for entry in data.filter_txns(entries):
        for posting in entry.postings:
            sums[posting.account].add_position(posting)
    told = {name: sums[name].get_currency_units("GBP").number for name in sums}
    return list(data.filter_txns(entries)), told


def test_another_program_reads_the_journal_to_the_same_balances(taxed: Access, job: Job) -> None:
    made = this_year(taxed)
    entries, told = read(write_journal(made, taxed.studio.name))
    assert len(entries) == len(made.entries) == 5
    assert told == {b.account.name: b.moved.amount for b in made.balances}
    assert entries[0].payee == '=HYPERLINK("x") "Wren"'
    assert entries[0].narration == 'Payment, "R\\1"'
    assert entries[0].links == {f"job-{job.number:04d}"}


def test_another_program_finds_what_was_changed_in_the_journal(taxed: Access, job: Job) -> None:
    text = write_journal(this_year(taxed), taxed.studio.name)
    _, errors, _ = loader.load_string(
        text.replace("  Assets:Cash  50.00", "  Assets:Cash  51.00", 1)
    )
    assert any("does not balance" in error.message for error in errors)


def test_an_empty_journal_is_one_too(taxed: Access) -> None:
    assert read(write_journal(this_year(taxed), taxed.studio.name)) == ([], {})


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_the_sheet_runs_account_by_account_to_the_same_balances(taxed: Access, job: Job) -> None:
    made = this_year(taxed)
    rows = rows_of(write_by_account(made))
    last = {row["account"]: Decimal(row["balance"]) for row in rows}
    assert last == {b.account.name: b.after.amount for b in made.balances}
    debits, credits_ = (
        sum(Decimal(row[side] or 0) for row in rows) for side in ("debit", "credit")
    )
    assert debits == credits_ > 0


def test_a_sheet_runs_no_formula_and_leaves_figures_figures(taxed: Access, job: Job) -> None:
    # OWASP, formula injection: words that begin with = + - @ get an apostrophe before them.
    rows = rows_of(write_by_account(this_year(taxed)))
    assert {row["client"] for row in rows} == {"", '\'=HYPERLINK("x")\n"Wren"'}
    assert any(row["balance"].startswith("-") for row in rows)


# --- pages ---


def test_the_journal_is_downloaded_for_a_time(browser: Browser, taxed: Access, job: Job) -> None:
    today = timezone.localdate()
    for kind, begins in (("beancount", 'option "title"'), ("csv", "account,")):
        at = reverse("jobs:journal", args=[kind])
        answer = browser.get(at, {"since": today.isoformat(), "until": today.isoformat()})
        assert answer.status_code == 200
        assert answer.content.decode().startswith(begins)
        assert f"{today}.{kind}" in answer["Content-Disposition"]
        assert answer["Cache-Control"] == "no-store"
    long_ago = {"since": "2001-01-01", "until": "2001-12-31"}
    text = browser.get(reverse("jobs:journal", args=["beancount"]), long_ago).content.decode()
    assert read(text) == ([], {})
    assert browser.get(reverse("jobs:journal", args=["xml"])).status_code == 404


def test_the_page_shows_the_trial_balance(browser: Browser, taxed: Access, job: Job) -> None:
    page = browser.get(reverse("jobs:reports"))
    foot = page.context["balances"].foot
    assert (foot[2], foot[3] - foot[4], foot[5]) == (gbp(0), gbp(0), gbp(0))
    text = page.content.decode()
    assert "the balances sum to zero" in text
    assert f"Clients owe £{page.context['receivable'].amount:,.2f} on invoices" in text


def test_books_that_do_not_agree_are_told_on_the_page(
    browser: Browser, taxed: Access, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    wrong = owes(gbp(1), gbp(1))
    monkeypatch.setattr("jobs.money.bookkeeping.owed_on", lambda access, on: wrong)
    assert "Do not use these books" in browser.get(reverse("jobs:reports")).content.decode()


def test_another_studio_and_crew_see_nothing_of_it(
    stranger: Access, crew: Access, taxed: Access, job: Job
) -> None:
    journal = reverse("jobs:journal", args=["csv"])
    assert rows_of(signed_in(stranger).get(journal).content.decode()) == []
    assert signed_in(crew).get(journal).status_code == 403
    assert signed_in(taxed).post(journal).status_code == 405


def test_the_books_ask_the_database_as_often_for_many_entries(taxed: Access, job: Job) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            this_year(taxed)
        return len(seen)

    few = queries()
    for n in range(4):
        record_payment(
            taxed, job, on=timezone.localdate(), amount=Decimal(n + 1), how="cash", reference=""
        )
    assert queries() == few


def test_the_journal_says_what_every_account_that_moved_comes_to_and_no_other(
    taxed: Access, job: Job
) -> None:
    made = this_year(taxed)
    entries, _, _ = loader.load_string(write_journal(made, taxed.studio.name))
    told = {e.account: e.amount.number for e in entries if isinstance(e, data.Balance)}
    assert told == {b.account.name: b.moved.amount for b in made.balances}
    assert len(told) > 2
    tomorrow = timezone.localdate() + timedelta(days=1)
    later = books(taxed, since=tomorrow, until=tomorrow)
    assert later.balances
    text = write_journal(later, taxed.studio.name)
    assert " balance " not in text
    assert " open " not in text

"""The books to take away: as a plain-text journal, and as CSV by account.

The journal keeps the openly documented syntax of Beancount (its "Language Syntax" manual), which other plain-text
bookkeeping tools read or convert.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from jobs.money.bookkeeping import Account, BookEntry, Books
from jobs.money.tables import Cells, write_csv
from pricing.core.money import Money

CSV_HEAD = (
    "account", "in words", "date", "job", "client", "what", "debit", "credit", "balance",
)  # fmt: skip


def write_journal(books: Books, title: str) -> str:
    """Accounts opened, entries by date, and what each account must come to, for the reader to check."""
    return "\n".join(_journal(books, title)) + "\n"


def _journal(books: Books, title: str) -> Iterator[str]:
    yield f'option "title" {_quoted(title)}'
    yield f'option "operating_currency" "{books.currency}"'
    yield f"; Entries from {books.since} to {books.until}. What stood before is not in them."
    moved = {account: None for entry in books.entries for account, _ in entry.lines}
    yield ""
    for account in sorted(moved):
        yield f"{books.since} open {account.name} {books.currency}"
    for entry in books.entries:
        yield ""
        yield from _written(entry)
    yield ""
    for balance in books.balances:
        if balance.account in moved:
            day = books.until + timedelta(days=1)  # a balance holds as the day begins
            yield f"{day} balance {balance.account.name}  {_amount(balance.moved)}"


def _written(entry: BookEntry) -> Iterator[str]:
    said = f"{_quoted(entry.client)} {_quoted(entry.words)}"
    yield f"{entry.on} * {said} ^job-{entry.job:04d}"
    for account, amount in entry.lines:
        yield f"  {account.name}  {_amount(amount)}"


def _amount(money: Money) -> str:
    return f"{money.amount} {money.currency}"


def _quoted(text: str) -> str:
    """A string in one line."""
    plain = " ".join(text.split()).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{plain}"'


def write_by_account(books: Books) -> str:
    """Account by account, each with its running balance from what stood before."""
    return write_csv(CSV_HEAD, _by_account(books))


def _by_account(books: Books) -> Iterator[Cells]:
    for balance in books.balances:
        account, now = balance.account, balance.before
        yield account.name, account.words, books.since, "", "", "brought forward", None, None, now
        for entry, amount in _of(books, account):
            now += amount
            debit, credit = (amount, None) if amount.amount > 0 else (None, -amount)
            yield (
                account.name, account.words, entry.on, f"{entry.job:04d}", entry.client, entry.words,
                debit, credit, now,
            )  # fmt: skip


def _of(books: Books, account: Account) -> Iterator[tuple[BookEntry, Money]]:
    for entry in books.entries:
        for its, amount in entry.lines:
            if its == account:
                yield entry, amount

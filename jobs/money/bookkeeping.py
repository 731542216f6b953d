"""The studio's money in double entry: every invoice, credit note and payment as an entry that sums to zero.

What a job's client pays while no invoice of it stands is held as a deposit; the invoice sets it against what is
owed, and a credit note that leaves nothing of the invoices gives it back to the deposits. So a job owes either
through its invoices or holds a deposit, never both. Debits are above zero, credits below (common practice).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.db.models import QuerySet, Sum

from jobs.models import Invoice, Payment
from pricing.core.money import Money, add_up
from pricing.core.tax import TaxGroup, TaxLine, tax_lines_from

if TYPE_CHECKING:
    from studio.access import Access


@dataclass(frozen=True, slots=True, order=True)
class Account:
    """An account by its name in the journal; two of one name are one account."""

    name: str
    words: str = field(compare=False)


RECEIVABLE = Account("Assets:Receivable", "receivable: clients owe it")
DEPOSITS = Account("Liabilities:Client-deposits", "client deposits")
RECEIVED = {
    Payment.How.TRANSFER: Account("Assets:Bank", "bank"),
    Payment.How.CASH: Account("Assets:Cash", "cash"),
    Payment.How.CARD: Account("Assets:Card-terminal", "card terminal"),
    Payment.How.CHEQUE: Account("Assets:Cheques", "cheques"),
    Payment.How.OTHER: Account("Assets:Other-ways", "paid in other ways"),
}
PAID_AS = {
    Payment.Kind.CAME: "Payment",
    Payment.Kind.REFUND: "Given back",
    Payment.Kind.BOUNCED: "Payment bounced",
    Payment.Kind.PUT_RIGHT: "Payment put right",
}


def sales(group: TaxGroup) -> Account:
    return Account(f"Income:Sales:{_coded(group)}", f"sales, {_named(group)}")


def tax_payable(group: TaxGroup) -> Account:
    return Account(f"Liabilities:Tax:{_coded(group)}", f"tax payable, {_named(group)}")


def _coded(group: TaxGroup) -> str:
    """Category (UNCL 5305) and rate: "S-20", "S-5-5"."""
    return f"{group.code}-{group.percent.normalize():f}".replace(".", "-")


def _named(group: TaxGroup) -> str:
    return f"{group.name} {group.percent.normalize():f} %"


@dataclass(frozen=True, slots=True, kw_only=True)
class Paid:
    """Money that came, or (negative) went back."""

    job: int
    client: str
    on: date
    amount: Money
    how: str
    kind: str = Payment.Kind.CAME
    reference: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """An invoice or a credit note."""

    job: int
    client: str
    on: date
    kind: str
    written: str
    groups: tuple[TaxLine, ...]
    total: Money


type Fact = Paid | Issued


@dataclass(frozen=True, slots=True, kw_only=True)
class BookEntry:
    """One entry: what happened, and the accounts that it moves. ValueError unless it sums to zero."""

    on: date
    job: int
    client: str
    words: str
    lines: tuple[tuple[Account, Money], ...]

    def __post_init__(self) -> None:
        over = sum((amount.amount for _, amount in self.lines), Decimal(0))
        if over:
            raise ValueError(f"{self.words}: expected debits and credits alike, got {over} over.")


def entries_of(facts: Iterable[Fact]) -> Iterator[BookEntry]:
    """The entries of facts that come in the order in which they were written down.

    That order, not the date on them, says what an invoice knew of: a payment that was written down after it and
    dated before it pays the invoice. All that a job paid till then goes over together, whatever part of it the
    paper shows: what is beyond the invoice is owed to the client there, until it is given back.
    """
    standing: defaultdict[int, Decimal] = defaultdict(Decimal)  # net that is not credited, by job
    paid: defaultdict[int, Decimal] = defaultdict(Decimal)
    for fact in facts:
        stood = bool(standing[fact.job])
        if isinstance(fact, Paid):
            yield _paid(fact, RECEIVABLE if stood else DEPOSITS)
            paid[fact.job] += fact.amount.amount
            continue
        yield _issued(fact)
        net = sum((line.net.amount for line in fact.groups), Decimal(0))
        standing[fact.job] += net if fact.kind == Invoice.Kind.INVOICE else -net
        stands, held = bool(standing[fact.job]), Money(paid[fact.job], fact.total.currency)
        if held and stands != stood:
            words = "set against invoice" if stands else "free again with credit note"
            moved = held if stands else -held
            yield _entry(
                fact, f"Deposit {words} {fact.written}", ((DEPOSITS, moved), (RECEIVABLE, -moved))
            )


def _entry(fact: Fact, words: str, lines: Iterable[tuple[Account, Money]]) -> BookEntry:
    kept = tuple((account, amount) for account, amount in lines if amount)
    return BookEntry(on=fact.on, job=fact.job, client=fact.client, words=words, lines=kept)


def _paid(fact: Paid, against: Account) -> BookEntry:
    words = PAID_AS[Payment.Kind(fact.kind)]
    if fact.kind == Payment.Kind.CAME and fact.amount.amount < 0:
        words = PAID_AS[Payment.Kind.REFUND]
    words += f", {fact.reference}" if fact.reference else ""
    received = RECEIVED[Payment.How(fact.how)]
    return _entry(fact, words, ((received, fact.amount), (against, -fact.amount)))


def _issued(fact: Issued) -> BookEntry:
    """Receivable against sales and tax; a credit note is the reverse."""
    way = 1 if fact.kind == Invoice.Kind.INVOICE else -1
    lines = [(RECEIVABLE, fact.total * way)]
    lines += [(sales(line.group), line.net * -way) for line in fact.groups]
    lines += [(tax_payable(line.group), line.tax * -way) for line in fact.groups]
    return _entry(fact, f"{Invoice.Kind(fact.kind).label.capitalize()} {fact.written}", lines)


# --- the books of a span ---


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """An account over a span."""

    account: Account
    before: Money
    debit: Money
    credit: Money  # below zero

    @property
    def moved(self) -> Money:
        return self.debit + self.credit

    @property
    def after(self) -> Money:
        return self.before + self.moved


@dataclass(frozen=True, slots=True, kw_only=True)
class Owed:
    """What clients owe, added up from the rows themselves."""

    by_then: Money  # by the end of a span: invoiced less credited less paid, deposits taken off
    receivable: Money  # of everything written down: by jobs with an invoice that stands
    deposits: Money  # and what jobs without one paid, below zero


@dataclass(frozen=True, slots=True, kw_only=True)
class Books:
    """Entries of a span by date, and every account's balance before and after."""

    since: date
    until: date
    currency: str
    entries: tuple[BookEntry, ...]
    balances: tuple[Balance, ...]
    owed: Owed
    whole: dict[Account, Money]  # each account after all that was written down, whatever its date

    def after(self, account: Account) -> Money:
        mine = (b.after for b in self.balances if b.account == account)
        return add_up(mine, self.currency)

    @property
    def is_level(self) -> bool:
        """A trial balance sums to zero (common practice)."""
        sides = ((b.before, b.moved) for b in self.balances)
        return not any(add_up(side, self.currency) for side in zip(*sides, strict=True))

    @property
    def agrees(self) -> bool:
        """Whether receivable and deposits say what invoices less payments do: both at the end of the span, and each
        alone over everything, where no date lies between a payment and the invoice that knew of it.
        """
        nothing = Money(Decimal(0), self.currency)
        return (
            self.after(RECEIVABLE) + self.after(DEPOSITS) == self.owed.by_then
            and self.whole.get(RECEIVABLE, nothing) == self.owed.receivable
            and self.whole.get(DEPOSITS, nothing) == self.owed.deposits
        )


def books_of(
    entries: Iterable[BookEntry], *, since: date, until: date, currency: str, owed: Owed
) -> Books:
    """The books of a span, both days in it."""
    nothing = Money(Decimal(0), currency)
    known: dict[Account, list[Money]] = {}
    whole: dict[Account, Money] = {}
    inside = []
    for entry in entries:
        for account, amount in entry.lines:
            whole[account] = whole.get(account, nothing) + amount
        if entry.on > until:
            continue
        if entry.on >= since:
            inside.append(entry)
        for account, amount in entry.lines:
            sums = known.setdefault(account, [nothing, nothing, nothing])
            place = 0 if entry.on < since else 1 if amount > nothing else 2
            sums[place] += amount
    return Books(
        since=since, until=until, currency=currency, owed=owed, whole=whole,
        entries=tuple(sorted(inside, key=lambda e: e.on)),
        balances=tuple(
            Balance(account=account, before=sums[0], debit=sums[1], credit=sums[2])
            for account, sums in sorted(known.items())
        ),
    )  # fmt: skip


def books(access: Access, *, since: date, until: date) -> Books:
    """The studio's books of a span, from its rows."""
    return books_of(
        entries_of(money_facts_of(access)), since=since, until=until, currency=access.studio.currency,
        owed=owed_on(access, until),
    )  # fmt: skip


def money_facts_of(access: Access) -> list[Fact]:
    """Every payment, invoice and credit note, in the order in which they were written down."""
    currency = access.studio.currency
    payments = access.rows(Payment).select_related("job__client")
    invoices = access.rows(Invoice).defer("pdf", "xml").select_related("job__client")
    found: list[tuple[tuple[Any, ...], Fact]] = [
        ((row.entered_at, 0, row.pk), _as_paid(row, currency)) for row in payments
    ]
    found += [((row.made_at, 1, row.pk), _as_issued(row, currency)) for row in invoices]
    return [fact for _, fact in sorted(found, key=lambda pair: pair[0])]


def _as_paid(row: Payment, currency: str) -> Paid:
    return Paid(
        job=row.job.number, client=row.job.client.name, on=row.on, amount=Money(row.amount, currency),
        how=row.how, kind=row.kind, reference=row.reference,
    )  # fmt: skip


def _as_issued(row: Invoice, currency: str) -> Issued:
    return Issued(
        job=row.job.number, client=row.job.client.name, on=row.issued_on, kind=row.kind,
        written=row.written, groups=tax_lines_from(row.groups, currency),
        total=Money(row.total, currency),
    )  # fmt: skip


def owed_on(access: Access, on: date) -> Owed:
    """What clients owe by a date, less what they paid ahead, and what each job comes to in the end."""
    currency, papers, payments = access.studio.currency, access.rows(Invoice), access.rows(Payment)
    paid = payments.filter(on__lte=on).aggregate(sum=Sum("amount"))["sum"] or Decimal(0)
    by_then = sum(_by_job(papers.filter(issued_on__lte=on), "total").values(), Decimal(0)) - paid
    stands, deposits = _by_job(papers, "net"), Decimal(0)
    receivable = sum(_by_job(papers, "total").values(), Decimal(0))
    for job, amount in payments.values_list("job").annotate(sum=Sum("amount")):
        if stands[job]:
            receivable -= amount
        else:
            deposits -= amount
    return Owed(
        by_then=Money(by_then, currency), receivable=Money(receivable, currency),
        deposits=Money(deposits, currency),
    )  # fmt: skip


def _by_job(papers: QuerySet[Invoice], figure: str) -> defaultdict[int, Decimal]:
    """A figure of invoices less that of credit notes, by job."""
    sums: defaultdict[int, Decimal] = defaultdict(Decimal)
    for job, kind, many in papers.values_list("job", "kind").annotate(sum=Sum(figure)):
        sums[job] += many if kind == Invoice.Kind.INVOICE else -many
    return sums

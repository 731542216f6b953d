"""Entries of every kind, receipts and statements of account."""

from __future__ import annotations

import io
import uuid
from decimal import Decimal
from typing import Any

import pikepdf
import pypdfium2
import pytest
from django.db import connection
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from jobs.models import Job, LogEntry, Payment
from jobs.money.invoicing import credit_invoice, issue_invoice
from jobs.money.ledger import CannotRecord, record_payment, standing_of
from jobs.money.papers import account_lines
from jobs.records import record_faults, vouch_payment
from studio.access import Access
from studio.append_only import lower_guards, raise_guards
from tests.conftest import signed_in
from tests.jobs.test_cancelling import an_accepted_job, off, pay

LONG = "Wilhelmina-Henrietta Featherstonehaugh-Cholmondeley " * 2


@pytest.fixture
def job(access: Access) -> Job:
    access.studio.tax_number = "GB 123456789"
    access.studio.save()
    return an_accepted_job(access)


def enter(browser: Browser, job: Job, kind: str, amount: object, **more: object) -> Any:
    told = {"on": timezone.localdate().isoformat(), "amount": str(amount), "how": "transfer", "reference": "R1",
            "kind": kind, "form_key": str(uuid.uuid4()), **more}  # fmt: skip
    return browser.post(reverse("jobs:payment", args=[job.number]), told)


def text_of(content: bytes) -> str:
    pdf = pypdfium2.PdfDocument(content)
    return "\n".join(page.get_textpage().get_text_range() for page in pdf)


def receipt(browser: Browser, entry: Payment) -> Any:
    return browser.get(reverse("jobs:receipt", args=[entry.job.number, entry.pk]))


# --- entries ---


def test_each_kind_is_typed_above_zero_and_kept_with_its_sign(browser: Browser, job: Job) -> None:
    enter(browser, job, "came", 250)
    first = Payment.objects.get()
    enter(browser, job, "bounced", 100, of=str(first.pk))
    enter(browser, job, "put_right", "-20", of=str(first.pk))
    enter(browser, job, "refund", 30)
    rows = Payment.objects.order_by("pk").values_list("kind", "amount", "of")
    assert list(rows) == [
        ("came", 250, None), ("bounced", -100, first.pk), ("put_right", -20, first.pk), ("refund", -30, None),
    ]  # fmt: skip
    page = browser.get(reverse("jobs:payment", args=[job.number])).content.decode()
    assert "bounced, that of" in page
    assert page.count(">Receipt<") == 2


@pytest.mark.parametrize(
    ("kind", "amount", "of", "says"),
    [
        ("came", "-5", "", "expected more than zero, got -5"),
        ("refund", "-5", "", "expected more than zero"),
        ("refund", "301", "", "expected at most the £300.00 that came, got £301.00"),
        ("bounced", "301", "first", "expected no more than the £300.00 that stands of that entry"),
        ("bounced", "5", "", "Which entry: expected one of this job"),
        ("put_right", "5", "", "Which entry: expected one of this job"),
        ("put_right", "-301", "first", "expected no more than the £300.00"),
        ("bounced", "5", "stranger", "Select a valid choice"),
        ("gone", "5", "", "Select a valid choice"),
    ],
)
def test_an_entry_that_cannot_be_gets_a_sentence(
    browser: Browser, access: Access, job: Job, kind: str, amount: str, of: str, says: str
) -> None:
    pay(access, job, 300)
    other = an_accepted_job(access)
    pay(access, other, 900)
    known = {"": "", "first": str(job.payments.get().pk), "stranger": str(other.payments.get().pk)}
    answer = enter(browser, job, kind, amount, of=known[of])
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert f'value="{amount}"' in answer.content.decode()
    assert job.payments.count() == 1


def test_a_bounce_beside_a_bounce_cannot_exceed_the_entry(access: Access, job: Job) -> None:
    pay(access, job, 300)
    first = job.payments.get()
    pay(access, job, -200, kind="bounced", of=first)
    with pytest.raises(CannotRecord, match=r"no more than the £100\.00"):
        pay(access, job, "-100.01", kind="bounced", of=first)
    pay(access, job, -100, kind="bounced", of=first)
    with pytest.raises(CannotRecord, match="expected money that came in"):
        pay(access, job, -1, kind="bounced", of=job.payments.filter(kind="bounced").first())


def test_money_given_back_can_be_put_right_but_cannot_bounce(access: Access, job: Job) -> None:
    pay(access, job, 300)
    pay(access, job, -50, kind="refund")
    refund = job.payments.get(kind="refund")
    with pytest.raises(CannotRecord, match="expected money that came in"):
        pay(access, job, 50, kind="bounced", of=refund)
    pay(access, job, 10, kind="put_right", of=refund)
    assert sum(entry.amount for entry in job.payments.all()) == 260


def test_too_much_is_told_and_giving_it_back_is_offered(
    browser: Browser, access: Access, job: Job
) -> None:
    rich = access.rows(Job).with_money().get(pk=job.pk)
    now = standing_of(rich, on=timezone.localdate(), currency="GBP")
    assert now
    pay(access, job, now.total.amount + 50)
    page = browser.get(reverse("jobs:payment", args=[job.number])).content.decode()
    assert "Paid beyond it" in page
    assert "£50.00 too much is here" in page
    form = browser.get(reverse("jobs:payment", args=[job.number]), {"refund": "1"}).context["form"]
    assert (form["kind"].value(), Decimal(form["amount"].value())) == ("refund", 50)
    assert [job.pk] == [j.pk for _, j in browser.get(reverse("jobs:money")).context["back"]]


def test_the_line_of_a_plain_payment_names_no_kind(access: Access, job: Job) -> None:
    """So it reads as lines that were sealed before there were kinds; the row is vouched for beside it."""
    pay(access, job, 300)
    first = job.payments.get()
    plain = {"payment", "amount", "on", "how", "reference", "row"}
    assert set(vouch_payment(first)) == plain
    pay(access, job, -20, kind="bounced", of=first)
    assert set(vouch_payment(job.payments.get(kind="bounced"))) == {*plain, "kind", "of"}
    said = set(LogEntry.objects.filter(job=job).values_list("what", flat=True))
    assert {"Payment of £300.00 written down", "Bounced payment: -£20.00 written down"} <= said
    assert list(record_faults(access)) == []


@pytest.mark.parametrize("change", ["kind = 'refund'", "of_id = NULL"])
def test_a_changed_kind_is_found(access: Access, job: Job, change: str) -> None:
    pay(access, job, 300)
    pay(access, job, -20, kind="bounced", of=job.payments.get())
    lower_guards()
    try:
        with connection.cursor() as cursor:
            cursor.execute(f"UPDATE jobs_payment SET {change} WHERE kind = 'bounced'")
        assert "a payment of -20 is missing or was changed" in " ".join(record_faults(access))
    finally:
        raise_guards()


# --- receipts ---


def test_a_receipt_says_number_amount_how_and_what_remains(
    browser: Browser, access: Access, job: Job
) -> None:
    pay(access, job, 100)
    pay(access, job, "50.5")
    last = job.payments.order_by("pk").last()
    assert last
    answer = receipt(browser, last)
    assert answer.headers["Content-Type"] == "application/pdf"
    text = text_of(answer.content)
    total = standing_of(
        access.rows(Job).with_money().get(pk=job.pk), on=timezone.localdate(), currency="GBP"
    ).total  # type: ignore[union-attr]
    for word in (
        f"Receipt R-{job.number:04d}-2", "£50.50", "bank transfer", job.client.name, "£150.50",
        f"£{total.amount - Decimal('150.5'):,.2f}",
    ):  # fmt: skip
        assert word in text


def test_a_receipt_printed_again_says_the_same_until_its_entry_is_put_right(
    browser: Browser, access: Access, job: Job
) -> None:
    pay(access, job, 100)
    first = job.payments.get()
    before = text_of(receipt(browser, first).content)
    pay(access, job, 70)
    off(access, job)
    assert text_of(receipt(browser, first).content) == before
    pay(access, job, -100, kind="bounced", of=first)
    after = text_of(receipt(browser, first).content)
    assert "Payment bounced" in after
    assert "Of this receipt stands £0.00" in after.replace("\r\n", " ")


def test_money_given_back_has_a_receipt_and_a_bounce_has_none(
    browser: Browser, access: Access, job: Job
) -> None:
    pay(access, job, 100)
    first = job.payments.get()
    pay(access, job, -30, kind="refund")
    pay(access, job, -20, kind="bounced", of=first)
    assert "Given back: £30.00" in text_of(
        receipt(browser, job.payments.get(kind="refund")).content
    )
    assert receipt(browser, job.payments.get(kind="bounced")).status_code == 404


def test_receipts_are_the_offices_and_the_studios_own(
    access: Access, crew: Access, stranger: Access, job: Job
) -> None:
    pay(access, job, 100)
    assert receipt(signed_in(crew), job.payments.get()).status_code == 403
    assert receipt(signed_in(stranger), job.payments.get()).status_code == 404


# --- the statement ---


def test_a_statement_runs_through_invoices_credits_and_payments(
    browser: Browser, access: Access, job: Job
) -> None:
    on = timezone.localdate()
    pay(access, job, 100)
    first = issue_invoice(access, job, on=on)
    part = credit_invoice(access, first, Decimal(10), "one mini fewer", on=on)
    pay(access, job, -40, kind="refund")
    lines = account_lines(job.invoices.order_by("number"), job.payments.all(), "GBP")
    amounts = [line.amount.amount for line in lines]
    assert amounts == [first.total, -part.total, -100, 40]
    running = [sum(amounts[: n + 1]) for n in range(4)]
    assert [line.balance.amount for line in lines] == running
    answer = browser.get(reverse("jobs:statement", args=[job.number]))
    text = text_of(answer.content)
    for word in (f"Invoice {first.written}", f"Credit note {part.written} to invoice {first.written}", "Given back",
                 f"£{running[-1]:,.2f}", "Balance to be paid", "What is due when", "Deposit"):  # fmt: skip
        assert word in text


def test_before_an_invoice_what_was_agreed_stands_in_its_place(
    browser: Browser, access: Access, job: Job
) -> None:
    pay(access, job, 100)
    left = Decimal(job.offers.get().figures["total"]) - 100
    text = text_of(browser.get(reverse("jobs:statement", args=[job.number])).content)
    assert f"Agreed with proposal {job.number:04d}-1, the invoice is still to come" in text
    for words in ("Balance to be paid", "Left to pay"):
        assert f"{words} £{left:,.2f}" in text


def test_after_a_call_off_the_statement_comes_out_even(
    browser: Browser, access: Access, job: Job
) -> None:
    issue_invoice(access, job, on=timezone.localdate())
    pay(access, job, 400)
    row = off(access, job, "10")
    pay(access, job, -row.refund, kind="refund")
    lines = account_lines(job.invoices.order_by("number"), job.payments.all(), "GBP")
    assert lines[-1].balance.amount == 0
    text = text_of(browser.get(reverse("jobs:statement", args=[job.number])).content)
    assert "10 % of the total" in text
    assert "Local consumer law comes first" in text


@pytest.mark.parametrize(("paper", "size"), [("A4", (595.28, 841.89)), ("letter", (612, 792))])
def test_both_papers_are_tagged_on_the_studios_paper_and_break_long_names(
    browser: Browser, access: Access, paper: str, size: tuple[float, float]
) -> None:
    # ISO 216 A4 210 × 297 mm; US Letter 8.5 × 11 in; at 72 points an inch.
    access.studio.paper, access.studio.name = paper, LONG[:118]
    access.studio.save()
    job = an_accepted_job(access, title=("Q" * 119), client__name=LONG[:118])
    record_payment(
        access, job, on=timezone.localdate(), amount=Decimal(5), how="other", reference="W" * 80
    )
    entry = job.payments.get()
    for at in (
        reverse("jobs:receipt", args=[job.number, entry.pk]),
        reverse("jobs:statement", args=[job.number]),
    ):
        content = browser.get(at).content
        with pikepdf.open(io.BytesIO(content)) as pdf:
            assert pdf.Root.MarkInfo.Marked
            assert pdf.Root.StructTreeRoot is not None
        for page in pypdfium2.PdfDocument(content):
            assert page.get_size() == pytest.approx(size, abs=0.1)
            boxes = [
                page.get_textpage().get_charbox(i) for i in range(page.get_textpage().count_chars())
            ]
            assert max(right for _, _, right, _ in boxes) < size[0] - 28  # inside a margin of 1 cm

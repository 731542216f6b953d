"""Records that vouch for one another: one changed byte is found."""

from __future__ import annotations

import io
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.utils import timezone

from jobs.day.moving_event import move_event
from jobs.log import write_log
from jobs.models import (
    Acceptance,
    Cancellation,
    EventMove,
    Invoice,
    Job,
    LogEntry,
    Offer,
    Payment,
)  # fmt: skip
from jobs.money.cancelling import cancel_job, preview_cancellation
from jobs.money.invoicing import credit_invoice, issue_invoice
from jobs.money.ledger import record_payment
from jobs.proposal.accepting import ClientYes, accept_offer
from jobs.proposal.offering import Words, send_offer
from jobs.records import record_faults
from jobs.seals import document_digest, seal_line, seal_row
from studio.access import Access
from studio.append_only import lower_guards, raise_guards
from studio.models import Studio
from tests.factories import a_designed_job


@pytest.fixture
def job(access: Access) -> Job:
    job = a_designed_job(access)
    words = Words(greeting="Dear you,", note="")
    offer = send_offer(access, job, words, at=timezone.now(), link_for=lambda token: f"/o/{token}/")
    yes = ClientYes(name="Rufus Amadi", wording="I accept.", address="127.0.0.1", agent="a browser")
    accept_offer(access, offer, yes, at=timezone.now())
    record_payment(access, job, on=timezone.localdate(), amount=Decimal("120.5"), how="transfer", reference="x")  # fmt: skip
    return job


@pytest.fixture
def unguarded(db: None) -> Any:
    """Somebody with the database in their hands."""
    lower_guards()
    yield
    raise_guards()


def test_untouched_records_are_as_they_were_written(access: Access, job: Job) -> None:
    assert list(record_faults(access)) == []
    out = io.StringIO()
    call_command("verify_records", stdout=out)
    assert "as they were written" in out.getvalue()


@pytest.mark.parametrize(
    ("table", "change", "says"),
    [
        ("jobs_offer", "article = replace(article, 'Dear', 'dear')", "proposal version 1 was changed"),
        ("jobs_acceptance", "name = 'Somebody Else'", "the client’s yes to version 1 is missing or was changed"),
        ("jobs_payment", "amount = 20.5", "a payment of 120.5 is missing or was changed"),
        ("jobs_logentry", "what = replace(what, 'sent', 'sold')", "was changed"),
        ("jobs_logentry", "at = '2020-01-01 00:00:00+00'", "was changed"),
    ],
)  # fmt: skip
def test_a_changed_row_is_found(
    access: Access, job: Job, unguarded: None, table: str, change: str, says: str
) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"UPDATE {table} SET {change}")
    assert says in " ".join(record_faults(access))
    with pytest.raises(SystemExit):
        call_command("verify_records", stdout=io.StringIO())


def test_one_changed_byte_of_a_pdf_is_found(access: Access, job: Job, unguarded: None) -> None:
    offer = Offer.objects.get()
    pdf = bytearray(bytes(offer.pdf))
    pdf[len(pdf) // 2] ^= 1
    Offer.objects.filter(pk=offer.pk).update(pdf=bytes(pdf))
    assert "the PDF of proposal version 1 was changed" in " ".join(record_faults(access))


def test_a_line_or_row_taken_out_is_found(access: Access, job: Job, unguarded: None) -> None:
    lines = LogEntry.objects.filter(job=job).order_by("pk")
    LogEntry.objects.filter(pk=lines[1].pk).delete()
    assert "is missing or was changed" in " ".join(record_faults(access))
    Payment.objects.all().delete()
    Acceptance.objects.all().delete()
    said = " ".join(record_faults(access))
    assert "a payment of 120.5 is missing" in said
    assert "the client’s yes" in said


def test_lines_from_before_the_seals_are_let_be(access: Access) -> None:
    job = a_designed_job(access)
    access.add(LogEntry, job=job, what="Enquiry opened", at=timezone.now())
    write_log(access, job, "Brief changed")
    assert list(record_faults(access)) == []


@pytest.fixture
def sealed(access: Access, job: Job, stranger: Access) -> Job:
    """A job with a row of every kind that its log vouches for, and others that a row could be hung on instead."""
    Studio.objects.update(tax_number="GB123456789")
    access.studio.refresh_from_db()
    today = timezone.localdate()
    bill = issue_invoice(access, job, on=today)
    credit_invoice(access, bill, Decimal("10.00"), "late", on=today)
    record_payment(
        access, job, on=today, amount=Decimal(-5), how="cash", reference="", kind="refund"
    )
    job.refresh_from_db()
    move_event(access, job, job.event_start + timedelta(days=7), why="rain")
    other = a_designed_job(access, title="Another job")
    send_offer(
        access,
        other,
        Words(greeting="", note=""),
        at=timezone.now(),
        link_for=lambda token: f"/o/{token}/",
    )
    job.refresh_from_db()
    a_designed_job(access, title="A third")
    seen = preview_cancellation(access, job, on=today).seen
    cancel_job(access, job, on=today, percent=None, why="ill", seen=seen)
    return job


SEALED = (Acceptance, Cancellation, LogEntry, Invoice, Offer, Payment, EventMove)


def another(row: Any, field: Any) -> Any:
    """A value that could stand in a column just as well."""
    now = getattr(row, field.attname)
    if field.is_relation:
        others = field.related_model._default_manager.exclude(pk=now)
        return others.order_by("-pk").values_list("pk", flat=True)[0]
    if field.choices:
        return next(key for key, _ in field.choices if key != now)
    match field.get_internal_type():
        case "DateTimeField" | "DateField":
            return now + timedelta(days=1)
        case "DecimalField" | "IntegerField" | "PositiveIntegerField":
            return now + 100
        case "JSONField":
            return [*now, 1] if isinstance(now, list) else {**now, "more": 1}
        case "BinaryField":
            return bytes(now or b"") + b"x"
        case "GenericIPAddressField":
            return "127.0.0.2"
    return f"{now}x"[-64:]


def test_a_change_of_any_column_of_a_sealed_row_is_named(
    access: Access, sealed: Job, unguarded: None
) -> None:
    assert list(record_faults(access)) == []
    for model in SEALED:
        rows = list(model._default_manager.order_by("pk"))
        assert rows, model
        for field in model._meta.concrete_fields:
            for row in rows if field.name != "id" else ():
                one = model._default_manager.filter(pk=row.pk)
                one.update(**{field.attname: another(row, field)})
                said = list(record_faults(access))
                assert said, (row, field.name)
                one.update(**{field.attname: getattr(row, field.attname)})
    assert list(record_faults(access)) == []


def test_lines_from_before_whole_rows_were_sealed_tell_what_they_told(
    access: Access, job: Job, unguarded: None
) -> None:
    """As they stand in databases that were filled earlier: no word of the whole row."""
    before = ""
    for line in LogEntry.objects.filter(job=job).order_by("pk"):
        told = {name: value for name, value in line.data.items() if name != "row"}
        facts = {
            "job": job,
            "who": line.who,
            "what": line.what,
            "data": told,
            "at": line.at,
            "before": before,
        }
        mark = seal_line(**facts)
        LogEntry.objects.filter(pk=line.pk).update(data=told, before=before, sha256=mark)
        before = mark
    assert list(record_faults(access)) == []
    Payment.objects.update(amount=20)
    assert list(record_faults(access)) == [
        f"Job {job.number:04d}: a payment of 120.5 is missing or was changed."
    ]


def test_a_column_that_came_later_leaves_old_seals_whole(access: Access, job: Job) -> None:
    payment = Payment.objects.get()
    told = seal_row(payment, ["amount", "on"])
    assert told["columns"] == ["amount", "on"]
    assert seal_row(payment, told["columns"]) == told
    payment.reference = "another"
    assert seal_row(payment, told["columns"]) == told
    payment.amount += 1
    assert seal_row(payment, told["columns"]) != told


def test_of_two_corrections_the_last_one_holds(access: Access, job: Job, unguarded: None) -> None:
    row = job.designs.get(chosen=True)
    for name in ("Smaller", "Larger"):
        row.document["pieces"][0]["name"] = name
        row.save()
        told = {"corrected": "design", "is": document_digest(row.document)}
        write_log(access, job, f"Design corrected: {name}", told)
        assert list(record_faults(access)) == []
    row.document["pieces"][0]["name"] = "Smaller"
    row.save()
    assert [f.partition(": ")[2] for f in record_faults(access)] == [
        "the design was changed since its last correction."
    ]

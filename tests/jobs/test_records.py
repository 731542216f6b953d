"""Records that vouch for one another: one changed byte is found."""

from __future__ import annotations

import io
from decimal import Decimal
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.utils import timezone

from jobs.briefs import note
from jobs.models import Acceptance, Happening, Job, Offer, Payment
from jobs.money.ledger import record_payment
from jobs.proposal.accepting import Yes, accept
from jobs.proposal.offering import Words, send_offer
from jobs.records import faults
from studio.append_only import lower_guards, raise_guards
from studio.door import SeatAt
from tests.factories import a_designed_job


@pytest.fixture
def job(seat: SeatAt) -> Job:
    job = a_designed_job(seat)
    words = Words(greeting="Dear you,", note="")
    offer = send_offer(seat, job, words, at=timezone.now(), link_for=lambda token: f"/o/{token}/")
    yes = Yes(name="Rufus Amadi", wording="I accept.", address="127.0.0.1", agent="a browser")
    accept(seat, offer, yes, at=timezone.now())
    record_payment(seat, job, on=timezone.localdate(), amount=Decimal("120.5"), how="transfer", reference="x")  # fmt: skip
    return job


@pytest.fixture
def unguarded(db: None) -> Any:
    """Somebody with the database in their hands."""
    lower_guards()
    yield
    raise_guards()


def test_untouched_records_are_as_they_were_written(seat: SeatAt, job: Job) -> None:
    assert list(faults(seat)) == []
    out = io.StringIO()
    call_command("verify_records", stdout=out)
    assert "as they were written" in out.getvalue()


@pytest.mark.parametrize(
    ("table", "change", "says"),
    [
        ("jobs_offer", "article = replace(article, 'Dear', 'dear')", "proposal version 1 was changed"),
        ("jobs_acceptance", "name = 'Somebody Else'", "the client’s yes to version 1 is missing or was changed"),
        ("jobs_payment", "amount = 20.5", "a payment of 120.5 is missing or was changed"),
        ("jobs_happening", "what = replace(what, 'sent', 'sold')", "was changed"),
        ("jobs_happening", "at = '2020-01-01 00:00:00+00'", "was changed"),
    ],
)  # fmt: skip
def test_a_changed_row_is_found(
    seat: SeatAt, job: Job, unguarded: None, table: str, change: str, says: str
) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"UPDATE {table} SET {change}")
    assert says in " ".join(faults(seat))
    with pytest.raises(SystemExit):
        call_command("verify_records", stdout=io.StringIO())


def test_one_changed_byte_of_a_pdf_is_found(seat: SeatAt, job: Job, unguarded: None) -> None:
    offer = Offer.objects.get()
    pdf = bytearray(bytes(offer.pdf))
    pdf[len(pdf) // 2] ^= 1
    Offer.objects.filter(pk=offer.pk).update(pdf=bytes(pdf))
    assert "the PDF of proposal version 1 was changed" in " ".join(faults(seat))


def test_a_line_or_row_taken_out_is_found(seat: SeatAt, job: Job, unguarded: None) -> None:
    lines = Happening.objects.filter(job=job).order_by("pk")
    Happening.objects.filter(pk=lines[1].pk).delete()
    assert "is missing or was changed" in " ".join(faults(seat))
    Payment.objects.all().delete()
    Acceptance.objects.all().delete()
    said = " ".join(faults(seat))
    assert "a payment of 120.5 is missing" in said
    assert "the client’s yes" in said


def test_lines_from_before_the_seals_are_let_be(seat: SeatAt) -> None:
    job = a_designed_job(seat)
    seat.add(Happening, job=job, what="Enquiry opened", at=timezone.now())
    note(seat, job, "Brief changed")
    assert list(faults(seat)) == []

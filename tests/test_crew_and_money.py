"""A crew member meets no sum of money, on no address, in no file."""

from __future__ import annotations

import re
from decimal import Decimal

import pypdfium2
import pytest
from babel.numbers import list_currencies
from django.http import HttpResponse
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from jobs.log import write_log
from jobs.models import Invoice, Job, Offer, Payment, Venue
from pricing.core.money import Money, write_money
from studio.access import Access
from studio.forms import LANGUAGES
from studio.sums import SUM, without_sums
from tests.conftest import signed_in
from tests.factories import a_designed_job, an_access
from tests.walk import PUBLIC, every_address, furnished

SIGNED = re.compile(r"[£€$]\s?\d|\d\s?(?:£|€|\$|GBP)|GBP\s?\d")


def words_of(answer: HttpResponse) -> str:
    """What a person reads of an answer, and what stands in its fields; a drawing inside has other figures."""
    kind = answer.headers["Content-Type"]
    if kind == "application/pdf":
        return "".join(
            page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(answer.content)
        )
    return re.sub(r"<svg.*?</svg>", "", answer.content.decode(), flags=re.S)


def sums_of(access: Access) -> set[str]:
    """What was offered, paid and invoiced, as it is written."""
    money: list[Decimal] = [
        *access.rows(Payment).values_list("amount", flat=True),
        *access.rows(Invoice).values_list("total", flat=True),
    ]
    money += [Decimal(due["amount"]) for offer in access.rows(Offer) for due in offer.schedule]
    money += [Decimal(offer.figures["total"]) for offer in access.rows(Offer)]
    return {f"{amount:.2f}" for amount in money} - {"0.00"}


def test_crew_meet_no_sum_of_money_on_any_address(db: None) -> None:
    access = furnished()
    job = access.row(Job, number=2)
    access.rows(Job).filter(pk=job.pk).update(notes="They pay £300 in cash, 20 GBP for the key")
    access.rows(Venue).filter(pk=job.venue_id).update(access="Parking is £12.50 a day")
    write_log(access, job, "Asked for $40 more by telephone")
    sums, crew = sums_of(access), signed_in(an_access("crew", access.studio))
    assert len(sums) > 5
    met, read = [], set()
    drawn = re.compile(r"\.(svg|png|jpeg)$|/photo")  # looked at, not read
    for at in every_address(access):
        if at.name in PUBLIC or drawn.search(at.path):
            continue
        answer = crew.get(at.path)
        if answer.status_code == 200:
            read.add(at.name)
            text = words_of(answer)
            met += [(at.path, found[0]) for found in SIGNED.finditer(text)]
            met += [(at.path, amount) for amount in sums if amount in text]
    assert met == []
    assert {"jobs:brief", "jobs:build", "jobs:list-pdf", "jobs:today", "pricing:stores"} <= read


def test_the_walk_would_have_met_them(db: None) -> None:
    """The same eyes on the owner's pages find sums."""
    access = furnished()
    text = words_of(signed_in(access).get(reverse("jobs:payment", args=[1])))  # type: ignore[arg-type]
    assert SIGNED.search(text)
    assert [amount for amount in sums_of(access) if amount in text]


def test_the_log_is_whole_for_the_office_and_unpriced_for_crew(
    access: Access, crew: Access
) -> None:
    job = a_designed_job(access, notes="£300 in cash; ring at 8")
    write_log(access, job, "Payment of £121.81 written down", {"payment": 1})
    write_log(access, job, "Called off 9 days before the event, £20.00 kept", {"called_off": 1})
    at = reverse("jobs:brief", args=[job.number])
    office, theirs = (signed_in(who).get(at).content.decode() for who in (access, crew))
    assert "Payment of £121.81 written down" in office
    assert "£300 in cash; ring at 8" in office
    assert "Payment of" not in theirs
    assert f"Called off 9 days before the event, {SUM} kept" in theirs
    assert f"{SUM} in cash; ring at 8" in theirs


@pytest.mark.parametrize("language", LANGUAGES)
@given(
    currency=st.sampled_from(sorted(c for c in list_currencies("en") if len(c) == 3)),
    pence=st.integers(0, 10**9),
)
def test_no_sum_that_the_house_writes_is_left(language: str, currency: str, pence: int) -> None:
    written = write_money(Money(Decimal(pence).scaleb(-2), currency), language)
    told = without_sums(f"kept {written}, then 12 ft", currency, language)
    assert told == f"kept {SUM}, then 12 ft"


@pytest.mark.parametrize(
    "text", ["12 ft 6 in at 8:30", "Arch no. 3, 40 balloons", "A100 road, 5 km", "Room 12, GBP club", "2 x 11 in"],
)  # fmt: skip
def test_figures_that_are_no_money_stay(text: str) -> None:
    assert without_sums(text, "GBP", "en-GB") == text

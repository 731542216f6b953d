"""Invoices out of the ordinary, from the price to the machine's half: nil rates, no tax, whose day it was."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from xml.etree import ElementTree

import pytest
from django.utils import timezone

from jobs.models import Invoice, Job, Offer
from jobs.money.invoicing import CannotInvoice, credit_invoice, due_day, issue_invoice, open_net
from jobs.money.ledger import record_payment
from jobs.proposal.accepting import ClientYes, accept_offer
from jobs.proposal.offering import Words, send_offer
from jobs.records import record_faults
from pricing.models import RateCard
from studio.access import Access
from tests.factories import ClientFactory, a_designed_job, a_stocked_access
from tests.schematron import broken_rules
from tests.surfaces import text_of

RAM = "{urn:un:unece:uncefact:data:standard:ReusableAggregateBusinessInformationEntity:100}"
UDT = "{urn:un:unece:uncefact:data:standard:UnqualifiedDataType:100}"
ON = date(2026, 6, 1)


def accepted(access: Access, *, client: dict[str, str] | None = None, **facts: Any) -> Job:
    known = {"tax_number": "GB123456789", "address": "2 High Street", **(client or {})}
    buyer = ClientFactory.create(studio=access.studio, **known)
    job = a_designed_job(access, client=buyer, **facts)
    words = Words(greeting="", note="")
    offer = send_offer(access, job, words, at=timezone.now(), link_for=lambda token: f"/o/{token}/")
    accept_offer(
        access,
        offer,
        ClientYes(name="R", wording="I accept.", address=None, agent=""),
        at=timezone.now(),
    )
    job.refresh_from_db()
    return job


@pytest.fixture
def access(db: None) -> Access:
    return a_stocked_access(tax_number="GB123456789")


def said(row: Invoice, name: str) -> list[str]:
    return [node.text or "" for node in ElementTree.fromstring(row.xml).iter(f"{RAM}{name}")]


@pytest.mark.parametrize(
    ("facts", "rate", "code", "reason"),
    [
        ({}, "0", "Z", ""),
        ({"tax_treatment": "reverse"}, "20", "AE", "Reverse charge: the customer accounts for the tax"),
        ({"tax_treatment": "exempt", "tax_reason": "Article 132 of 2006/112/EC"}, "20", "E", "Article 132 of 2006/112/EC"),
    ],
)  # fmt: skip
def test_no_tax_is_asked_for_a_reason_that_the_machine_reads(
    access: Access, facts: dict[str, str], rate: str, code: str, reason: str
) -> None:
    """UNCL 5305: Z zero rated, AE reverse charge, E exempt; BR-Z, BR-AE, BR-E of EN 16931."""
    RateCard.objects.update(tax_percent=Decimal(rate))
    job = accepted(access, **facts)
    row = issue_invoice(access, job, on=ON)
    assert row.tax == 0
    assert row.net == row.total == open_net(access, job)
    assert [(g["code"], Decimal(g["percent"]), g.get("reason", "")) for g in row.groups] == [
        (code, 0, reason)
    ]
    assert set(said(row, "CategoryCode")) == {code}
    assert said(row, "ExemptionReason") == [reason] * bool(reason)
    assert broken_rules(row.xml) == []
    for paper in (row.pdf, Offer.objects.get(job=job).pdf):  # only a zero rate is a rate
        said_there = text_of(bytes(paper)).partition("If you call it off")[0]
        assert bool(re.search(r"\b0 %", said_there)) is (code == "Z")
    back = credit_invoice(access, row, Decimal("12.34"), "two fewer", on=ON)
    assert (back.net, back.tax, back.total) == (Decimal("12.34"), 0, Decimal("12.34"))
    assert broken_rules(back.xml) == []
    rest = credit_invoice(access, row, None, "", on=ON)
    assert back.total + rest.total == row.total
    assert list(record_faults(access)) == []


def test_reverse_charge_asks_for_the_clients_number(access: Access) -> None:
    job = accepted(access, client={"tax_number": ""}, tax_treatment="reverse")
    with pytest.raises(CannotInvoice, match="expected the client’s tax number, got none"):
        issue_invoice(access, job, on=ON)
    assert not Invoice.objects.exists()


def test_one_rate_and_nothing_on_work(access: Access) -> None:
    RateCard.objects.update(tax_percent=Decimal(20), work_tax_percent=Decimal(0))
    row = issue_invoice(access, accepted(access), on=ON)
    codes = {g["code"]: (Decimal(g["net"]), Decimal(g["tax"])) for g in row.groups}
    assert set(codes) == {"S", "Z"}
    assert codes["Z"][1] == 0
    # EN 16931, BR-CO-17: tax of a group is its net at its rate, half up.
    assert codes["S"][1] == (codes["S"][0] * 20 / 100).quantize(Decimal("0.01"), "ROUND_HALF_UP")
    assert row.total == sum(net + tax for net, tax in codes.values())
    assert broken_rules(row.xml) == []


def test_a_studio_without_a_number_invoices_outside_tax(db: None) -> None:
    access = a_stocked_access()
    RateCard.objects.update(tax_percent=Decimal(0))
    row = issue_invoice(access, accepted(access), on=ON)
    assert set(said(row, "CategoryCode")) == {"O"}
    assert (row.tax, row.net) == (0, row.total)
    assert "GB123456789" not in row.xml  # BR-O-02: no number of the buyer either
    assert broken_rules(row.xml) == []


# Whose day it was


@pytest.mark.parametrize(
    ("zone", "at", "day"),
    [
        # IANA tz database: London is an hour ahead of UTC in June, New York four behind, Auckland twelve ahead.
        ("Europe/London", datetime(2031, 6, 20, 23, 30, tzinfo=UTC), "20310621"),
        ("Europe/London", datetime(2031, 6, 20, 22, 30, tzinfo=UTC), "20310620"),
        ("America/New_York", datetime(2031, 6, 21, 3, 59, tzinfo=UTC), "20310620"),
        ("Pacific/Auckland", datetime(2031, 6, 20, 12, 1, tzinfo=UTC), "20310621"),
    ],
)
def test_the_day_of_supply_is_the_studios_own(
    access: Access, zone: str, at: datetime, day: str
) -> None:
    access.studio.timezone = zone
    access.studio.save()
    job = accepted(access, event_start=at, event_end=at + timedelta(hours=3))
    row = issue_invoice(access, job, on=ON)
    tree = ElementTree.fromstring(row.xml)
    (node,) = tree.iter(f"{RAM}OccurrenceDateTime")
    assert [child.text for child in node] == [day]


def test_it_is_due_on_the_day_of_the_last_part_that_is_open(access: Access) -> None:
    job = accepted(access)
    plan = [date.fromisoformat(d["on"]) for d in job.offers.get().schedule]
    assert due_day(access, job, plan[0]) == plan[-1]
    assert due_day(access, job, plan[-1]) == plan[-1]
    late = plan[-1] + timedelta(days=1)
    assert due_day(access, job, late) == late
    row = issue_invoice(access, job, on=plan[0])
    assert (row.issued_on, row.due_on) == (plan[0], plan[-1])
    record_payment(access, job, on=ON, amount=row.total, how="cash", reference="")
    assert due_day(access, job, plan[0]) == plan[0]  # all is paid


def test_without_a_tax_number_no_paper_names_a_rate(access: Access) -> None:
    access.studio.tax_number = ""
    access.studio.save()
    RateCard.objects.update(tax_percent=0)
    job = accepted(access, client={"tax_number": ""})
    row = issue_invoice(access, job, on=ON)
    bill, offer = (text_of(bytes(p)) for p in (row.pdf, Offer.objects.get(job=job).pdf))
    assert "Not subject to tax." in bill
    for paper in (bill, offer.partition("If you call it off")[0]):
        assert " %" not in paper
    assert broken_rules(row.xml) == []

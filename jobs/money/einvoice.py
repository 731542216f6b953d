"""The machine-readable half of an invoice: UN/CEFACT CII in the EN 16931 profile, as a hybrid PDF carries it."""

from __future__ import annotations

from datetime import datetime, time
from decimal import Decimal

from drafthorse.models.accounting import ApplicableTradeTax
from drafthorse.models.document import Document
from drafthorse.models.note import IncludedNote
from drafthorse.models.party import TaxRegistration
from drafthorse.models.payment import PaymentMeans, PaymentTerms
from drafthorse.models.tradelines import LineItem

from pricing.core.invoice import InvoiceLine, InvoiceValue, Party
from pricing.core.money import minor_places

PROFILE = "urn:cen.eu:en16931:2017"
SCHEMA = "FACTUR-X_EN16931"
TYPE_CODES = {"invoice": "380", "credit": "381"}  # UNTDID 1001
CREDIT_TRANSFER = "58", "30"  # UNTDID 4461: SEPA, other
UNIT = "C62"  # UN/ECE Recommendation 20: one
MOST_PLACES = 2  # BR-DEC-01 to BR-DEC-28: no amount has more decimals


def can_say(currency: str) -> bool:
    """Whether the profile can say an amount to the last digit: not in currencies of three decimals.

    >>> [can_say(currency) for currency in ("EUR", "JPY", "KWD")]
    [True, True, False]
    """
    return minor_places(currency) <= MOST_PLACES


def write_xml(invoice: InvoiceValue) -> bytes:
    """CII XML, valid against the profile's XSD (the library checks, and raises when it is not)."""
    doc = Document()
    doc.context.guideline_parameter.id = PROFILE
    doc.header.id = invoice.number
    doc.header.type_code = TYPE_CODES[invoice.kind]
    doc.header.issue_date_time = at_noon(invoice.issued_on)
    if invoice.of:
        note = IncludedNote()
        note.content = f"Credit note to invoice {invoice.of}"
        doc.header.notes.add(note)
    _party(doc.trade.agreement.seller, invoice.seller)
    _other_number(doc.trade.agreement, invoice)
    if not invoice.seller.vat_id:  # BR-CO-26: known to the buyer by something
        doc.trade.agreement.seller.id = invoice.seller.mail or invoice.seller.name
    _party(doc.trade.agreement.buyer, invoice.buyer)
    doc.trade.delivery.event.occurrence = at_noon(invoice.delivered_on)
    for number, line in enumerate(invoice.lines, 1):
        doc.trade.items.add(_line(number, line))
    _settle(doc.trade.settlement, invoice)
    made: bytes = doc.serialize(schema=SCHEMA)
    return made


def at_noon(day: object) -> datetime:
    return datetime.combine(day, time(12))  # type: ignore[arg-type]


def _party(node: object, party: Party) -> None:
    node.name = party.name  # type: ignore[attr-defined]
    address = node.address  # type: ignore[attr-defined]
    rows = [row.strip() for row in party.address.splitlines() if row.strip()]
    rows[2:] = [", ".join(rows[2:])] if rows[2:] else []  # there are three lines: none is lost
    for name, row in zip(("line_one", "line_two", "line_three"), rows, strict=False):
        setattr(address, name, row)
    address.country_id = party.country
    if party.vat_id:  # BT-31, BT-48
        node.tax_registrations.add(TaxRegistration(id=("VA", party.vat_id)))  # type: ignore[attr-defined]


def _other_number(agreement: object, invoice: InvoiceValue) -> None:
    """What is no VAT number: the seller's for its tax office (BT-32), the buyer's as it is registered (BT-47)."""
    seller, buyer = invoice.seller, invoice.buyer
    if seller.tax_number and not seller.vat_id:
        agreement.seller.tax_registrations.add(TaxRegistration(id=("FC", seller.tax_number)))  # type: ignore[attr-defined]
    if buyer.tax_number and not buyer.vat_id:
        agreement.buyer.legal_organization.id = ("", buyer.tax_number)  # type: ignore[attr-defined]


def _line(number: int, line: InvoiceLine) -> LineItem:
    item = LineItem()
    item.document.line_id = str(number)
    item.product.name = line.what
    item.agreement.net.amount = line.net.amount
    item.agreement.net.basis_quantity = (Decimal(1), UNIT)
    item.delivery.billed_quantity = (Decimal(1), UNIT)
    item.settlement.trade_tax.type_code = "VAT"
    item.settlement.trade_tax.category_code = line.group.code
    if not line.group.is_outside:
        item.settlement.trade_tax.rate_applicable_percent = line.group.percent
    item.settlement.monetary_summation.total_amount = line.net.amount
    return item


def _settle(settlement: object, invoice: InvoiceValue) -> None:
    settlement.payment_reference = invoice.reference  # type: ignore[attr-defined]
    settlement.currency_code = invoice.currency  # type: ignore[attr-defined]
    if invoice.iban:
        means = PaymentMeans()
        means.type_code = CREDIT_TRANSFER[0] if invoice.currency == "EUR" else CREDIT_TRANSFER[1]
        means.payee_account.iban = invoice.iban
        if invoice.bic:
            means.payee_institution.bic = invoice.bic
        settlement.payment_means.add(means)  # type: ignore[attr-defined]
    for group in invoice.groups:
        tax = ApplicableTradeTax()
        tax.calculated_amount = group.tax.amount
        tax.type_code = "VAT"
        tax.basis_amount = group.net.amount
        tax.category_code = group.group.code
        if group.group.reason:
            tax.exemption_reason = group.group.reason
        if not group.group.is_outside:
            tax.rate_applicable_percent = group.group.percent
        settlement.trade_tax.add(tax)  # type: ignore[attr-defined]
    terms = PaymentTerms()
    terms.due = at_noon(invoice.due_on)
    settlement.terms.add(terms)  # type: ignore[attr-defined]
    sums = settlement.monetary_summation  # type: ignore[attr-defined]
    sums.line_total = invoice.net.amount
    sums.charge_total = sums.allowance_total = Decimal("0.00")
    sums.tax_basis_total = invoice.net.amount
    sums.tax_total = (invoice.tax.amount, invoice.currency)
    sums.grand_total = invoice.total.amount
    sums.prepaid_total = invoice.paid.amount
    sums.due_amount = invoice.due.amount
    if invoice.of:
        settlement.invoice_referenced_document.issuer_assigned_id = invoice.of  # type: ignore[attr-defined]

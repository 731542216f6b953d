"""From the letter in a real mailbox to the books: every figure agrees across page, PDF, XML, ledger and export."""

from __future__ import annotations

import email
import io
import re
import socket
from collections.abc import Iterator
from decimal import Decimal
from email.message import EmailMessage
from email.policy import default
from typing import Any
from xml.etree import ElementTree

import pypdfium2
import pytest
from aiosmtpd.controller import Controller
from beancount import loader
from django.utils import timezone
from playwright.sync_api import Page, expect

from jobs.demo import MAIL, PASSWORD, load_demo
from jobs.models import Acceptance, Cancellation, Invoice, Job, Offer
from jobs.money.ledger import standing_of
from jobs.records import record_faults
from studio.access import Access
from studio.mail import send_waiting
from tests.browser.conftest import Opener, sign_in
from tests.schematron import broken_rules

RAM = "{urn:un:unece:uncefact:data:standard:ReusableAggregateBusinessInformationEntity:100}"
NUMBER = 4  # The shop is ten: priced, with extras


class Mailbox:
    """A mail server on this machine that keeps what it is given."""

    def __init__(self) -> None:
        self.letters: list[EmailMessage] = []

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # noqa: N802  their name
        self.letters.append(email.message_from_bytes(envelope.content, policy=default))
        return "250 taken"

    def newest(self, to: str) -> EmailMessage:
        return [letter for letter in self.letters if letter["To"] == to][-1]


@pytest.fixture
def mailbox(settings: Any) -> Iterator[Mailbox]:
    box = Mailbox()
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    controller = Controller(box, hostname="127.0.0.1", port=port)
    controller.start()
    settings.MAILERS = {
        "default": {
            "BACKEND": "django.core.mail.backends.smtp.EmailBackend",
            "OPTIONS": {"host": "127.0.0.1", "port": port, "timeout": 10},
        }
    }
    yield box
    controller.stop()


def pounds(amount: Decimal) -> str:
    return f"£{amount:,.2f}"


def text_of(pdf: bytes) -> str:
    return "".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf))


def sums(xml: str) -> dict[str, Decimal]:
    (node,) = ElementTree.fromstring(xml).iter(
        f"{RAM}SpecifiedTradeSettlementHeaderMonetarySummation"
    )
    return {child.tag.removeprefix(RAM): Decimal(child.text or "0") for child in node}


def send(page: Page, mailbox: Mailbox) -> str:
    """Send the proposal; the address that the client's letter brings."""
    page.goto(f"/jobs/{NUMBER}/proposal/")
    page.get_by_role("button", name=re.compile("Send proposal")).click()
    expect(page.get_by_text("Proposal sent")).to_be_visible()
    send_waiting()
    letter = mailbox.newest("rufus@lanternthread.example")
    body = letter.get_body()
    assert body
    return re.search(r"http://\S+/o/\S+", body.get_content())[0]  # type: ignore[index]


def accept(phone: Page, address: str) -> Decimal:
    """Tick an extra and say yes; the total that stood on the phone."""
    phone.goto(address)
    before = phone.locator("#comes-to .price").inner_text()
    phone.get_by_label("Greenery").check()
    expect(phone.locator("#comes-to")).to_contain_text("with Greenery")
    shown = phone.locator("#comes-to .price").inner_text()
    assert shown != before
    phone.get_by_label("Your full name").fill("Rufus Amadi")
    phone.get_by_label(re.compile("I accept proposal")).check()
    phone.get_by_role("button", name="Go on").click()
    expect(phone.locator("dd.price")).to_have_text(shown)
    phone.get_by_role("button", name="Yes, I accept").click()
    expect(phone.get_by_role("heading", name="Thank you, Rufus Amadi")).to_be_visible()
    return Decimal(shown.removeprefix("£").replace(",", ""))


def write_down(page: Page, amount: Decimal, kind: str = "came") -> None:
    page.goto(f"/jobs/{NUMBER}/payments/")
    page.get_by_label("What", exact=True).select_option(kind)
    page.get_by_label("Amount", exact=True).fill(f"{amount:.2f}")
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("Written down.")).to_be_visible()


def call_off(page: Page, percent: str) -> None:
    page.goto(f"/jobs/{NUMBER}/call-off/")
    page.get_by_label("Keep, %").fill(percent)
    page.get_by_role("button", name="Look again").first.click()
    expect(page.get_by_text(f"You keep, {percent} %")).to_be_visible()
    page.get_by_role("button", name="Call it off").click()
    expect(page.get_by_text("called off").first).to_be_visible()


def ledger(access: Access) -> Any:
    job = access.rows(Job).with_money().get(number=NUMBER)
    return standing_of(job, on=timezone.localdate(), currency="GBP")


def test_from_the_letter_to_the_books(open_page: Opener, mailbox: Mailbox) -> None:
    access = load_demo()
    page, phone = open_page(), open_page(390, 844)
    sign_in(page, MAIL, PASSWORD)
    told = accept(phone, send(page, mailbox))

    offer = access.rows(Offer).get(job__number=NUMBER)
    acceptance = access.rows(Acceptance).get(offer=offer)
    agreed = acceptance.agreed.figures
    figures = {n: getattr(agreed, n).amount for n in ("net", "tax", "total", "deposit")}
    assert told == figures["total"] == ledger(access).total.amount
    assert acceptance.agreed.ticked == ("Greenery",)
    certificate = text_of(bytes(acceptance.certificate or b""))
    assert pounds(told) in certificate
    assert offer.pdf_sha256 in re.sub(r"\s", "", certificate)

    first = (figures["deposit"] / 3).quantize(Decimal("0.01"))
    write_down(page, first)
    assert ledger(access).deposit_covered is False
    write_down(page, figures["deposit"] - first)
    assert ledger(access).deposit_covered
    assert access.rows(Job).get(number=NUMBER).stage == "booked"

    page.get_by_role("button", name="Issue the invoice").click()
    expect(page.get_by_role("link", name="XML").last).to_be_visible()
    invoice = access.rows(Invoice).filter(job__number=NUMBER).get()
    assert (invoice.net, invoice.tax, invoice.total) == tuple(
        figures[n] for n in ("net", "tax", "total")
    )
    machine = sums(invoice.xml)
    assert machine["GrandTotalAmount"] == figures["total"]
    assert machine["DuePayableAmount"] == figures["total"] - figures["deposit"]
    assert broken_rules(invoice.xml) == []
    assert pounds(figures["total"]) in text_of(bytes(invoice.pdf))

    call_off(page, "10")
    ended = access.rows(Cancellation).get(job__number=NUMBER)
    kept = (
        ended.kept
    )  # what papers with their own tax can say: at 20 % at most two pennies in a row cannot be
    share = (figures["total"] / 10).quantize(Decimal("0.01"))
    assert 0 <= share - kept <= Decimal("0.04")
    assert ended.refund == figures["deposit"] - kept
    write_down(page, ended.refund, "refund")
    now = ledger(access)
    assert (now.total.amount, now.paid.amount, now.left.amount) == (kept, kept, 0)
    papers = access.rows(Invoice).filter(job__number=NUMBER)
    assert sum(p.total if p.kind == "invoice" else -p.total for p in papers) == kept
    assert all(broken_rules(paper.xml) == [] for paper in papers)
    send_waiting()
    body = mailbox.newest("rufus@lanternthread.example").get_body()
    assert body
    assert pounds(ended.refund) in body.get_content()

    statement = page.request.get(f"/jobs/{NUMBER}/statement.pdf").body()
    assert pounds(kept) in text_of(statement)
    books(page, kept)
    assert list(record_faults(access)) == []


def books(page: Page, kept: Decimal) -> None:
    """The exported journal, read by another library: it balances, and nothing of this job is left open."""
    page.goto("/reports/")
    journal = page.get_by_role("link", name=re.compile("journal", re.IGNORECASE)).first
    text = page.request.get(journal.get_attribute("href") or "").text()
    entries, errors, _ = loader.load_string(text)
    assert errors == []
    mine = [e for e in entries if f"job-{NUMBER:04d}" in (getattr(e, "links", None) or ())]
    left: dict[str, Decimal] = {}
    for entry in mine:
        for posting in entry.postings:
            left[posting.account] = left.get(posting.account, Decimal(0)) + posting.units.number
    assert sum(left.values()) == 0
    assert [v for name, v in left.items() if "eceivable" in name or "eposit" in name] == [0, 0]
    assert -sum(v for n, v in left.items() if n.startswith("Income") or "ax" in n) == kept
    assert io.StringIO(text).readline().startswith("option")

"""What stands on every paper, read from the file as a reader of it would: title, language, foot, and its own facts."""

from __future__ import annotations

import io
import re
from decimal import Decimal

import pikepdf
import pypdfium2
import pytest
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from jobs.day.lists import print_list
from jobs.inputs import worked_for
from jobs.models import Job
from jobs.money.papers import print_statement
from pricing.stores.stock import put_in_stock
from studio.access import Access
from tests.factories import a_designed_job, a_stocked_access
from tests.jobs.test_cancelling import an_accepted_job, pay
from tests.papers import ON, a_logo, every_paper

# Each paper's title before the studio's name; N is the job's number.
TITLES = {
    "pick": "Pick list N", "packing": "Packing list N", "build": "Build sheet N", "labels": "Labels N",
    "count": "Count sheet", "order": "Order 0001", "proposal": "Proposal N-1", "certificate": "Certificate of acceptance N-1",
    "statement": "Statement of account, job N",
}  # fmt: skip


def text_of(content: bytes) -> str:
    pages = pypdfium2.PdfDocument(content)
    return " ".join(" ".join(p.get_textpage().get_text_range() for p in pages).split())


def test_every_paper_says_whose_it_is_and_of_what_in_title_and_foot(db: None) -> None:
    access = a_stocked_access(
        name="Tannery Yard", language="en-IE", currency="EUR", tax_number="IE1234567T"
    )
    job = a_designed_job(access, title="Plum evening", client__name="Ada Plum", number=73)
    titles = {name: title.replace("N", "0073") for name, title in TITLES.items()}
    titles |= {"invoice": r"Invoice \S+", "credit": r"Credit note \S+", "receipt": r"Receipt \S+"}
    papers = every_paper(access, job)
    assert set(papers) == set(titles)
    for name, content in papers.items():
        with pikepdf.open(io.BytesIO(content)) as pdf:
            assert str(pdf.Root.Lang) == "en-IE", name
            assert re.fullmatch(f"{titles[name]} · Tannery Yard", str(pdf.docinfo["/Title"])), name
        text = text_of(content)
        assert re.search(rf"Tannery Yard · {titles[name]}", text), (name, text)
        heads = text.count("Tannery Yard") - len(re.findall("Tannery Yard · ", text))
        assert heads >= (0 if name == "labels" else 1), (name, text)  # the letterhead
        if name != "labels":
            assert re.search({"pick": "73 Plum evening", "packing": "73 Plum evening", "build": "73 Plum evening"}
                             .get(name, titles[name].split(" ")[0]), text), name  # fmt: skip
        if name in ("invoice", "credit"):
            assert re.search(rf"{titles[name]} FOR ", text), (name, text)  # the heading
        if name not in ("count", "order"):
            assert "Plum evening" in text, name
        if name in ("proposal", "invoice", "credit", "certificate", "receipt", "statement"):
            assert "Ada Plum" in text, name
            assert "1 Long Yard" in text, name


def test_a_certificate_names_the_proposal_its_client_and_total(
    access: Access, accepted: Job
) -> None:
    offer = accepted.offers.get()
    text = text_of(bytes(offer.acceptance.certificate or b""))
    number = f"{accepted.number:04d}-1"
    assert f"Proposal {number}, {accepted.title}, was accepted on the page" in text
    total = offer.choice(offer.acceptance.choice).figures.total.amount
    block = text[text.index("opens.") : text.index("What was said")]
    for fact in ("PROPOSAL", number, "FOR", accepted.client.name, "TOTAL", f"£{total:,.2f}"):
        assert fact in block, (fact, block)


def test_a_count_sheet_says_day_shelf_supply_and_what_should_be_there(
    browser: Browser, access: Access
) -> None:
    at = reverse("pricing:count-pdf")
    assert "Nothing is on the shelves." in text_of(browser.get(at).content)
    put_in_stock(access, "ball/11 in", Decimal(40), on=ON, shelf="B2")
    put_in_stock(access, "ball/5 in", Decimal(17), on=ON, shelf="")
    text = text_of(browser.get(at).content)
    day = timezone.localdate()
    assert re.search(rf"Count sheet, {day.day} {day:%b}\w* {day.year}", text), text
    assert re.search(r"B2 \S.*? 40 _+", text), text
    assert re.search(r"– \S.*? 17 _+", text), text
    assert "Nothing is on the shelves." not in text


def test_labels_say_job_venue_and_day_on_each(browser: Browser, access: Access) -> None:
    job = a_designed_job(access, title="Plum evening", venue__name="Weavers’ Hall")
    text = text_of(browser.get(reverse("jobs:labels", args=[job.number])).content)
    day = timezone.localtime(job.event_start)
    each = f"{job.number:04d} Plum evening Weavers’ Hall, {day:%a} {day.day} {day:%b} {day.year}"
    assert "Labels of boxes and bags" in text
    assert text.count(each) == text.count("Plum evening") > 2


@pytest.fixture
def accepted(access: Access) -> Job:
    access.studio.iban, access.studio.bic = "GB33BUKB20201555555555", "BUKBGB22"
    access.studio.bank_details = "Ask for Mr Reed at the counter."
    access.studio.save()
    return an_accepted_job(access)


def statement(access: Access, job: Job) -> str:
    return text_of(print_statement(access, job, on=timezone.localdate()))


def test_a_statement_says_how_to_pay_while_something_is_due(access: Access, accepted: Job) -> None:
    text = statement(access, accepted)
    assert "What is due when" in text
    assert "Left to pay" in text
    assert "IBAN GB33BUKB20201555555555, BIC BUKBGB22" in text
    assert "Ask for Mr Reed at the counter." in text
    assert "Everything is paid" not in text
    assert "goes back to you" not in text


@pytest.mark.parametrize(("beyond", "says"), [(0, False), (25, True)])
def test_a_statement_of_a_paid_job_thanks_and_says_what_goes_back(
    access: Access, accepted: Job, beyond: int, says: bool
) -> None:
    offer = accepted.offers.get()
    total = offer.choice(offer.acceptance.choice).figures.total.amount
    pay(access, accepted, total + beyond)
    text = statement(access, accepted)
    assert ("£25.00 was paid beyond it and goes back to you." in text) == says
    assert ("goes back to you" in text) == says
    assert ("Everything is paid. Thank you." in text) != says
    assert ("Balance in your favour" in text) == says
    assert "IBAN" not in text
    assert "Mr Reed" not in text
    assert "Left to pay" not in text


def test_a_statement_before_any_yes_says_that_nothing_is_due(access: Access) -> None:
    text = statement(access, a_designed_job(access))
    assert "Nothing yet." in text
    assert "Nothing is due before the proposal is accepted." in text
    assert "What is due when" not in text


def test_the_logo_stands_on_lists_and_on_papers_for_the_client(access: Access) -> None:
    def pictures(content: bytes) -> int:
        with pikepdf.open(io.BytesIO(content)) as pdf:
            return len(pdf.pages[0].get_images())

    job = a_designed_job(access)
    for logo, many in ((None, 0), (a_logo(), 1)):
        access.studio.logo = logo
        access.studio.save()
        worked = worked_for(access, job)
        assert worked
        listed = print_list(access, job, worked, "papers/packing.html", on=ON)
        assert pictures(listed) == pictures(print_statement(access, job, on=ON)) == many

"""A total of nought, a discount as large as the price or larger, a currency of three decimals: a sentence, never a 500."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client as Browser
from django.urls import NoReverseMatch, URLPattern, reverse
from django.utils import timezone

from jobs.inputs import quote_for, worked_for
from jobs.models import Cancellation, Invoice, Job, Offer, Payment
from jobs.money.invoicing import CannotInvoice, issue_invoice
from jobs.money.ledger import standing_of
from jobs.proposal.links import live_link, shown_again
from jobs.urls import urlpatterns
from studio.access import Access
from studio.forms import FactsForm
from tests.conftest import signed_in
from tests.factories import a_designed_job, a_stocked_access
from tests.surfaces import disagreements_of_all, fresh, papers_as_html

KNOWN = {"letter": "A", "version": 1, "kind": "pdf", "which": "pick"}


@pytest.fixture(autouse=True)
def quick_papers() -> Iterator[None]:
    with papers_as_html():
        yield


def addresses(job: Job) -> Iterator[str]:
    """Every page of the room that a look at a job may open."""
    for pattern in urlpatterns:
        assert isinstance(pattern, URLPattern)
        names = pattern.pattern.converters
        told: dict[str, Any] = {name: KNOWN.get(name) for name in names} | {"number": job.number}
        told |= {"pk": 1, "invoice": 1, "kind": "csv" if pattern.name == "journal" else "pdf"}
        try:
            yield reverse(f"jobs:{pattern.name}", kwargs={name: told[name] for name in names})
        except NoReverseMatch:
            continue


def walk(access: Access, job: Job) -> None:
    """None of them fails."""
    browser = signed_in(access)
    browser.raise_request_exception = False
    answers = {at: browser.get(at).status_code for at in addresses(job)}
    assert {at: code for at, code in answers.items() if code >= 500} == {}
    assert sum(code == 200 for code in answers.values()) > 20


def post(browser: Browser, name: str, job: Job, **told: object) -> Any:
    told = {"form_key": str(uuid.uuid4()), **told}
    return browser.post(reverse(f"jobs:{name}", args=[job.number]), told, follow=True)


def price_of(access: Access, job: Job) -> Decimal:
    worked = worked_for(access, job)
    assert worked
    return quote_for(access, job, worked, on=timezone.localdate()).price.amount


def discounted(access: Access, more: str = "0") -> Job:
    job = a_designed_job(access)
    job.discount = price_of(access, job) + Decimal(more)
    job.save()
    return job


def sent(browser: Browser, job: Job) -> Any:
    return post(browser, "proposal", job, greeting="Dear you,", note="", do="send")


def say_yes(access: Access, job: Job) -> None:
    offer = Offer.objects.get(job=job)
    link = live_link(access, offer)
    assert link
    at = reverse("jobs:offer-page", args=[shown_again(link)])
    told = {"name": "Wren", "agreed": "on"}
    assert Browser().post(at, told).status_code == 200
    assert Browser().post(at, {**told, "do": "confirm"}, follow=True).status_code == 200
    job.refresh_from_db()


@pytest.fixture
def taxed(access: Access) -> Access:
    access.studio.tax_number = "GB 123456789"
    access.studio.save()
    return access


def test_a_job_that_costs_nothing_goes_all_the_way_and_is_never_invoiced(
    browser: Browser, taxed: Access
) -> None:
    job = discounted(taxed)
    assert "Proposal sent" in sent(browser, job).content.decode()
    say_yes(taxed, job)
    assert job.stage == "booked"  # there is no deposit to wait for
    walk(taxed, job)
    page = browser.get(reverse("jobs:payment", args=[job.number])).content.decode()
    assert "Issue the invoice" not in page
    for _ in range(3):
        answer = post(browser, "invoice", job)
        assert "is nought, so nothing can be invoiced" in answer.content.decode()
    assert not Invoice.objects.exists()
    assert disagreements_of_all(taxed) == []


def test_a_job_that_costs_nothing_is_called_off_without_a_paper(
    browser: Browser, taxed: Access
) -> None:
    job = discounted(taxed)
    sent(browser, job)
    say_yes(taxed, job)
    seen = browser.get(reverse("jobs:call-off", args=[job.number])).context["shown"].seen
    post(browser, "call-off", job, on=timezone.localdate().isoformat(), seen=seen, do="call-off")
    row = Cancellation.objects.get()
    assert (row.kept, row.refund) == (0, 0)
    assert not Invoice.objects.exists()
    walk(taxed, job)
    assert disagreements_of_all(taxed) == []


def test_a_discount_beyond_the_price_gets_a_sentence_wherever_it_is_met(
    browser: Browser, taxed: Access
) -> None:
    job = discounted(taxed, "0.01")
    says = "Discount: expected at most the price of"
    walk(taxed, job)
    answer = sent(browser, job)
    assert (answer.status_code, says in answer.content.decode()) == (422, True)
    assert not Offer.objects.exists()
    for name, told in (("budget", {"budget": "300"}), ("fit", {"span_m": "3 m", "budget": "300"})):
        answer = post(browser, name, job, **told)
        assert (name, answer.status_code, says in answer.content.decode()) == (name, 422, True)


def test_after_a_call_off_nothing_is_invoiced_even_where_nothing_is_kept(
    browser: Browser, taxed: Access
) -> None:
    job = a_designed_job(taxed)
    sent(browser, job)
    say_yes(taxed, job)
    look = post(
        browser, "call-off", job, on=timezone.localdate().isoformat(), percent="0", do="look"
    )
    told = {"on": timezone.localdate().isoformat(), "percent": "0", "do": "call-off"}
    post(browser, "call-off", job, seen=look.context["shown"].seen, **told)
    assert Cancellation.objects.get().kept == 0
    with pytest.raises(CannotInvoice, match="was called off"):
        issue_invoice(taxed, job, on=timezone.localdate())
    page = browser.get(reverse("jobs:payment", args=[job.number])).content.decode()
    assert "Issue the invoice" not in page
    assert (
        "was called off: what is kept was settled then"
        in post(browser, "invoice", job).content.decode()
    )
    assert not Invoice.objects.exists()


def test_a_currency_finer_than_amounts_are_kept_is_not_offered() -> None:
    # ISO 4217 gives CLF and UYW four decimals, KWD three.
    known = {code for code, _ in FactsForm.base_fields["currency"].choices}
    assert {"GBP", "JPY", "KWD"} <= known
    assert not {"CLF", "UYW"} & known


def test_three_decimals_go_all_the_way(db: None) -> None:
    # The Kuwaiti dinar has three decimals (ISO 4217).
    access = a_stocked_access(currency="KWD", tax_number="GB123456789")
    browser, job = signed_in(access), a_designed_job(access)
    price = {
        f.name: f.value()
        for f in browser.get(reverse("jobs:price", args=[job.number])).context["form"]
    }
    typed = {name: value for name, value in price.items() if value not in (None, False)}
    answer = post(browser, "price", job, **{**typed, "discount": "1.125", "tolls": "0.005"})
    assert "Price saved" in answer.content.decode()
    walk(access, job)
    sent(browser, job)
    say_yes(access, job)
    told: dict[str, Any] = {"on": timezone.localdate().isoformat(), "how": "cash", "reference": ""}
    assert post(browser, "payment", job, amount="20.1255", **told).status_code == 422
    post(browser, "payment", job, amount="20.125", **told)
    assert Payment.objects.get().amount == Decimal("20.125")
    post(browser, "invoice", job)
    post(browser, "invoice", job, do="credit", of="1", net="1.125", why="")
    for name, told in (
        ("budget", {"budget": "90.125"}),
        ("fit", {"span_m": "3 m", "budget": "90.125"}),
    ):
        assert post(browser, name, job, **told).status_code == 200
    assert [row.kind for row in Invoice.objects.order_by("number")] == ["invoice", "credit"]
    now = standing_of(fresh(access, job), on=timezone.localdate(), currency="KWD")
    total = Invoice.objects.get(kind="invoice").total - Decimal("1.350")
    assert now
    assert now.left.amount == total - Decimal("20.125")
    walk(access, job)

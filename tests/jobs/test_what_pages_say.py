"""What the pages of a job and of the stores say: whose job it is, where one stands, and each table's own figures."""

from __future__ import annotations

import html
import io
import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from PIL import Image

from jobs.after.time_taken import record_time
from jobs.inputs import taxed_as
from jobs.models import Job
from jobs.pages.brief import job_list
from pricing.book.price_book import book_for
from pricing.models import RateCard
from pricing.stores.stock import put_in_stock
from studio.access import Access
from tests.conftest import signed_in
from tests.factories import JobFactory, a_designed_job
from tests.jobs.test_cancelling import an_accepted_job

TABS = {
    "brief": "Brief", "design": "Design", "price": "Price", "proposal": "Proposal", "build": "Build", "after": "After",
}  # fmt: skip
STORES = {
    "pricing:stores": "Price book", "pricing:stock": "Shelves", "pricing:kit": "Hire kit", "jobs:buying": "To buy",
    "pricing:orders": "Orders", "pricing:packs": "Suppliers",
}  # fmt: skip


def text_of(markup: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", markup)).split())


def page(browser: Browser, name: str, *args: object, **query: str) -> str:
    answer = browser.get(reverse(name, args=args), query)
    assert answer.status_code == 200
    return answer.content.decode()


def tabs_of(markup: str) -> list[tuple[str, str, bool]]:
    """(Address, words, whether it is the page itself) of every tab."""
    (nav,) = re.findall(r'<nav class="tabs".*?</nav>', markup, re.DOTALL)
    links = re.findall(r'<a href="([^"]*)"([^>]*)>([^<]*)</a>', nav)
    return [(at, words, 'aria-current="page"' in more) for at, more, words in links]


@pytest.fixture
def job(access: Access) -> Job:
    return an_accepted_job(
        access, title="Plum evening", client__name="Ada Plum", venue__name="Weavers’ Hall"
    )


# --- where one stands ---


@pytest.mark.parametrize("name", TABS)
def test_each_page_of_a_job_says_which_job_and_which_page_it_is(
    browser: Browser, job: Job, name: str
) -> None:
    markup = page(browser, f"jobs:{name}", job.number)
    wanted = [(reverse(f"jobs:{n}", args=[job.number]), w, n == name) for n, w in TABS.items()]
    assert tabs_of(markup) == wanted
    when = date_format(timezone.localtime(job.event_start), "D j M Y, H:i")
    (head,) = re.findall(r'<header class="jobhead">.*?</header>', markup, re.DOTALL)
    assert text_of(head) == (
        f"{job.number:04d} Plum evening Ada Plum · Weavers’ Hall · {when} · accepted"
    )
    assert f"<title>Plum evening · {job.studio.name}</title>" in markup


@pytest.mark.parametrize("name", STORES)
def test_each_page_of_the_stores_says_which_it_is(browser: Browser, name: str) -> None:
    wanted = [(reverse(n), words, n == name) for n, words in STORES.items()]
    assert tabs_of(page(browser, name)) == wanted


def test_crew_see_no_price_among_the_tabs_and_no_buying(crew: Access, job: Job) -> None:
    browser = signed_in(crew)
    assert [w for _, w, _ in tabs_of(page(browser, "jobs:build", job.number))] == [
        "Brief", "Design", "Build", "After",
    ]  # fmt: skip


# --- days and jobs ---


def test_today_names_each_job_with_its_day_client_and_stage(
    browser: Browser, access: Access
) -> None:
    soon = timezone.now() + timedelta(days=3)
    job = JobFactory.create(
        studio=access.studio, title="Plum evening", client__name="Ada Plum", stage="enquiry",
        event_start=soon, venue__name="Weavers’ Hall",
    )  # fmt: skip
    text = text_of(page(browser, "jobs:today"))
    start = timezone.localtime(soon)
    day = date_format(start, "D j M")
    assert f"{job.number:04d} Plum evening {day} · Ada Plum enquiry" in text
    agenda = text[text.index("The next two weeks") : text.index("What jobs wait for")]
    assert re.search(rf"{day} .*{start:%H:%M} event Plum evening , Weavers’ Hall", agenda), agenda


def test_a_long_list_of_jobs_goes_on_where_the_page_before_it_ended(
    browser: Browser, access: Access, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(job_list, "PAGE", 2)
    first = timezone.now() + timedelta(days=9)
    for n in range(5):
        JobFactory.create(
            studio=access.studio, title=f"Fig & plum {n}", stage="enquiry",
            event_start=first + timedelta(days=n),
        )  # fmt: skip
    JobFactory.create(studio=access.studio, title="Quince", stage="enquiry", event_start=first)
    seen, at = [], reverse("jobs:jobs") + "?q=Fig+%26&stage=enquiry"
    for _ in range(3):
        markup = browser.get(at).content.decode()
        assert "Quince" not in markup
        seen += re.findall(r"Fig &amp; plum \d", markup)
        further = re.search(r'<a href="(\?[^"]*)">Later jobs', markup)
        if further is None:
            break
        at = reverse("jobs:jobs") + html.unescape(further[1])
    assert seen == [f"Fig &amp; plum {n}" for n in range(5)]
    assert further is None


# --- a job's own pages ---


def test_a_page_for_a_photo_asks_for_one_where_there_is_none(browser: Browser, job: Job) -> None:
    markup = page(browser, "jobs:photo", job.number)
    assert 'class="button" name="do" value="bring">Bring it' in markup
    for not_yet in ("Bring another", "Take the photo out", "Show the points again", "photo.jpeg"):
        assert not_yet not in markup


def test_a_draft_names_its_number_before_it_is_sent(browser: Browser, access: Access) -> None:
    draft = a_designed_job(access)
    markup = page(browser, "jobs:proposal", draft.number)
    assert f"Send proposal {draft.number:04d}-1" in text_of(markup)
    assert "To send" in text_of(markup)


def test_what_was_sent_stands_with_its_days_total_and_who_said_yes(
    browser: Browser, job: Job
) -> None:
    offer = job.offers.get()
    total = offer.choice(offer.acceptance.choice).figures.total.amount
    at = date_format(timezone.localtime(offer.sent_at), "j M Y, H:i")
    until = date_format(offer.stands_until, "j F Y")
    text = text_of(page(browser, "jobs:proposal", job.number))
    assert f"{job.number:04d}-1 {at} {until} £{total:,.2f}" in text
    assert f"accepted by {offer.acceptance.name}," in text
    assert "Certificate" in text
    assert f'"{reverse("jobs:payment", args=[job.number])}">Payments' in page(
        browser, "jobs:proposal", job.number
    )


def test_the_line_read_out_comes_with_what_is_asked_for_and_not_with_the_page(
    browser: Browser, access: Access
) -> None:
    draft = a_designed_job(access)
    assert 'data-hx-swap-oob="true"' not in page(browser, "jobs:design", draft.number)


def test_practice_shows_finished_jobs_by_place(browser: Browser, access: Access) -> None:
    done = an_accepted_job(access)
    work = done.offers.get().acceptance.costing.work
    for place, minutes in (("workshop", 300), ("site", 100)):
        record_time(access, done, place=place, people=1, minutes=minutes, on=timezone.localdate())
    Job.objects.filter(pk=done.pk).update(stage="down")
    rows = re.findall(r'<tr><th scope="row">.*?</tr>', page(browser, "jobs:practice"), re.DOTALL)
    told = [text_of(row).split() for row in rows]
    assert [words[-4:-1] for words in told] == [
        ["1", f"{work[place].minutes:.0f}", minutes]
        for place, minutes in (("workshop", "300"), ("site", "100"))
    ]
    assert [" ".join(words[:-4]) for words in told] == ["workshop", "on site"]


def test_today_waits_for_a_design_where_there_is_none_and_for_a_price_where_there_is(
    browser: Browser, access: Access
) -> None:
    facts = {"stage": "enquiry", "latex": "none"}
    JobFactory.create(studio=access.studio, title="Bare", **facts)
    a_designed_job(access, title="Drawn", **facts)
    articles = re.findall(r"<article.*?</article>", page(browser, "jobs:today"), re.DOTALL)
    told = {("Bare" if "Bare" in text else "Drawn"): text for text in map(text_of, articles)}
    assert len(articles) == len(told) == 2
    assert "a design" in told["Bare"]
    assert "a price" not in told["Bare"]
    assert "a price" in told["Drawn"]
    assert "a design" not in told["Drawn"]


def test_a_photo_with_its_points_asks_for_their_distance_and_keeps_what_was_typed(
    browser: Browser, job: Job
) -> None:
    at, out = reverse("jobs:photo", args=[job.number]), io.BytesIO()
    Image.new("RGB", (80, 60), "#446").save(out, "PNG")
    photo = SimpleUploadedFile("room.png", out.getvalue(), "image/png")
    assert browser.post(at, {"do": "bring", "photo": photo}).status_code == 302
    assert 'name="apart_m"' not in page(browser, "jobs:photo", job.number)
    for x in ("10", "60", "40"):
        browser.post(at, {"x": x, "y": "80"})
    assert 'name="apart_m"' in page(browser, "jobs:photo", job.number)
    wrong = browser.post(at, {"do": "apart", "apart_m": "about so"})
    assert wrong.status_code == 422
    assert 'value="about so"' in wrong.content.decode()
    browser.post(at, {"do": "apart", "apart_m": "2 m"})
    assert re.search(
        r'name="apart_m" value="6&#x27; 6|name="apart_m" value="2',
        page(browser, "jobs:photo", job.number),
    )
    assert browser.put(at).status_code == 405


@pytest.mark.parametrize(("treatment", "code"), [("reverse", "AE"), ("exempt", "E")])
def test_a_job_without_tax_comes_to_its_net(access: Access, treatment: str, code: str) -> None:
    job = a_designed_job(access, tax_treatment=treatment, tax_reason="as the law says")
    book = taxed_as(job, book_for(access, access.studio.today()))
    assert (book.tax.code, book.tax.percent, book.work_tax) == (code, 0, None)


# --- the stores ---


def test_shelves_show_moves_once_there_are_any(browser: Browser, access: Access) -> None:
    assert "Last moves" not in page(browser, "pricing:stock")
    assert "Nothing is on the shelves yet." in page(browser, "pricing:stock")
    put_in_stock(access, "balloon/11 in", Decimal(40), on=date(2026, 6, 1), shelf="B2")
    text = text_of(page(browser, "pricing:stock"))
    assert "Nothing is on the shelves yet." not in text
    assert re.search(r"What there is .* 11 in balloon 40 0 40 0", text), text
    assert re.search(r"Last moves .*\+40 11 in balloon, shelf B2: ", text), text


def test_rates_that_are_examples_ask_to_be_confirmed_and_then_no_more(
    browser: Browser, access: Access
) -> None:
    RateCard.objects.update(is_example=True)
    assert "Confirm the rates as mine" in page(browser, "pricing:rates")
    answer = browser.post(reverse("pricing:confirm"), {"rates": "1"})
    assert (answer.status_code, answer["Location"]) == (302, reverse("pricing:rates"))
    assert "Confirm the rates as mine" not in page(browser, "pricing:rates")
    assert not RateCard.objects.filter(is_example=True).exists()


def test_few_packs_are_all_shown_and_say_no_more(browser: Browser) -> None:
    assert "More than are shown" not in page(browser, "pricing:packs")

"""Every surface that says what a job's client owes or gets back, read the way people and machines read it.

`said_everywhere(access, job)` asks all of them for one job; `disagreements(access, job)` names those that differ. A new
page, paper, letter or report that speaks of money due joins `SURFACES` by one function. What a surface does not speak
of just now is None: a paper that was printed before something else happened says what was true then.

The reader knows English words and currencies written as in "£1,234.50".
"""

from __future__ import annotations

import csv
import io
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from typing import Any
from unittest.mock import patch

import pypdfium2
from django.db import transaction
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone
from lxml import html

from jobs.job_stage import LIVE
from jobs.models import Acceptance, Invoice, Job, LogEntry, Payment
from jobs.money.bookkeeping import DEPOSITS, RECEIVABLE, books
from jobs.money.cancelling import CannotCancel, preview_cancellation
from jobs.money.ledger import cancellation_of
from jobs.money.papers import print_receipt, print_statement
from jobs.money.reminding import write_reminders
from jobs.proposal.links import live_link, shown_again
from studio.access import Access
from studio.models import OutgoingMail
from tests.conftest import signed_in

YEARS = timedelta(days=1700)  # to either side: the books are asked for ten years at most
type Dues = dict[str, Decimal]  # what is still open of each instalment


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What a surface says of a job; None for what it does not speak of."""

    owing: Decimal | None = None  # above zero the client owes it; below, it goes back
    total: Decimal | None = None  # asked in all
    paid: Decimal | None = None
    late: Decimal | None = None  # of what is owing
    dues: Dues | None = None
    some: Dues | None = None  # dues, of those that it speaks of


type Surface = Callable[[Access, Job], Said | None]


# --- reading ---


def amount(text: str) -> Decimal:
    """A figure as it is written: "-£1,234.50"."""
    digits = re.sub(r"[^\d.]", "", text)
    return -Decimal(digits) if re.search(r"[-−]", text) else Decimal(digits)


def words(node: Any) -> str:
    return " ".join(node.text_content().split())


def page(browser: Browser, address: str, **headers: Any) -> Any:
    answer = browser.get(address, follow=True, **headers)
    assert answer.status_code == 200, (address, answer.status_code)
    return html.fromstring(answer.content)


def facts(node: Any) -> dict[str, str]:
    """The pairs of its description lists."""
    return {words(dt): words(dt.getnext()) for dt in node.iter("dt")}


def dues_in(lines: list[str]) -> tuple[Dues, Decimal]:
    """From "Balance: £224.21 by 1 May 2026 overdue": what is open, and how much of it is overdue."""
    dues: Dues = {}
    late = Decimal(0)
    for line in lines:
        if found := re.fullmatch(r"([^:£]+): (-?£[\d,.]+) by (.+)", line):
            what = found[1][0].lower() + found[1][1:]
            dues[what] = dues.get(what, Decimal(0)) + amount(found[2])
            late += amount(found[2]) if found[3].endswith("overdue") else 0
    return dues, late


def text_of(paper: bytes) -> str:
    """A paper's words, of the PDF or of the HTML that it was to be made of."""
    if paper.startswith(b"%PDF"):
        pdf = pypdfium2.PdfDocument(paper)
        text = " ".join(p.get_textpage().get_text_range() for p in pdf)
    else:
        text = " ".join(html.fromstring(paper.decode()).itertext())
    return " ".join(text.split())


def figure(text: str, *before: str) -> Decimal | None:
    """The figure that follows the first of these words."""
    for word in before:
        if found := re.search(re.escape(word) + r"\s*(-?£[\d,.]*\d)", text):
            return amount(found[1])
    return None


@contextmanager
def papers_as_html() -> Iterator[None]:
    """Papers are kept as their HTML while this holds: the same words, a hundred times as quickly."""
    quick = {"render_paper": lambda text, **_: text.encode(), "render_hybrid": lambda text, **_: text.encode()}  # fmt: skip
    found = [
        patch.object(module, name, make)
        for module in list(sys.modules.values())
        if module.__name__.startswith("jobs.")
        for name, make in quick.items()
        if hasattr(module, name)
    ]
    for one in found:
        one.start()
    try:
        yield
    finally:
        for one in found:
            one.stop()


def fresh(access: Access, job: Job) -> Job:
    return access.rows(Job).with_people().with_money().get(pk=job.pk)


def is_last(access: Access, job: Job, *beginnings: str) -> bool:
    """Whether the last thing that happened to the job's money or day begins so in its log."""
    told = access.rows(LogEntry).filter(job=job).order_by("-pk").values_list("what", flat=True)
    counted = (
        what for what in told if not what.startswith(("Now ", "Reminder", "The client opened"))
    )
    return next(counted, "").startswith(beginnings)


# --- pages of the studio ---


def payments_page(access: Access, job: Job) -> Said:
    node = page(signed_in(access), reverse("jobs:payment", args=[job.number]))
    told = facts(node)
    dues, late = dues_in([words(li) for li in node.iter("li")])
    left, over = amount(told["Left to pay"]), amount(told.get("Paid beyond it", "£0.00"))
    total = told.get("Total") or told["Kept after the call-off"]
    return Said(
        owing=left - over, total=amount(total), paid=amount(told["Paid"]), late=late, dues=dues
    )


def money_page(access: Access, job: Job) -> Said:
    node = page(signed_in(access), reverse("jobs:money"))
    dues: Dues = {}
    sums = {"Overdue": Decimal(0), "Coming": Decimal(0), "To give back": Decimal(0)}
    for section in node.iter("section"):
        head = words(section.find("h2"))
        for row in section.iter("tr") if head in sums else ():
            cells = {td.get("data-label"): words(td) for td in row.iter("td")}
            if cells.get("Job", "").startswith(f"{job.number:04d} "):
                much = amount(cells.get("Open") or cells["Too much"])
                sums[head] += much
                if "What" in cells:
                    dues[cells["What"]] = dues.get(cells["What"], Decimal(0)) + much
    owing = sums["Overdue"] + sums["Coming"] - sums["To give back"]
    return Said(owing=owing, late=sums["Overdue"], dues=dues)


def waits_in(lines: list[str]) -> Said:
    dues: Dues = {}
    late = Decimal(0)
    for line in lines:
        if found := re.fullmatch(
            r"(.+) of (-?£[\d,.]*\d), (due .+|(?P<late>\d+ days? overdue))", line
        ):
            dues[found[1]] = dues.get(found[1], Decimal(0)) + amount(found[2])
            late += amount(found[2]) if found["late"] else 0
    return Said(dues=dues, late=late)


def today(access: Access, job: Job) -> Said | None:
    node = page(signed_in(access), reverse("jobs:today"))
    for article in node.iter("article"):
        head = article.find("h3")
        if head is not None and words(head).startswith(f"{job.number:04d} "):
            return waits_in([words(li) for li in article.iter("li")])
    # A job that is over and owes nothing is not there.
    return None if job.stage in LIVE else Said(dues={}, late=Decimal(0))


def brief(access: Access, job: Job) -> Said:
    node = page(signed_in(access), reverse("jobs:brief", args=[job.number]))
    return waits_in([words(li) for li in node.iter("li")])


def call_off_page(access: Access, job: Job) -> Said | None:
    try:
        preview_cancellation(access, job, on=timezone.localdate())
    except CannotCancel:
        return None
    told = facts(page(signed_in(access), reverse("jobs:call-off", args=[job.number])))
    return Said(total=amount(told["Total"]), paid=amount(told["Paid so far"]))


# --- what the client sees ---


def client_page(access: Access, job: Job) -> Said | None:
    offer = Acceptance.objects.get(offer__job=job).offer
    link = live_link(access, offer)
    token = shown_again(link) if link else None
    if token is None:
        return None
    node = page(Browser(), reverse("jobs:offer-page", args=[token]))
    (top,) = node.xpath("//section[@role='status']")
    told, (dues, _) = facts(top), dues_in([words(li) for li in top.iter("li")])
    total = told.get("Total") or told["Kept after the call-off"]
    owing = amount(told["Left to pay"]) if "Left to pay" in told else -amount(told["Goes back to you"])  # fmt: skip
    return Said(owing=owing, total=amount(total), paid=amount(told["Paid so far"]), dues=dues)


def statement_of_account(access: Access, job: Job) -> Said:
    """Its first half: what is asked and what was paid."""
    text = text_of(print_statement(access, job, on=timezone.localdate()))
    first = text.partition("What is due when")[0]
    favour = figure(first, "Balance in your favour")
    owing = -favour if favour is not None else figure(first, "Balance to be paid")
    return Said(owing=owing or Decimal(0))


def statement_of_dues(access: Access, job: Job) -> Said:
    """Its second half: what is due when, and what goes back."""
    text = text_of(print_statement(access, job, on=timezone.localdate()))
    second = text.partition("What is due when")[2]
    if found := re.search(r"(£[\d,.]*\d) was paid beyond it and goes back to you", second):
        back = amount(found[1])
    else:
        back = Decimal(0)
    return Said(owing=(figure(second, "Left to pay") or Decimal(0)) - back)


def receipt(access: Access, job: Job) -> Said | None:
    """Of the newest entry, while nothing came after it."""
    entry = access.rows(Payment).filter(job=job).order_by("-pk").first()
    said = ("Payment of", "Money given back")
    if entry is None or entry.kind not in ("came", "refund") or not is_last(access, job, *said):
        return None
    text = text_of(print_receipt(access, entry))
    over = figure(text, "Paid beyond it, in your favour")
    owing = -over if over is not None else figure(text, "Remains to be paid")
    return Said(
        owing=owing, paid=figure(text, "Paid in all"),
        total=figure(text, "To be paid in all") or Decimal(0),
    )  # fmt: skip


def invoice(access: Access, job: Job) -> Said | None:
    """The paper for people and the part for machines, while nothing came after it."""
    row = access.rows(Invoice).filter(job=job, kind="invoice").order_by("-number").first()
    if row is None or not is_last(access, job, "Invoice") or cancellation_of(fresh(access, job)):
        return None
    text = text_of(bytes(row.pdf))
    credit = figure(text, "Credit in your favour")
    owing = -credit if credit is not None else figure(text, "Left to pay")
    if found := re.search(r"DuePayableAmount[^>]*>(-?[\d.]+)<", row.xml):
        assert Decimal(found[1]) == owing
    return Said(owing=owing)


def letter_of_move(access: Access, job: Job) -> Said | None:
    """What a client was written when the event was moved, while nothing came after it."""
    if not is_last(access, job, "Postponed"):
        return None
    row = (
        access.rows(OutgoingMail)
        .filter(kind="postponed", to=job.client.mail)
        .order_by("-pk")
        .first()
    )
    return Said(dues=dues_in(row.body.splitlines())[0]) if row else None


def letter_of_call_off(access: Access, job: Job) -> Said | None:
    """While nothing was paid, given back or credited since."""
    off = cancellation_of(fresh(access, job))
    row = access.rows(OutgoingMail).filter(kind="called-off", once_key=f"job:{job.pk}").first()
    if off is None or row is None:
        return None
    moments = [*job.payments.values_list("entered_at", flat=True), *job.invoices.values_list("made_at", flat=True)]  # fmt: skip
    if any(at > row.queued_at for at in moments):
        return None
    owed, back = figure(row.body, "Still to be paid:"), figure(row.body, "We give back to you:")
    return Said(
        owing=(owed or Decimal(0)) - (back or Decimal(0)), total=figure(row.body, "Kept by our scale:"),
        paid=figure(row.body, "Paid so far:"),
    )  # fmt: skip


def reminders(access: Access, job: Job) -> Said | None:
    """What each instalment would be reminded of on its own day, were it today."""
    if not job.client.mail or job.client.reminders_stopped_at:
        return None
    some: Dues = {}
    days = {due.on for due in (_standing(access, job).due)}
    usual, access.studio.reminders = access.studio.reminders, [0]
    for on in sorted(days):
        with transaction.atomic():
            access.rows(OutgoingMail).filter(kind="reminder").delete()
            write_reminders(access, on=on)
            for body in (
                access.rows(OutgoingMail).filter(kind="reminder").values_list("body", flat=True)
            ):
                asked = (
                    rf"the (.+) for {re.escape(job.title)} falls due today; (-?£[\d,.]*\d) of it"
                )
                if found := re.search(asked, body):
                    some[found[1]] = some.get(found[1], Decimal(0)) + amount(found[2])
            transaction.set_rollback(True)
    access.studio.reminders = usual
    return Said(some=some)


def _standing(access: Access, job: Job) -> Any:
    """Only for the days on which to look for reminders: their figures are read from the letters."""
    from jobs.money.ledger import standing_of

    return standing_of(fresh(access, job), on=timezone.localdate(), currency=access.studio.currency)


# --- the books and the reports ---


def books_by_account(access: Access, job: Job) -> Said | None:
    """What the CSV for the bookkeeper comes to for a job: receivable with deposits. It knows of papers and payments,
    so before there is an invoice it says what was paid alone.
    """
    browser = signed_in(access)
    since, until = timezone.localdate() - YEARS, timezone.localdate() + YEARS
    answer = browser.get(
        reverse("jobs:journal", args=["csv"]), {"since": since.isoformat(), "until": until.isoformat()}
    )  # fmt: skip
    assert books(access, since=since, until=until).agrees
    sum_ = Decimal(0)
    for row in csv.DictReader(io.StringIO(answer.content.decode())):
        if row["account"] in (RECEIVABLE.name, DEPOSITS.name) and row["job"] == f"{job.number:04d}":
            sum_ += Decimal(row["debit"] or 0) - Decimal(row["credit"] or 0)
    if job.invoices.exists() or cancellation_of(fresh(access, job)):
        return Said(owing=sum_)
    return Said(paid=-sum_)


SURFACES: dict[str, Surface] = {
    "payments page": payments_page,
    "Money": money_page,
    "Today": today,
    "brief": brief,
    "call-off page": call_off_page,
    "client’s page": client_page,
    "statement, what was paid": statement_of_account,
    "statement, what is due": statement_of_dues,
    "receipt": receipt,
    "invoice": invoice,
    "letter of the move": letter_of_move,
    "letter of the call-off": letter_of_call_off,
    "reminders": reminders,
    "books": books_by_account,
}


def said_everywhere(access: Access, job: Job) -> dict[str, Said]:
    """What each surface says of an accepted job just now."""
    job = fresh(access, job)
    told = {name: surface(access, job) for name, surface in SURFACES.items()}
    return {name: said for name, said in told.items() if said is not None}


def disagreements(access: Access, job: Job) -> list[str]:
    """One sentence for each figure on which two surfaces differ; nothing when all say the same."""
    told, found = said_everywhere(access, job), []
    for field in ("owing", "total", "paid", "late", "dues"):
        said = {name: v for name, s in told.items() if (v := getattr(s, field)) is not None}
        if any(value != next(iter(said.values())) for value in said.values()):
            found.append(f"{field}: {said}")
    dues = told["payments page"].dues or {}
    owing = told["payments page"].owing or Decimal(0)
    if sum(dues.values()) != max(owing, Decimal(0)):
        found.append(f"dues: expected them to come to {owing}, got {dues}")
    for name, said in told.items():
        if said.some and not said.some.items() <= dues.items():
            found.append(f"some: {name} says {said.some}, expected of {dues}")
    return found


def age_report(access: Access) -> tuple[Decimal, Decimal]:
    """Money due by age over all jobs: in all, and what of it is late."""
    answer = signed_in(access).get(reverse("jobs:report-sheet", args=["due"]))
    rows = list(csv.reader(io.StringIO(answer.content.decode())))[1:]
    late = sum((Decimal(row[2]) for row in rows if row[0].endswith("late")), Decimal(0))
    return sum((Decimal(row[2]) for row in rows), Decimal(0)), late


def disagreements_of_all(access: Access) -> list[str]:
    """`disagreements` of every accepted job of a studio, and of the report over all of them."""
    found, left, late = [], Decimal(0), Decimal(0)
    for job in access.rows(Job).accepted():
        found += [f"{job}: {one}" for one in disagreements(access, job)]
        said = payments_page(access, fresh(access, job))
        left += sum((said.dues or {}).values())
        late += said.late or Decimal(0)
    if (left, late) != age_report(access):
        found.append(f"due by age: expected {left} and {late} late, got {age_report(access)}")
    return found

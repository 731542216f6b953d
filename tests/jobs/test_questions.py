"""Opened, asked, answered: what happens round the client's page."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.core import mail
from django.db import OperationalError, connection
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from jobs.models import ClientLink, Job, LogEntry, Offer, Question
from jobs.proposal.links import shown_again, withdraw_offer_link
from jobs.proposal.offering import Words, send_offer
from jobs.proposal.questions import MOST, open_questions
from jobs.records import record_faults
from studio.access import Access
from studio.mail import send_waiting
from studio.models import OutgoingMail
from tests.conftest import signed_in
from tests.factories import a_designed_job

HTML = {"Accept": "text/html,application/xhtml+xml;q=0.9,*/*;q=0.8"}


@pytest.fixture
def job(access: Access) -> Job:
    return a_designed_job(access)


def sent(access: Access, job: Job) -> Offer:
    words = Words(greeting="Dear you,", note="")
    return send_offer(
        access,
        job,
        words,
        at=timezone.now(),
        link_for=lambda token: f"https://x.example/o/{token}/",
    )


@pytest.fixture
def offer(access: Access, job: Job) -> Offer:
    return sent(access, job)


def way(offer: Offer, name: str = "offer-page") -> str:
    return reverse(f"jobs:{name}", args=[shown_again(offer.links.get())])


def ask(offer: Offer, text: str = "May we have sage?", press: str = "", **headers: str) -> Any:
    told = {"text": text, "form_key": press or str(uuid.uuid4())}
    return Browser().post(way(offer, "offer-page-ask"), told, headers=headers or None)


def answer(browser: Browser, offer: Offer, text: str = "Gladly.", press: str = "") -> Any:
    at = reverse("jobs:answer", args=[offer.job.number, offer.version])
    return browser.post(at, {"text": text, "form_key": press or str(uuid.uuid4())})


def log(job: Job) -> list[str]:
    return list(LogEntry.objects.filter(job=job).order_by("pk").values_list("what", flat=True))


# --- opened ---


def test_the_first_look_is_written_down_once(offer: Offer, job: Job) -> None:
    for _ in range(3):
        assert Browser().get(way(offer), headers=HTML).status_code == 200
    first = ClientLink.objects.get().opened_at
    assert first is not None
    assert log(job).count(f"Proposal {job.number:04d}-1 opened") == 1
    assert list(faults_of(offer)) == []


def test_the_client_reads_though_the_look_cannot_be_written_down(offer: Offer) -> None:
    def only_reads(execute: Any, sql: str, *rest: Any) -> Any:
        if not sql.startswith(("SELECT", "SAVEPOINT", "RELEASE", "ROLLBACK")):
            raise OperationalError("attempt to write a readonly database")
        return execute(sql, *rest)

    with connection.execute_wrapper(only_reads):
        shown = Browser().get(way(offer), headers=HTML)
    assert (shown.status_code, "Dear you," in shown.text) == (200, True)
    assert ClientLink.objects.get().opened_at is None
    Browser().get(way(offer), headers=HTML)  # and the next look is
    assert ClientLink.objects.get().opened_at is not None


def faults_of(offer: Offer) -> list[str]:
    from studio.access import system_access

    return list(record_faults(system_access(offer.studio)))


@pytest.mark.parametrize("who", ["scanner", "head", "prefetch", "studio", "pdf"])
def test_what_is_no_look_of_the_client_does_not_count(
    browser: Browser, offer: Offer, who: str
) -> None:
    at = way(offer)
    if who == "scanner":
        Browser().get(at, headers={"Accept": "*/*"})
    elif who == "head":
        Browser().head(at, headers=HTML)
    elif who == "prefetch":
        Browser().get(at, headers={**HTML, "Sec-Purpose": "prefetch"})
    elif who == "studio":
        assert browser.get(at, headers=HTML).status_code == 200
    else:
        Browser().get(way(offer, "offer-page-pdf"), headers={"Accept": "application/pdf"})
    assert ClientLink.objects.get().opened_at is None


def test_another_studios_person_is_anybody(stranger: Access, offer: Offer) -> None:
    signed_in(stranger).get(way(offer), headers=HTML)
    assert ClientLink.objects.get().opened_at is not None


def test_the_owner_sees_how_a_proposal_stands(browser: Browser, offer: Offer, job: Job) -> None:
    pages = [reverse("jobs:proposal", args=[job.number]), reverse("jobs:today")]
    for page in pages:
        assert "not opened yet" in browser.get(page).content.decode()
    Browser().get(way(offer), headers=HTML)
    ask(offer)
    for page in pages:
        shown = browser.get(page).content.decode()
        assert re.search(r"opened \d", shown)
        assert "(1 without an answer)" in shown


def test_one_that_lapsed_is_told_and_moves_nothing(
    access: Access, offer: Offer, job: Job, monkeypatch: Any
) -> None:
    later = timezone.now() + timedelta(days=25)
    monkeypatch.setattr("django.utils.timezone.now", lambda: later)
    shown = signed_in(access).get(reverse("jobs:today")).content.decode()
    assert "lapsed on" in shown
    job.refresh_from_db()
    assert job.stage == "offered"


# --- asked ---


def test_a_question_is_kept_shown_logged_and_written_to_the_studio(
    access: Access, offer: Offer, job: Job
) -> None:
    done = ask(offer, "May we have <sage>?")
    assert done.status_code == 302
    shown = Browser().get(way(offer)).content.decode()
    assert "May we have &lt;sage&gt;?" in shown
    assert f"Proposal {job.number:04d}-1: the client asked a question" in log(job)
    letter = OutgoingMail.objects.get(kind="question")
    assert letter.to == access.studio.mail
    assert "May we have <sage>?" in letter.body
    assert f"/jobs/{job.number}/proposal/" in letter.body


def test_pressed_twice_it_is_asked_once(offer: Offer) -> None:
    press = str(uuid.uuid4())
    for _ in range(3):
        ask(offer, press=press)
    assert Question.objects.count() == OutgoingMail.objects.filter(kind="question").count() == 1


@pytest.mark.parametrize(
    ("text", "says"), [("  ", "expected a few words"), ("x" * 2001, "at most 2,000 characters, got 2001")]
)  # fmt: skip
def test_nothing_or_too_much_gets_a_sentence_and_loses_nothing(
    offer: Offer, text: str, says: str
) -> None:
    answer = ask(offer, text)
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert text.strip() in answer.content.decode()
    assert "Say yes" in answer.content.decode()
    assert not Question.objects.exists()


def test_a_question_without_the_forms_key_or_by_get_is_refused(offer: Offer) -> None:
    assert Browser().post(way(offer, "offer-page-ask"), {"text": "Hm?"}).status_code == 400
    assert Browser().get(way(offer, "offer-page-ask")).status_code == 302  # to the proposal
    strict = Browser(enforce_csrf_checks=True)
    told = {"text": "Hm?", "form_key": str(uuid.uuid4())}
    assert strict.post(way(offer, "offer-page-ask"), told).status_code == 403
    assert not Question.objects.exists()


def test_a_flood_is_stopped_and_another_link_is_not(access: Access, offer: Offer) -> None:
    for n in range(MOST):
        assert ask(offer, f"Question {n}").status_code == 302
    stopped = ask(offer, "One more")
    assert stopped.status_code == 429
    assert "Please wait an hour" in stopped.content.decode()
    assert "One more" in stopped.content.decode()
    assert Question.objects.count() == MOST
    assert ask(sent(access, a_designed_job(access))).status_code == 302


def test_a_withdrawn_link_asks_nothing(access: Access, offer: Offer) -> None:
    at = way(offer, "offer-page-ask")
    withdraw_offer_link(access, offer)
    assert Browser().post(at, {"text": "Hm?", "form_key": str(uuid.uuid4())}).status_code == 404


# --- answered ---


def test_the_answer_stands_on_both_pages_and_brings_the_link(
    browser: Browser, offer: Offer, job: Job
) -> None:
    ask(offer)
    press = str(uuid.uuid4())
    for _ in range(2):
        answer(browser, offer, "Sage, gladly.", press)
    assert Question.objects.count() == 2
    assert "Sage, gladly." in Browser().get(way(offer)).content.decode()
    tab = browser.get(reverse("jobs:proposal", args=[job.number])).content.decode()
    assert "Sage, gladly." in tab
    assert f"Proposal {job.number:04d}-1: question answered" in log(job)
    letter = OutgoingMail.objects.get(kind="answer")
    assert letter.to == job.client.mail
    token = shown_again(offer.links.get())
    assert str(token) not in str(vars(letter))  # no row ever holds it
    send_waiting()
    assert any(way(offer) in m.body and "Sage, gladly." in m.body for m in mail.outbox)


def test_an_empty_answer_comes_back_with_what_else_was_there(
    browser: Browser, offer: Offer
) -> None:
    ask(offer)
    shown = answer(browser, offer, " ")
    assert shown.status_code == 422
    assert "Your answer: expected a few words" in shown.content.decode()


def test_questions_on_old_versions_stay_with_the_studio(
    browser: Browser, access: Access, offer: Offer, job: Job
) -> None:
    ask(offer, "About the first one?")
    job.refresh_from_db()
    newer = sent(access, job)
    tab = browser.get(reverse("jobs:proposal", args=[job.number])).content.decode()
    assert "About the first one?" in tab
    assert f"On {job.number:04d}-1" in tab
    assert "About the first one?" not in Browser().get(way(newer)).content.decode()


def test_a_question_is_what_a_job_waits_for_first(browser: Browser, offer: Offer, job: Job) -> None:
    at = reverse("jobs:brief", args=[job.number])
    assert "your answer to a question" not in browser.get(at).content.decode()
    ask(offer)
    assert browser.get(at).context["waits"][0].what.startswith("your answer to a question of")
    rows = browser.get(reverse("jobs:today")).context["rows"]
    assert rows[0].job == job
    answer(browser, offer)
    assert "your answer to a question" not in browser.get(at).content.decode()


def test_strangers_and_crew_answer_nothing(crew: Access, stranger: Access, offer: Offer) -> None:
    ask(offer)
    assert answer(signed_in(crew), offer).status_code == 403
    assert answer(signed_in(stranger), offer).status_code == 404
    assert Question.objects.count() == 1
    today = signed_in(crew).get(reverse("jobs:today")).content.decode()
    assert "question" not in today


class Entry:
    def __init__(self, who_id: int | None) -> None:
        self.who_id = who_id


@pytest.mark.parametrize(
    ("who", "many"), [("", 0), ("c", 1), ("cc", 2), ("cs", 0), ("csc", 1), ("ccsccc", 3), ("s", 0)]
)
def test_what_waits_is_what_came_after_the_last_answer(who: str, many: int) -> None:
    entries = [Entry(None if w == "c" else 1) for w in who]
    assert open_questions(entries) == many  # type: ignore[arg-type]


def test_after_an_empty_question_the_yes_still_goes_to_its_own_address(offer: Offer) -> None:
    answer = ask(offer, "")
    assert answer.status_code == 422
    assert f'action="{way(offer)}#yes"' in answer.content.decode()

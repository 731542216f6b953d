"""Where a job may go."""

from __future__ import annotations

import pytest
from django.test import Client as Browser
from django.urls import reverse

from jobs.job_stage import ENDED
from jobs.models import Job, LogEntry
from jobs.stages import (
    MOVES,
    WORDS,
    NoSuchMove,
    move_to_stage,
    move_to_stage_if_due,
    stages_by_hand,
)
from studio.access import Access
from tests.conftest import signed_in
from tests.factories import JobFactory
from tests.jobs.test_cancelling import an_accepted_job


def test_every_stage_is_in_the_table_and_every_end_is_reached() -> None:
    assert set(MOVES) == set(Job.Stage.values)
    reached = {to for moves in MOVES.values() for to in moves}
    assert reached == set(Job.Stage.values)


def test_a_move_is_written_in_the_log(access: Access) -> None:
    job = JobFactory.create(studio=access.studio)
    move_to_stage(access, job, "priced")
    assert Job.objects.get().stage == "priced"
    assert LogEntry.objects.get().what == "Now priced"


def test_a_move_the_table_lacks_is_refused(access: Access) -> None:
    job = JobFactory.create(studio=access.studio)
    with pytest.raises(NoSuchMove, match="expected a move from “enquiry”, got “up”"):
        move_to_stage(access, job, "up")
    move_to_stage_if_due(access, job, "up")
    assert Job.objects.get().stage == "enquiry"


def test_a_move_that_somebody_made_already_is_refused(access: Access) -> None:
    job = JobFactory.create(studio=access.studio)
    Job.objects.update(stage="lapsed")
    with pytest.raises(NoSuchMove, match="somebody moved this job"):
        move_to_stage(access, job, "priced")


def test_buttons_have_words() -> None:
    for stage in Job.Stage.values:
        assert all(words for _, words in stages_by_hand(stage))


# --- after the client's yes ---


@pytest.mark.parametrize("stage", Job.Stage.values)
def test_after_a_yes_no_button_ends_a_job(stage: str) -> None:
    assert not {to for to, _ in stages_by_hand(stage, accepted=True)} & set(ENDED)


@pytest.mark.parametrize("to", ENDED)
def test_after_a_yes_nothing_but_a_call_off_ends_a_job(
    browser: Browser, access: Access, to: str
) -> None:
    job = an_accepted_job(access)
    for page in ("build", "proposal"):
        text = browser.get(reverse(f"jobs:{page}", args=[job.number])).content.decode()
        assert f'value="{to}"' not in text
    answer = browser.post(reverse("jobs:stage", args=[job.number]), {"to": to})
    assert answer.url == reverse("jobs:call-off", args=[job.number])  # type: ignore[attr-defined]
    says = (
        "a call-off, since the client said yes" if to == "called_off" else "a move from “accepted”"
    )
    with pytest.raises(NoSuchMove, match=f"expected {says}"):
        move_to_stage(access, job, to)
    assert Job.objects.get().stage == "accepted"


# --- what is offered is what the table knows ---


def test_every_word_has_its_button() -> None:
    offered = {to for stage in Job.Stage.values for to, _ in stages_by_hand(stage)}
    assert offered == set(WORDS)


def test_no_button_books_a_job_without_its_deposit() -> None:
    assert "booked" not in dict(stages_by_hand("accepted"))


def test_what_was_said_to_be_packed_is_taken_back_by_its_button(
    browser: Browser, access: Access, crew: Access
) -> None:
    job = JobFactory.create(studio=access.studio, stage="ready")
    page = browser.get(reverse("jobs:build", args=[job.number])).content.decode()
    assert "Not ready after all" in page
    for person in (browser, signed_in(crew)):
        Job.objects.update(stage="ready")
        person.post(reverse("jobs:stage", args=[job.number]), {"to": "booked"})
        assert Job.objects.get().stage == "booked"

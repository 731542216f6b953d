"""Where a job may go."""

import pytest

from jobs.models import Happening, Job
from jobs.stages import MOVES, NoSuchMove, by_hand, move, move_if_due
from studio.door import SeatAt
from tests.factories import JobFactory


def test_every_stage_is_in_the_table_and_every_end_is_reached() -> None:
    assert set(MOVES) == set(Job.Stage.values)
    reached = {to for moves in MOVES.values() for to in moves}
    assert reached == set(Job.Stage.values)


def test_a_move_is_written_in_the_log(seat: SeatAt) -> None:
    job = JobFactory.create(studio=seat.studio)
    move(seat, job, "priced")
    assert Job.objects.get().stage == "priced"
    assert Happening.objects.get().what == "Now priced"


def test_a_move_the_table_lacks_is_refused(seat: SeatAt) -> None:
    job = JobFactory.create(studio=seat.studio)
    with pytest.raises(NoSuchMove, match="expected a move from “enquiry”, got “up”"):
        move(seat, job, "up")
    move_if_due(seat, job, "up")
    assert Job.objects.get().stage == "enquiry"


def test_a_move_that_somebody_made_already_is_refused(seat: SeatAt) -> None:
    job = JobFactory.create(studio=seat.studio)
    Job.objects.update(stage="lapsed")
    with pytest.raises(NoSuchMove, match="somebody moved this job"):
        move(seat, job, "priced")


def test_buttons_have_words() -> None:
    for stage in Job.Stage.values:
        assert all(words for _, words in by_hand(stage))

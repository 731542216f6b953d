"""Once is once, on both databases, with real threads."""

from __future__ import annotations

import uuid
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection

from jobs.models import Client
from studio.door import SeatAt
from studio.models import Press
from studio.once import once
from tests.factories import a_stocked_seat


def test_a_second_press_leads_to_the_first_ones_answer(seat: SeatAt) -> None:
    key, made = uuid.uuid4(), []

    def make() -> str:
        made.append(1)
        return f"/made/{len(made)}/"

    assert [once(seat, key, make) for _ in range(3)] == ["/made/1/"] * 3
    assert len(made) == 1


def test_a_making_that_fails_leaves_the_key_free(seat: SeatAt) -> None:
    key = uuid.uuid4()
    with pytest.raises(ZeroDivisionError):
        once(seat, key, lambda: str(1 / 0))
    assert once(seat, key, lambda: "/made/") == "/made/"


def test_the_same_key_in_another_studio_is_another_press(seat: SeatAt, stranger: SeatAt) -> None:
    key = uuid.uuid4()
    assert once(seat, key, lambda: "/mine/") == "/mine/"
    assert once(stranger, key, lambda: "/theirs/") == "/theirs/"


def test_twenty_presses_at_once_make_one_row(committed: None) -> None:
    seat, key = a_stocked_seat(), uuid.uuid4()

    def press(_: int) -> str:
        try:
            return once(seat, key, lambda: f"/clients/{seat.add(Client, name='Once').pk}/")
        finally:
            connection.close()

    with ThreadPoolExecutor(20) as pool:
        answers = set(pool.map(press, range(20)))
    assert len(answers) == 1
    assert Client.objects.count() == Press.objects.count() == 1

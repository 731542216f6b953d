"""Once is once, on both databases, with real threads."""

from __future__ import annotations

import uuid
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection

from jobs.models import Client
from studio.access import Access
from studio.models import SubmittedForm
from studio.once import once
from tests.factories import a_stocked_access


def test_a_second_press_leads_to_the_first_ones_answer(access: Access) -> None:
    key, made = uuid.uuid4(), []

    def make() -> str:
        made.append(1)
        return f"/made/{len(made)}/"

    assert [once(access, key, make) for _ in range(3)] == ["/made/1/"] * 3
    assert len(made) == 1


def test_a_making_that_fails_leaves_the_key_free(access: Access) -> None:
    key = uuid.uuid4()
    with pytest.raises(ZeroDivisionError):
        once(access, key, lambda: str(1 / 0))
    assert once(access, key, lambda: "/made/") == "/made/"


def test_the_same_key_in_another_studio_is_another_press(access: Access, stranger: Access) -> None:
    key = uuid.uuid4()
    assert once(access, key, lambda: "/mine/") == "/mine/"
    assert once(stranger, key, lambda: "/theirs/") == "/theirs/"


def test_twenty_presses_at_once_make_one_row(committed: None) -> None:
    access, key = a_stocked_access(), uuid.uuid4()

    def press(_: int) -> str:
        try:
            return once(access, key, lambda: f"/clients/{access.add(Client, name='Once').pk}/")
        finally:
            connection.close()

    with ThreadPoolExecutor(20) as pool:
        answers = set(pool.map(press, range(20)))
    assert len(answers) == 1
    assert Client.objects.count() == SubmittedForm.objects.count() == 1
